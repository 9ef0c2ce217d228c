"""Which raw-material lot stood in which feeder, as people write it down, and what of a lot was made of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dashboards.cells import means
from dashboards.clock import HOUR, MINUTE, SECOND, PlantClock
from dashboards.data import JournalData
from dashboards.machine import subject_title
from dashboards.outlook import delay_of, reaching
from dashboards.packed import packed_between
from dashboards.texts import say
from dashboards.touched import Container, Delay, Fed, Verdict, judged, touched_by, touched_span
from dashboards.views import Lot
from ingest.roles import channel_key
from monitor.journal.actions import LOT_MARK
from monitor.line import Feeder, Line

RAW_MARK = f"{LOT_MARK}raw:"
"""Stands before a feeder's name where a note says which raw-material lot it holds from then on."""

NONE_MORE = "-"
"""Written where a feeder holds no lot that is known from then on."""

LONGEST_REST_NS = 24 * HOUR
"""A hopper that lasts longer at its rate is taken to last so long."""

LEAST_FED_KG = 0.01
"""Less that a feeder gave without a known lot is the rounding of the cells."""

MOST_LETTERS = 60
MOST_ROWS = 200
PARTS = re.compile(r"\s*[;\t]\s*")


@dataclass(frozen=True)
class Filled:
    """A raw-material lot is in a feeder's hopper from `start`, UTC ns, on."""

    feeder: str
    number: str
    start: int


@dataclass(frozen=True)
class RawSpan:
    """One raw-material lot in one feeder, as far as it concerns a stretch of a line. Times UTC ns.

    end: when the next lot was filled in, or the stretch's end. last: when the last of it may have left the hopper, by
    the weight that was in it at `end` and the rate after; `end` itself where no weight is known.
    kg: fed in the stretch between `start` and `end`, NaN = not known. whole: False where it is the least.
    number: '' where nothing is written down for what was fed. verdict: of the product that left the die while some of
    it may have been in it; kg_touched: how much of that product is touched, all ingredients, NaN = not known.
    """

    feeder: str
    title: str
    number: str
    start: int
    end: int
    last: int
    kg: float
    whole: bool
    containers: tuple[Container, ...] = ()
    verdict: Verdict = "clear"
    kg_touched: float = 0.0


def read_rows(text: str, line: Line, clock: PlantClock, now: int) -> tuple[list[Filled], list[str]]:
    """What was typed or pasted, and what is wrong with it, row by row.

    A row: time, feeder, lot, parted by semicolons or tabs; the feeder by its name, title or material.
    """
    found: list[Filled] = []
    wrong: list[str] = []
    rows = [(i, row.strip()) for i, row in enumerate(text.splitlines(), 1) if row.strip()]
    if len(rows) > MOST_ROWS:
        return [], [say("raw.too_many", most=str(MOST_ROWS))]
    for i, row in rows:
        parts = PARTS.split(row)
        if len(parts) != 3:
            wrong.append(say("raw.three", row=str(i)))
            continue
        at, feeder = clock.parse_moment(parts[0]), feeder_meant(line, parts[1])
        if at is None or at > now:
            wrong.append(say("raw.no_time" if at is None else "raw.to_come", row=str(i), text=parts[0]))
        if feeder is None:
            known = ", ".join(subject_title(line, channel_key("feeder_rate", one.name)) for one in line.feeder)
            wrong.append(say("raw.no_feeder", row=str(i), text=parts[1], known=known))
        if not parts[2] or len(parts[2]) > MOST_LETTERS:
            wrong.append(say("raw.no_number", row=str(i), most=str(MOST_LETTERS)))
        elif at is not None and feeder is not None:
            found.append(Filled(feeder.name, parts[2], at))
    return found, wrong


def feeder_meant(line: Line, text: str) -> Feeder | None:
    """The one feeder of that name, title or material; None where none or several are."""
    wanted = text.strip().casefold()
    named = [f for f in line.feeder if f.name.casefold() == wanted]
    alike = [f for f in line.feeder if wanted and wanted in (f.title.casefold(), f.material.casefold())]
    found = named or alike
    return found[0] if len(found) == 1 else None


def write_rows(data: JournalData, name: str, who: str, rows: Sequence[Filled]) -> None:
    """Keeps them in the journal; the same feeder and time written again takes the place of what was there."""
    for row in rows:
        data.act(name, RAW_MARK + row.feeder, "note", who.strip(), row.number, at_ns=row.start)


def fillings(data: JournalData, name: str) -> list[Filled]:
    """All that was written down for a line, by time."""
    known = {
        (action.finding.removeprefix(RAW_MARK), action.at_ns): action.text
        for action in data.actions(name)
        if action.finding.startswith(RAW_MARK)
    }
    return sorted((Filled(f, number, at) for (f, at), number in known.items()), key=lambda one: (one.start, one.feeder))


def held_between(rows: Sequence[Filled], t0: int, t1: int) -> list[tuple[Filled, int]]:
    """The fillings that stood in a feeder in some part of [t0, t1), each with when the next one came or `t1`."""
    found = []
    for row in rows:
        after = [one.start for one in rows if one.feeder == row.feeder and one.start > row.start]
        end = min([*after, t1])
        if row.number != NONE_MORE and row.start < t1 and end > t0:
            found.append((row, end))
    return found


def raw_numbers(data: JournalData, lot: Lot, rows: Sequence[Filled]) -> tuple[str, ...]:
    """Numbers of the raw-material lots of which something may be in a lot, for the search."""
    line = data.line(lot.line)
    if line is None or not rows:
        return ()
    delay, _ = delay_of(data, lot.line, lot.start, lot.end)
    held = held_between(rows, lot.start - LONGEST_REST_NS, lot.end)
    known = {feeder.name: feeder for feeder in line.feeder}
    return tuple(
        row.number
        for row, end in held
        if row.feeder in known
        and (end > lot.start or left_die_ns(data, line, known[row.feeder], end, delay) > lot.start)
    )


