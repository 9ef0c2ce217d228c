"""Reads a finished log line by line of the plant, judges it, and fills a folder with what was found."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass
from pathlib import Path

from dashboards.command_line.archive_span import ArchiveSpan
from dashboards.command_line.holds_told import mapping_with_holds
from dashboards.command_line.journal_place import open_journal
from dashboards.command_line.lot_book import LotBook
from dashboards.command_line.progress import shown_progress
from dashboards.command_line.settings_given import Settings
from dashboards.recipes_of import recipes_for
from ingest.account import LIKELY, ReadingAccount
from ingest.block import Note
from ingest.read_log import read_blocks
from ingest.set_aside_list import ListingAccount, write_set_aside
from monitor.core import Monitor
from monitor.findings_table import write_findings_csv, write_findings_json, write_whole
from monitor.journal import Journal
from monitor.line import Line
from monitor.mistaken_unit import MistakenUnits
from monitor.recipe import Recipe
from monitor.records import Finding, Record, findings

Progress = Callable[[int, int], None]
Shown = Callable[[str], AbstractContextManager[Progress]]

READINGS_AT_ONCE, LONGEST_BLOCK_S = 6_000_000, 24 * 3600
"""Judged at a time: every block costs its handful of calls a condition, so that hours take twice as long as days. What
is found does not depend on it, and so many readings are 48 MB."""


@dataclass(frozen=True)
class CheckedLine:
    """What a log says of one line. first, end: of its readings, UTC ns.

    recipes: names of those given for it. for_others: names of those given that are made on other lines only.
    recipes_used: those that held. referenced: whether good runs were given. containers: as the schedule has them.
    unit_doubted: whether a unit of the line file is likely wrong.
    """

    line: Line
    recipes: tuple[str, ...]
    recipes_used: tuple[Recipe, ...]
    account: ReadingAccount
    book: LotBook
    findings: list[Finding]
    first: int
    end: int
    containers: tuple[Note, ...] = ()
    for_others: tuple[str, ...] = ()
    referenced: bool = False
    unit_doubted: bool = False


def block_seconds(channels: int, cadence_s: float) -> float:
    """Whole hours that are judged at a time, s."""
    hours = READINGS_AT_ONCE / channels * cadence_s // 3600
    return min(max(1.0, hours) * 3600, LONGEST_BLOCK_S)


def check_logs(
    logs: Sequence[Path],
    settings: Settings,
    out: Path | None,
    span: ArchiveSpan | None = None,
    *,
    journal_in: Path | None = None,
    shown: Shown = shown_progress,
) -> list[CheckedLine]:
    """Judge every line; with `out`, keep findings, accounts and journal there. span: judged in the place of logs.

    journal_in: folder of the journal, where it is not `out`. shown: how progress is shown.
    Raises BadLog, SettingsError, JournalError, OSError.
    """
    if out is not None:
        out.mkdir(parents=True, exist_ok=True)
    with ExitStack() as open_things:
        place = journal_in or out
        journal = open_things.enter_context(open_journal(place, create=True)) if place is not None else None
        checked = []
        for number, line in enumerate(settings.lines):
            progress = open_things.enter_context(shown(f"{line.name}: reading and judging"))
            checked.append(_check_line(logs, settings, number, journal, progress, span))
    if out is not None:
        found = [finding for one in checked for finding in one.findings]
        ends = {one.line.name: one.end for one in checked}
        write_findings_csv(out / "findings.csv", found, ends)
        write_findings_json(out / "findings.json", found, ends)
        accounts = {one.line.name: one.account.as_dict() for one in checked}
        listing = [(one.line.name, one.account) for one in checked if isinstance(one.account, ListingAccount)]
        write_set_aside(out / "set_aside.csv", listing)
        write_whole(out / "account.json", json.dumps(accounts, indent=1, ensure_ascii=False) + "\n")
    return checked


def _check_line(
    logs: Sequence[Path],
    settings: Settings,
    number: int,
    journal: Journal | None,
    progress: Progress,
    span: ArchiveSpan | None,
) -> CheckedLine:
    line, schedule = settings.lines[number], settings.schedules[number]
    account, as_logged = ListingAccount(), line
    # Opening the log finds most of what can be wrong with it; the journal is not touched before.
    if span is None:
        mapping, holds = mapping_with_holds(logs, line)
        at_once = block_seconds(len(line.channels), mapping.cadence_s)
        blocks = read_blocks(logs, mapping, account, block_s=at_once, progress=progress)
        as_logged = line.with_holds(mapping)
        for said in holds:
            account.assume(said, LIKELY)
    else:
        blocks, before, as_logged = span.blocks(line, account, progress)
        schedule = tuple(sorted((*before, *schedule)))
    monitor = Monitor(as_logged, settings.recipes, schedule, reference=settings.references.get(line.name))
    if journal is not None:
        if line.name in journal.lines():
            journal.clear(line.name)
        journal.register_line(line, settings.line_texts[number], settings.recipe_texts, schedule)
        journal.begin(line.name, source="finished log", fingerprint=monitor.fingerprint)
    fitting = recipes_for(line.name, settings.recipes)
    names = tuple(recipe.name for recipe in fitting)
    for_others = tuple(recipe.name for recipe in settings.recipes if recipe not in fitting)
    book = LotBook(schedule, names[0] if len(names) == 1 else "")
    units = MistakenUnits(line, fitting, schedule, names[0] if len(names) == 1 else "")
    records, first, end = list[Record](), 0, 0
    try:
        state = monitor.start()
        for block in blocks:
            state, step = monitor.advance(state, block)
            book.add(block, step.phase)
            units.add(block)
            book.add_blind(step.blind)
            records += step.records
            first, end = first or block.t0, block.end
            if journal is not None:
                journal.commit(line.name, position=str(block.end), block=block, step=step)
        book.add_blind(monitor.blind_at_end(state))
        last = monitor.finish(state)
        units.close(account)
        if journal is not None:
            journal.finish(line.name, last, account.as_dict())
    except BaseException:
        # Half a log must not look like a whole one.
        if journal is not None:
            journal.clear(line.name)
        raise
    held = {lot.recipe for lot in book.lots}
    used = tuple(recipe for recipe in fitting if recipe.name in held)
    packed = tuple(note for note in schedule if note.kind.startswith("container"))
    told = findings([*records, *last])
    referenced = line.name in settings.references
    return CheckedLine(line, names, used, account, book, told, first, end, packed, for_others, referenced, units.said)
