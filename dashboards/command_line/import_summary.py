"""What `import` prints: what was read, what of it is new in the archive, and what contradicts."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING

from dashboards.clock import PlantClock
from dashboards.command_line.account_text import account_sentences
from ingest.archive.import_log import ImportReport
from monitor.line import Line

if TYPE_CHECKING:
    from rich.console import Console

INDENT = 13
SHOWN = 8
"""Contradictions printed one by one; up to 200 a day are listed in the archive's book."""


def print_import(paper: Console, line: Line, report: ImportReport, archive: str, *, dry: bool) -> None:
    """Print what became of the log of one line."""
    paper.print(f"{line.name}  {line.line.title}".rstrip(), style="bold")
    for label, text in _rows(line, report, archive, dry=dry):
        lines = textwrap.wrap(text, paper.width - INDENT, break_long_words=False, break_on_hyphens=False)
        for number, words in enumerate(lines or [""]):
            paper.print(f"   {label if number == 0 else '':<{INDENT - 3}}{words}", soft_wrap=True)


def _rows(line: Line, report: ImportReport, archive: str, *, dry: bool) -> Iterator[tuple[str, str]]:
    clock = PlantClock(line.line.time_zone)
    for number, path in enumerate(report.known):
        yield "known" if number == 0 else "", f"{path} is in the archive already, read in the same way"
    if report.read:
        yield "log", f"{clock.interval(report.first, report.end)}, {clock.name} ({clock.offset_text(report.first)})"
        yield from zip(("read", *[""] * 99), account_sentences(report.account), strict=False)
    yield "archive", "; ".join(_brought(report, archive, dry=dry))
    brought = report.brought
    for number, one in enumerate(brought.listed[:SHOWN]):
        moment = f"{clock.day_minute(one.at_ns)}:{one.at_ns // 10**9 % 60:02d}"
        text = f"{moment} {one.what}: kept {one.kept}, the log says {one.refused}"
        yield "contradicts" if number == 0 else "", text
    if brought.contradicting > SHOWN:
        yield "", f"and {brought.contradicting - SHOWN:,} more; what was first in the archive was kept"


def _brought(report: ImportReport, archive: str, *, dry: bool) -> Iterator[str]:
    brought = report.brought
    if not brought.new and not brought.rows and not brought.notes:
        yield f"{archive}: nothing new"
    else:
        would = "would be new" if dry else "new"
        yield f"{archive}: {brought.new:,} readings {would}, {brought.rows:,} cells of time"
    if brought.notes:
        yield f"{brought.notes:,} lot and recipe notes"
    if brought.same:
        yield f"{brought.same:,} readings were there already"
    if brought.contradicting:
        yield f"{brought.contradicting:,} contradict what is there and were not taken"
