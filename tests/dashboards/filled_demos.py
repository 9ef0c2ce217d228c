"""The journal of a demo that has run, for the next test that needs one: to fill it takes half a minute."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class FilledDemos:
    """at: a folder that all processes of this test run share."""

    at: Path

    def leave(self, data: Path) -> None:
        """Keeps what a demo that has ended left in its data folder, if none is kept yet."""
        if (self.at / "filled").is_dir():
            return
        made = self.at / f"leaving-{os.getpid()}"
        shutil.copytree(data, made)
        try:
            made.rename(self.at / "filled")
        except OSError:  # another was faster
            shutil.rmtree(made)

    def begin_with(self, data: Path) -> None:
        """Puts what is kept into a data folder that is not there yet; where nothing is, the demo fills its own."""
        if (self.at / "filled").is_dir():
            shutil.copytree(self.at / "filled", data)
