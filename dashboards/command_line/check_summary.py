"""What `check` prints: what was read, what was watched, and the findings in order of priority."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dashboards.clock import PlantClock, duration
from dashboards.command_line.account_text import account_sentences
from dashboards.command_line.check_log import CheckedLine
from dashboards.command_line.journal_place import open_journal
from dashboards.command_line.lot_book import LotTime
from dashboards.command_line.not_well import nothing_found
from dashboards.command_line.product_rows import ProductRows
from dashboards.data import JournalData
from dashboards.judged_by import ways_of
from dashboards.names import channel_title, condition_title
from dashboards.returns import Shown, with_returns
from dashboards.touched import is_product
from monitor.line import Line
from monitor.phases import PHASES
from monitor.quantities.registry import UNITS
from monitor.recipe_remarks import recipe_remarks
from monitor.records import PRIORITY_WORDS, Finding

if TYPE_CHECKING:
    from rich.console import Console

LOTS_SHOWN = 40
UNWATCHED_S = 300.0
"""Shorter stretches in which a rule applied and could not be judged are not listed."""
UNWATCHED_SHOWN = 6
AT_ONCE_NS = 60 * 10**9
INDENT = 13
NO_PRODUCT = "with --out FOLDER each finding also says how much product it touched and which containers to hold"


def print_summary(paper: Console, checked: Sequence[CheckedLine], out: Path | None = None) -> None:
    """Print every line's summary. out: folder with the journal of it; without, product is not told."""
    if out is None:
        _print_lines(paper, checked, None)
        return
    with open_journal(out) as journal:
        _print_lines(paper, checked, JournalData(journal))


def _print_lines(paper: Console, checked: Sequence[CheckedLine], data: JournalData | None) -> None:
    for number, one in enumerate(checked):
        if number:
            paper.print()
        title = f"{one.line.name}  {one.line.line.title}".rstrip()
        paper.print(title, style="bold")
        _print_rows(paper, list(_read_rows(one)))
        paper.print()
        _print_findings(paper, one, ProductRows(data, one.line.name) if data is not None else None)
    if data is None and any(is_product(finding) for one in checked for finding in one.findings):
        paper.print()
        _print_rows(paper, [("product", NO_PRODUCT)])


def _read_rows(one: CheckedLine) -> Iterator[tuple[str, str]]:
    clock = PlantClock(one.line.line.time_zone)
    offset = "" if clock.turned(one.first, one.end) else f" ({clock.offset_text(one.first)})"
    yield "log", f"{clock.interval(one.first, one.end)}, {clock.name}{offset}"
    yield from zip(("read", *[""] * 99), account_sentences(one.account), strict=False)
    lots = one.book.lots
    for number, lot in enumerate(lots[:LOTS_SHOWN]):
        yield "lots" if number == 0 else "", _lot_text(lot, clock)
    if len(lots) > LOTS_SHOWN:
        yield "", f"and {len(lots) - LOTS_SHOWN} more"
    yield from (("packed", sentence) for sentence in _containers(one, clock))
    yield from zip(("unwatched", *[""] * 99), unwatched(one), strict=False)
    yield from (("note", sentence) for sentence in _recipe_remarks(one))


def _lot_text(lot: LotTime, clock: PlantClock) -> str:
    name = f"{lot.lot or 'no lot number'} ({lot.recipe or 'no recipe'})"
    parts = sorted(
        ((seconds, phase) for seconds, phase in zip(lot.phase_s.tolist(), PHASES, strict=True) if seconds > 0),
        reverse=True,
    )
    phases = ", ".join(f"{phase} {duration(seconds)}" for seconds, phase in parts)
    return f"{name}, {clock.interval(lot.start, lot.end)}: {phases}"


def _containers(one: CheckedLine, clock: PlantClock) -> Iterator[str]:
    """What the times of the schedule's containers are taken for: a start taken for an end holds the wrong ones."""
    begun = [note for note in one.containers if note.kind == "container begun"]
    full = [note for note in one.containers if note.kind == "container packed"]
    if not begun and not full:
        return
    names = dict.fromkeys(note.text for note in one.containers)
    first, last = one.containers[0], one.containers[-1]
    said = f"{len(names)} containers, {first.text} to {last.text}, {clock.interval(first.at_ns, last.at_ns)}"
    if begun and full:
        yield f"{said}; when each was begun and when it was full"
    elif begun:
        yield f"{said}; times are when the filling began: each ends where the next begins, {last.text} with the log"
    else:
        yield (
            f"{said}; times are taken for when a container was full: each began where the one before ended. Where they "
            "are when its filling began, name the column filled_from"
        )
        starts = [lot for lot in one.book.lots[:1] if abs(first.at_ns - lot.start) < AT_ONCE_NS]
        yield from (
            f"{first.text} was full as {lot.lot or 'the log'} began: look whether it was begun" for lot in starts
        )


def unwatched(one: CheckedLine) -> list[str]:
    """What could not be judged although its rule applied: the longest first, per lot and condition."""
    by: dict[tuple[str, str], dict[str, float]] = {}
    known = {*one.line.channels, *UNITS}
    for (lot, condition, subject), seconds in one.book.blind.items():
        if seconds >= UNWATCHED_S:
            by.setdefault((lot, condition), {})[subject] = seconds
    told = sorted(by.items(), key=lambda item: (-max(item[1].values()), item[0]))
    rows = []
    for (lot, condition), subjects in told[:UNWATCHED_SHOWN]:
        names = sorted((name for name in subjects if name != "line"), key=lambda name: -subjects[name])
        titles = [channel_title(one.line, name) if name in known else name for name in names[:4]]
        where = f" ({', '.join(titles)}{' and others' if len(names) > 4 else ''})" if names else ""
        of_lot = f", lot {lot}" if lot else ""
        rows.append(f"{condition_title(condition)}{where}: {duration(max(subjects.values()))}{of_lot}")
    if len(told) > UNWATCHED_SHOWN:
        rows.append(f"and {len(told) - UNWATCHED_SHOWN} more, shorter")
    return rows


