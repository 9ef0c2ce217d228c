"""The demo's live service: a process of its own that ends with the one that started it."""

from __future__ import annotations

import os
import sys
import tomllib
from pathlib import Path

from dashboards.command_line.demo_plant import PlantSource, live_plant
from dashboards.command_line.journal_place import open_journal
from monitor.core import Monitor
from monitor.line import Line
from monitor.live import run_live
from monitor.live_clock import StopRequest, WallClock
from monitor.recipe import Recipe
from monitor.settings_file import validate


class WithParent(StopRequest):
    """Also stops when the process that started this one is gone, however it went."""

    def __init__(self) -> None:
        super().__init__()
        self._parent = os.getppid()

    def is_set(self) -> bool:
        """Whether somebody asked, or nobody is left to ask."""
        if os.getppid() != self._parent:
            self.request()
        return super().is_set()


def run(folder: Path, speed: float, seed: int) -> None:
    """Watch the invented plant until asked to stop."""
    stop = WithParent()
    stop.on_signals()
    clock, live = WallClock(), live_plant()
    line = validate(Line, tomllib.loads(live.line_text), Path("line.toml"))
    recipe = validate(Recipe, tomllib.loads(live.recipe_text), Path("recipe.toml"))
    monitor = Monitor(line, [recipe])
    source = PlantSource(live.plant, seed=seed, clock=clock, speed=speed)
    with open_journal(folder, create=True) as journal:
        # After finished lots, or with another seed's program, the line is judged anew from here on.
        known = line.name in journal.lines() and journal.source(line.name) == "live"
        fresh = not known or journal.resume(line.name).fingerprint != monitor.fingerprint
        journal.register_line(line, live.line_text, [live.recipe_text])
        run_live(source, monitor, journal, clock=clock, stop=stop, fresh=fresh, poll_s=0.1, report=_say)


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


if __name__ == "__main__":
    run(Path(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3]))
