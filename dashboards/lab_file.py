"""Reads results of a laboratory, a CSV file or typed rows; every mistake is told with its row, column and value."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from dashboards.clock import PlantClock
from dashboards.data import JournalData
from dashboards.lab_results import LabResult
from dashboards.machine import subject_title
from dashboards.packed import packed_between
from dashboards.raw_lots import feeder_meant
from dashboards.texts import say
from dashboards.views import Lot
from ingest.roles import channel_key

WANTED = ("sampled", "lot", "quantity", "value", "unit")
OPTIONAL = ("low", "high", "container", "ingredient", "u")
COLUMNS = (*WANTED, *OPTIONAL)
SHARE_UNITS = ("%", "wt%", "wt %", "% w/w", "mass %", "% by mass")
"""What a share of an ingredient may be given in."""

TAKE_BACK = "-"
MOST_ROWS = 1000
MOST_BYTES = 2_000_000
MOST_LETTERS = 120
MOST_NAMED = 8


@dataclass
class Reading:
    """What was read, and what is wrong with it; nothing is to be kept of a reading with mistakes."""

    results: list[LabResult] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def text_of(content: bytes) -> str | None:
    """The text of a file; None where it is no text, or too long."""
    if b"\x00" in content or content[:2] == b"PK" or len(content) > MOST_BYTES:
        return None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def read_results(text: str, data: JournalData, lot: Lot) -> Reading:
    """Rows with a header, or rows as typed in the order of `COLUMNS`; an empty lot is `lot`.

    Parted by commas, semicolons or tabs, by what the first row has most of; with the latter two a decimal comma holds.
    """
    first = next((row for row in text.splitlines() if row.strip()), "")
    mark = max((";", "\t", ","), key=first.count)
    rows = list(csv.reader(io.StringIO(text.strip("\ufeff")), delimiter=mark, skipinitialspace=True))
    numbered = [(i, [c.strip() for c in row]) for i, row in enumerate(rows, 1) if any(c.strip() for c in row)]
    found = Reading()
    head: Sequence[str] = COLUMNS
    if numbered and any(cell.casefold() in COLUMNS for cell in numbered[0][1]):
        head = [cell.casefold() for cell in numbered.pop(0)[1]]
        found.wrong += _head_mistakes(head)
    if not found.wrong and not numbered:
        found.wrong.append(say("lab.no_rows"))
    if len(numbered) > MOST_ROWS:
        found.wrong.append(say("lab.too_many", count=str(len(numbered)), most=str(MOST_ROWS)))
    if found.wrong:
        return found
    reader = _Rows(data, lot, found, comma=mark != ",")
    for i, row in numbered:
        if len(row) > len(head) or len(row) < min(len(WANTED), len(head)):
            found.wrong.append(say("lab.cells", row=str(i), count=str(len(row)), wanted=str(len(head)),
                                   least=str(min(len(WANTED), len(head)))))  # fmt: skip
            continue
        reader.one(i, dict(zip(head, row, strict=False)))
    return found


def _head_mistakes(head: Sequence[str]) -> list[str]:
    missing = [name for name in WANTED if name not in head]
    strange = [name for name in head if name not in COLUMNS]
    twice = sorted({name for name in head if head.count(name) > 1})
    told = [("missing", missing), ("strange", strange), ("twice", twice)]
    return [
        say(f"lab.head_{what}", names=", ".join(n or "''" for n in names), known=", ".join(COLUMNS))
        for what, names in told
        if names
    ]


class _Wrong(Protocol):
    """Tells a mistake in a column of the row that is read: the name of its text and what the text takes."""

    def __call__(self, column: str, why: str, **more: str) -> None: ...


class _Rows:
    """Reads row after row against one line."""

    def __init__(self, data: JournalData, lot: Lot, found: Reading, *, comma: bool) -> None:
        line = data.line(lot.line)
        assert line is not None
        self._data, self._lot, self._line, self._found, self._comma = data, lot, line, found, comma
        self._clock: PlantClock = data.clock(lot.line)
        self._now = data.now_ns()
        self._packed: dict[int, set[str]] = {}

    def one(self, row: int, cells: Mapping[str, str]) -> None:
        """Adds the result of a row, or all that is wrong with it."""
        before = len(self._found.wrong)

        def wrong(column: str, why: str, **more: str) -> None:
            place = say("lab.place", row=str(row), column=column, value=cells.get(column, ""))
            self._found.wrong.append(f"{place} {say(f'lab.{why}', **more)}")

        lot = self._lot_of(cells, wrong)
        sampled = self._clock.parse_moment(cells["sampled"])
        if sampled is None:
            wrong("sampled", "no_time")
        elif sampled > self._now:
            wrong("sampled", "to_come")
        for name in ("quantity", "unit"):
            if not 0 < len(cells[name]) <= MOST_LETTERS:
                wrong(name, "empty" if not cells[name] else "long", most=str(MOST_LETTERS))
        numbers = {name: self._number(name, cells, wrong) for name in ("value", "low", "high", "u")}
        low, high, u = numbers["low"], numbers["high"], numbers["u"]
        if low is not None and high is not None and low > high:
            wrong("low", "crossed", high=cells["high"])
        if u is not None and u <= 0:
            wrong("u", "not_positive")
        ingredient = self._ingredient(cells, wrong)
        container = cells.get("container", "")
        if lot is not None and sampled is not None:
            self._place(lot, sampled, container, wrong)
        if len(self._found.wrong) > before or lot is None or sampled is None:
            return
        self._found.results.append(
            LabResult(sampled, lot.start, cells["quantity"], numbers["value"], cells["unit"], low, high, container,
                      ingredient, u)
        )  # fmt: skip

    def _lot_of(self, cells: Mapping[str, str], wrong: _Wrong) -> Lot | None:
        if cells["lot"] in ("", self._lot.number):
            return self._lot
        lot = self._data.lot(self._lot.line, cells["lot"])
        if lot is None:
            known = [one.number for one in self._data.lots(self._lot.line) if one.number][-MOST_NAMED:]
            wrong("lot", "no_lot", line=self._lot.line, known=", ".join(known) or "–")
        return lot

    def _place(self, lot: Lot, sampled: int, container: str, wrong: _Wrong) -> None:
        """A container must be known; without one the time must be inside the lot."""
        if container:
            if lot.start not in self._packed:
                packed = packed_between(self._data, lot, lot.start, lot.end)
                self._packed[lot.start] = {one.number for one in packed if not one.after}
            known = self._packed[lot.start]
            if container not in known:
                told = ", ".join(sorted(known)[:MOST_NAMED]) or "–"
                wrong("container", "no_container", lot=lot.number or "–", known=told)
        elif sampled <= self._now and not lot.start <= sampled <= (self._now if lot.running else lot.end):
            wrong(
                "sampled",
                "outside_lot",
                lot=lot.number or "–",
                start=self._written(lot.start),
                end=self._written(lot.end),
            )

    def _written(self, at: int) -> str:
        """A time as it is to be given: with its year, which the pages leave out."""
        return f"{self._clock.local(at):%Y-%m-%d %H:%M}"

    def _ingredient(self, cells: Mapping[str, str], wrong: _Wrong) -> str:
        text = cells.get("ingredient", "")
        if not text:
            return ""
        feeder = feeder_meant(self._line, text)
        if feeder is None:
            known = ", ".join(subject_title(self._line, channel_key("feeder_rate", f.name)) for f in self._line.feeder)
            wrong("ingredient", "no_ingredient", known=known or "–")
            return ""
        if cells["unit"].casefold() not in SHARE_UNITS:
            wrong("unit", "no_share")
        return feeder.name

    def _number(self, name: str, cells: Mapping[str, str], wrong: _Wrong) -> float | None:
        text = cells.get(name, "").replace("\N{MINUS SIGN}", "-")
        if not text and name != "value":
            return None
        if text == TAKE_BACK and name == "value":
            return None
        try:
            value = float(text.replace(",", ".") if self._comma else text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value) or "_" in text:
            wrong(name, "no_value" if name == "value" else "no_number")
            return None
        return value