def _recipe_remarks(one: CheckedLine) -> Iterator[str]:
    for recipe in one.recipes_used:
        yield from (f"{recipe.name}: {remark}" for remark in recipe_remarks(one.line, recipe))
    unknown = sorted(one.book.recipes_named - {*one.recipes, *one.for_others} - {""})
    if unknown:
        yield f"no recipe file was given for {', '.join(unknown)}: nothing was judged by its windows"
    elsewhere = sorted(one.book.recipes_named & set(one.for_others))
    if elsewhere:
        yield f"{', '.join(elsewhere)} is made on other lines, says its file: nothing was judged by its windows"
    ways = ways_of(one.line, good_runs=one.referenced)
    if not one.recipes and one.for_others:
        yield f"the recipes given are made on other lines, say their files: no window was judged, findings go by {ways}"
    elif not one.recipes:
        yield f"no recipe was given: no window was judged, findings go by {ways}"
    elif len(one.recipes) > 1 and not one.book.recipes_named:
        yield (
            "several recipes were given and neither log nor schedule says which held when: none was used; "
            "give one, or a schedule"
        )


def by_priority(found: Sequence[Finding]) -> list[Shown]:
    """Findings that stand alone, the most urgent first, each with all that follows from it, near or far, and with
    every time it came."""
    ids = {finding.last.finding for finding in found}
    alone = [f for f in found if f.last.part_of not in ids or f.last.part_of == f.last.finding]
    alone.sort(key=lambda f: (f.last.priority, f.last.since))
    return with_returns((f, _following(f, found)) for f in alone)


def _following(cause: Finding, found: Sequence[Finding]) -> list[Finding]:
    """What it explains, and what that explains in turn: a ceiling passed must not vanish at the second step."""
    named, out = {cause.last.finding}, []
    while more := [f for f in found if f.last.part_of in named and f.last.finding not in named]:
        named |= {f.last.finding for f in more}
        out += more
    return sorted(out, key=lambda f: (f.last.priority, f.last.since))


def _print_findings(paper: Console, one: CheckedLine, product: ProductRows | None) -> None:
    if not one.findings:
        paper.print(nothing_found(one), highlight=False)
        return
    told = by_priority(one.findings)
    alone = sum(len(shown.times) for shown in told)
    count, more = len(told), len(one.findings) - alone
    heading = "1 finding" if count == 1 else f"{count} findings"
    heading += f", {alone} with those that came again" if alone > count else ""
    paper.print(heading + (f", and {more} more explained by them" if more else ""), style="bold")
    if one.unit_doubted:
        paper.print("Look first at what is doubted above of the line file; if it is wrong, correct it and check again.")
    clock = PlantClock(one.line.line.time_zone)
    for shown in told:
        last = shown.finding.last
        word = PRIORITY_WORDS.get(last.priority, "")
        paper.print()
        paper.print(f"{last.priority}  {word}: {last.summary}", style="bold" if last.priority <= 2 else "")
        _print_rows(paper, list(_finding_rows(one.line, shown, clock)))
        if product is not None:
            touching = (*shown.others, *shown.parts)
            _print_rows(paper, [("product", text) for text in product.told(shown.finding, touching)])


def time_words(finding: Finding, clock: PlantClock) -> str:
    """Since when, until when, and whether it is over: what was cut off inside the log could not be judged any more."""
    last = finding.last
    since, *end = clock.moments([last.since] if last.until is None else [last.since, last.until])
    until = f", until {end[0]}" if end else ""
    still = ", open" if finding.open else ""
    if last.kind == "cut off":
        still = ", open at the end of the log" if last.until is None else ", not judged any longer from there on"
    return f"{since}{until}{still}"


def _finding_rows(line: Line, shown: Shown, clock: PlantClock) -> Iterator[tuple[str, str]]:
    finding, last, times = shown.finding, shown.finding.last, shown.times
    yield "since", time_words(finding, clock) + (f", lot {last.lot}" if last.lot else "")
    if len(times) > 1:
        first, newest = clock.moments([times[0].last.since, times[-1].last.since])
        yield "came", f"{len(times)} times from {first} to {newest}"
    about = channel_title(line, last.channel) if last.channel else condition_title(last.condition)
    yield "on", f"{about}; confidence {last.confidence}"
    for number, item in enumerate(last.evidence):
        yield "evidence" if number == 0 else "", item.sentence()
    if last.causes:
        yield "likely", "; ".join(last.cause_texts)
    for number, item in enumerate(last.checks):
        yield "check" if number == 0 else "", item
    if last.caution:
        yield "caution", last.caution
    for number, part in enumerate(shown.parts):
        yield "explains" if number == 0 else "", f"{part.last.summary} (since {clock.minute(part.last.since)})"


def _print_rows(paper: Console, rows: Sequence[tuple[str, str]]) -> None:
    for label, text in rows:
        lines = textwrap.wrap(text, paper.width - INDENT, break_long_words=False, break_on_hyphens=False)
        for number, words in enumerate(lines or [""]):
            paper.print(f"   {label if number == 0 else '':<{INDENT - 3}}{words}", soft_wrap=True)