def left_die_ns(data: JournalData, line: Line, feeder: Feeder, end: int, delay: Delay) -> int:
    """When the last of what was in a hopper at `end` has left the die."""
    last = end + rest_ns(data, line, feeder, end)
    return touched_span(last, last, delay)[1]


def unwritten(rows: Sequence[Filled], feeder: str, t0: int, t1: int) -> list[tuple[int, int]]:
    """The parts of [t0, t1) in which no lot is written down for a feeder, in order."""
    found, at = [], t0
    for row, end in sorted(held_between(rows, t0, t1), key=lambda pair: pair[0].start):
        if row.feeder == feeder:
            found.append((at, row.start))
            at = max(at, end)
    return [(a, b) for a, b in [*found, (at, t1)] if b > a]


def raw_spans(data: JournalData, lot: Lot, t0: int, t1: int) -> list[RawSpan]:
    """Every raw-material lot that was in a feeder in [t0, t1) of a lot, in the order of the line file, by time.

    Also one that was replaced before `t0` but of which the hopper still held some; and, once any is known, what each
    feeder gave while none was written down for it.
    """
    line, rows = data.line(lot.line), fillings(data, lot.line)
    if line is None or not rows:
        return []
    order = {feeder.name: i for i, feeder in enumerate(line.feeder)}
    told = [
        (one.feeder, one.number, one.start, end)
        for one, end in held_between(rows, t0 - LONGEST_REST_NS, t1)
        if one.feeder in order
    ]
    spans = _Spans(data, lot, line, t0, t1)
    found = [one for one in (spans.one(*span) for span in told) if one is not None]
    if found:
        gaps = [(feeder, a, b) for feeder in order for a, b in unwritten(rows, feeder, t0, t1)]
        nameless = [spans.one(feeder, "", a, b) for feeder, a, b in gaps]
        # A rate that is not known may still have fed something.
        found += [one for one in nameless if one is not None and not one.kg < LEAST_FED_KG]
    return sorted(found, key=lambda one: (order[one.feeder], one.start))


class _Spans:
    """What is the same for every raw-material lot of one stretch."""

    def __init__(self, data: JournalData, lot: Lot, line: Line, t0: int, t1: int) -> None:
        self._data, self._line, self._t0, self._t1 = data, line, t0, t1
        self._delay, self._product = delay_of(data, lot.line, t0, t1)
        self._packed = packed_between(data, lot, t0, t1)
        self._findings = reaching(data, lot.line, t0, t1, self._delay)
        self._touched = touched_by(self._findings, self._delay, self._product, t0, t1)

    def one(self, name: str, number: str, start: int, end: int) -> RawSpan | None:
        """The lot that was in a feeder during [start, end); None where all of it left the die before the stretch."""
        t0, t1 = self._t0, self._t1
        feeder = self._line.feeder_named(name)
        last = end if end >= t1 else end + rest_ns(self._data, self._line, feeder, end)
        first_out, last_out = touched_span(start, last, self._delay)
        if not number and start <= t0:
            first_out = t0  # What was fed before is not known either.
        if last_out <= t0:
            return None
        begin = max(start, t0)
        amount = _fed(self._data, self._line, feeder, begin, end) if end > t0 else None
        kg = amount.between(begin, end) if amount else 0.0 if end <= t0 else float("nan")
        whole = amount.whole(begin, end) if amount else True
        inside = tuple(one for one in self._packed if one.start < last_out and one.end > first_out)
        # All product that may hold some of it, judged as if it were one container.
        out = Container("", max(first_out, t0), min(last_out, t1), 0.0, 0.0, (), "clear")
        [product] = judged([out], self._touched, self._findings, self._product)
        title = subject_title(self._line, channel_key("feeder_rate", name))
        return RawSpan(
            name, title, number, start, end, last, kg, whole, inside, product.verdict, product.kg_touched
        )  # fmt: skip


def rest_ns(data: JournalData, line: Line, feeder: Feeder, at: int) -> int:
    """How long what was in the hopper at `at` lasts at the rate of the minutes around it; 0 where not known."""
    weight, rate = channel_key("feeder_weight", feeder.name), channel_key("feeder_rate", feeder.name)
    if not {weight, rate} <= set(line.channels) or {weight, rate} & set(line.relative_channels):
        return 0
    cells = means(data.source, line.name, at - 5 * MINUTE, at + 5 * MINUTE, (weight, rate), 10 * SECOND)
    kg, per_h = cells.row(weight)[cells.times() < at], cells.row(rate)
    kg, per_h = kg[np.isfinite(kg)], per_h[np.isfinite(per_h) & (per_h > 0)]
    if not len(kg) or not len(per_h):
        return 0
    return min(round(max(float(kg[-1]), 0.0) / float(np.median(per_h)) * HOUR), LONGEST_REST_NS)


def _fed(data: JournalData, line: Line, feeder: Feeder, t0: int, t1: int) -> Fed | None:
    """What one feeder gave; None where its rate is not logged in a known unit."""
    key = channel_key("feeder_rate", feeder.name)
    if key not in line.channels or key in line.relative_channels:
        return None
    step = 10 * SECOND if t1 - t0 <= 48 * HOUR else MINUTE
    cells = means(data.source, line.name, t0, t1, (key,), step)
    return Fed(cells.t0 + cells.step * np.arange(cells.mean.shape[1], dtype=np.int64), cells.mean[0])
