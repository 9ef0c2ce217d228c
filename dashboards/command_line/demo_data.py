"""Fills the demo's journal with finished lots from the sample logs that come with the program."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dashboards.command_line.journal_place import JOURNAL_NAME
from ingest.account import ReadingAccount
from ingest.block import Block, Note
from ingest.read_log import read_blocks
from monitor.checkpoint import dump_state
from monitor.core import Monitor
from monitor.journal import Journal
from monitor.line import Line
from monitor.live_clock import Stop
from monitor.recipe import Recipe, read_recipe
from monitor.schedule import read_schedule
from monitor.settings_file import validate
from sample_logs import sample_names, sample_path

FILES_BESIDE = ("line.toml", "recipe.toml", "schedule.csv", "truth.json")


@dataclass(frozen=True)
class FinishedLot:
    """One sample log, ready to be read."""

    log: Path
    line: Line
    line_text: str
    recipe: Recipe
    recipe_text: str
    schedule: tuple[Note, ...]


def fill(folder: Path, stop: Stop) -> bool:
    """Judge the sample logs into the folder's journal, if it has none; False when asked to stop meanwhile.

    The journal appears whole or not at all.
    """
    if (folder / JOURNAL_NAME).exists():
        return True
    beside = folder / f"filling-{JOURNAL_NAME}"
    for rest in folder.glob(f"{beside.name}*"):
        rest.unlink()
    with Journal(beside) as journal:
        for lot in finished_lots():
            if not _judge(lot, journal, stop):
                return False
    os.replace(beside, folder / JOURNAL_NAME)
    return True


def fill_lines(folder: Path) -> Path:
    """Puts the line and recipe files of the plant there, as far as they are not there yet; gives the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("twin_clean", "single_clean"):
        for kind in ("line", "recipe"):
            text = (sample_path(name) / f"{kind}.toml").read_text(encoding="utf-8")
            title = tomllib.loads(text)[kind]["name"]
            place = folder / f"{title}.toml"
            if not place.exists():
                place.write_text(text, encoding="utf-8")
    return folder


def finished_lots() -> list[FinishedLot]:
    """Every sample log by its start. Logs of one line on the same cadence go into one line of the journal; a
    log on another cadence goes into a line named after it."""
    lots = sorted(map(_lot, sample_names()), key=lambda lot: lot.schedule[0].at_ns)
    return [_named(lot, _usual_cadence(lot.line.name, lots)) for lot in lots]


def _lot(name: str) -> FinishedLot:
    folder = sample_path(name)
    (log,) = (path for path in folder.iterdir() if path.name not in FILES_BESIDE)
    text = (folder / "line.toml").read_text(encoding="utf-8")
    line = _line(text)
    return FinishedLot(
        log, line, text, read_recipe(folder / "recipe.toml"),
        (folder / "recipe.toml").read_text(encoding="utf-8"), read_schedule(folder / "schedule.csv", line),
    )  # fmt: skip


def _line(text: str) -> Line:
    return validate(Line, tomllib.loads(text), Path("line.toml"))


def _usual_cadence(name: str, lots: Sequence[FinishedLot]) -> float:
    cadences = [lot.line.line.cadence_s for lot in lots if lot.line.name == name]
    return max(sorted(cadences), key=cadences.count)


def _named(lot: FinishedLot, usual_cadence_s: float) -> FinishedLot:
    cadence_s = lot.line.line.cadence_s
    if cadence_s == usual_cadence_s:
        return lot
    name = f"{lot.line.name} ({cadence_s:g} s log)"
    text = re.sub(r'(?m)^(\[line\]\n(?:.*\n)*?name = )".*"$', rf'\g<1>"{name}"', lot.line_text, count=1)
    return replace(lot, line=_line(text), line_text=text)


def _judge(lot: FinishedLot, journal: Journal, stop: Stop) -> bool:
    name, monitor, account = lot.line.name, Monitor(lot.line, [lot.recipe]), ReadingAccount()
    state = monitor.start()
    journal.register_line(lot.line, lot.line_text, [lot.recipe_text])
    journal.begin(name, source="finished log", fingerprint=monitor.fingerprint, state=dump_state(state))
    for block in _with_schedule(read_blocks([lot.log], lot.line.mapping(), account), lot.schedule):
        if stop.is_set():
            return False
        state, step = monitor.advance(state, block)
        journal.commit(name, position=str(block.end), block=block, step=step)
    journal.finish(name, monitor.finish(state), account.as_dict())
    return True


def _with_schedule(blocks: Iterator[Block], schedule: Sequence[Note]) -> Iterator[Block]:
    """The schedule's notes inside the blocks, so that several logs of a line each keep theirs."""
    left = list(schedule)
    for block in blocks:
        due = [replace(note, at_ns=max(note.at_ns, block.t0)) for note in left if note.at_ns < block.end]
        left = left[len(due) :]
        yield replace(block, notes=tuple(sorted((*block.notes, *due))))
