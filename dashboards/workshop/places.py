"""Which folders the pages may write to."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

WORK_NAME = "imports"


@dataclass(frozen=True)
class Places:
    """data: folder of the journal the pages show. lines: folder of line and recipe files, None where none was given."""

    data: Path
    lines: Path | None = None

    @property
    def work(self) -> Path:
        """Where logs that are dropped are kept for a few days, each in a folder of its own."""
        return self.data / WORK_NAME
