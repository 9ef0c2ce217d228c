"""Where a log keeps its time and how it is written: found by looking, then read row by row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from ingest.arrow_compute import pc
from ingest.day_count import DAY_NS, Times, counted, day_shifts
from ingest.raw_rows import RawRows
from ingest.stamp_text import SECOND, YEAR_FIRST, StampForm, decode

EARLIEST_NS, LATEST_NS = 315_532_800 * SECOND, 4_102_444_800 * SECOND
"""1980 and 2100: stamps outside are no stamps of a log."""

_DAYS_TO_1970 = 25569
"""From 1899-12-30, so that the days after February 1900, which spreadsheets hold for a leap year, come out right."""


@dataclass(frozen=True)
class Epoch:
    """How numbers count time. name: for people. per_s: how many make a second. origin_s: their zero, s since 1970."""

    name: str
    per_s: int
    origin_s: int = 0
    earliest_ns: int = EARLIEST_NS


_EPOCHS = (
    Epoch("epoch s", 1),
    Epoch("epoch ms", 1_000),
    Epoch("epoch µs", 1_000_000),
    # A clock of this kind from before 2000 is none: the numbers are those of the next.
    Epoch("epoch ns", SECOND, earliest_ns=946_684_800 * SECOND),
    Epoch("100 ns since the year 1", 10_000_000, -62_135_596_800),
    Epoch("100 ns since 1601", 10_000_000, -11_644_473_600),
)


@dataclass(frozen=True)
class TimeReader:
    """Reads the stamps of one file.

    columns: the time column, or date and time columns to be joined.
    form: how texts are written; None for columns that hold times or epoch numbers.
    epoch: of numbers that count time; None otherwise.
    day_numbers: numbers count days since 1899-12-30, as spreadsheets do.
    ahead_s: how far the clock is ahead of UTC as the names of the columns say, for stamps that do not say it; None
        where the names do not say it either.
    first_day: date of the first row, YYYY-MM-DD, where the column holds times of day only; '' otherwise.
    """

    columns: tuple[str, ...]
    form: StampForm | None = None
    epoch: Epoch | None = None
    day_numbers: bool = False
    ahead_s: int | None = None
    first_day: str = ""

    @property
    def name(self) -> str:
        """For people."""
        if self.first_day:
            return f"HH:MM:SS from {self.first_day} on"
        if self.form is not None:
            return self.form.name
        if self.epoch is not None:
            return self.epoch.name
        return "day numbers" if self.day_numbers else "time stamps"

    def read(self, rows: RawRows) -> Times:
        """Nanoseconds int64, which could be read, and which are UTC and not of the local clock.

        Times of day count as those of the first day and the days after it; `in_order` knows which day it is.
        """
        ns, ok, zoned = self._of_clock(rows)
        if self.first_day:
            shifts, lone = day_shifts(ns[ok], None)
            ns[ok] += shifts * DAY_NS
            ok[ok] = ~lone
        return ns, ok, zoned

    def in_order(
        self, raw: Iterable[RawRows], tell: Callable[[RawRows, int, int, int], None]
    ) -> Iterator[tuple[RawRows, Times]]:
        """The rows of a whole log with what `read` gives. tell: see `day_count.counted`; only times of day need it."""
        if self.first_day:
            yield from counted(self._of_clock, raw, tell)
            return
        for rows in raw:
            yield rows, self.read(rows)

    def _of_clock(self, rows: RawRows) -> Times:
        ns, ok, zoned = self._as_written(rows)
        if self.ahead_s is None:
            return ns, ok, zoned
        return np.where(zoned, ns, ns - self.ahead_s * SECOND), ok, ok.copy()

    def _as_written(self, rows: RawRows) -> Times:
        if self.first_day:
            return decode(pc.binary_join_element_wise(self.first_day, joined(rows, self.columns), " "), YEAR_FIRST)
        if self.form is not None:
            return decode(joined(rows, self.columns), self.form)
        column = rows.columns[self.columns[0]]
        if self.epoch is not None:
            return _epoch(column, self.epoch)
        return _day_numbers(column) if self.day_numbers else _typed(column)


def joined(rows: RawRows, names: tuple[str, ...]) -> pa.ChunkedArray:
    """Texts of one column, or of date and time columns with a blank between."""
    parts = [as_text(rows.columns[name], last=name == names[-1] and len(names) > 1) for name in names]
    return parts[0] if len(parts) == 1 else pc.binary_join_element_wise(*parts, " ", null_handling="replace")


def as_text(column: pa.ChunkedArray, last: bool = False) -> pa.ChunkedArray:
    """A column as texts without blanks around them; of date columns only the date, unless it is the `last`."""
    if pa.types.is_timestamp(column.type):
        column = column.cast(pa.time64("ns") if last else pa.date32())
    return pc.utf8_trim_whitespace(pc.fill_null(column.cast(pa.string()), ""))


def epoch_of(numbers: np.ndarray) -> Epoch | None:
    """How these numbers count time; None where they cannot."""
    known = numbers[np.isfinite(numbers)]
    if not len(known):
        return None
    middle = float(np.median(known))
    for one in _EPOCHS:
        if one.earliest_ns / SECOND <= middle / one.per_s + one.origin_s < LATEST_NS / SECOND:
            return one
    return None


def _epoch(column: pa.ChunkedArray, epoch: Epoch) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Whole numbers exactly; fractions to the microsecond, which is what a float64 holds of a date."""
    if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
        tidy = pc.replace_substring(as_text(column), ",", ".")
        whole = np.asarray(pc.fill_null(pc.match_substring_regex(tidy, r"^-?\d{1,19}$"), False)).astype(bool)
        if whole.all():
            return _epoch(_cast_or_null(tidy, pa.int64()), epoch)
        number = np.asarray(pc.fill_null(pc.match_substring_regex(tidy, r"^-?\d{1,19}(\.\d*)?$"), False)).astype(bool)
        floats = pc.cast(pc.if_else(pa.array(number), tidy, "nan"), pa.float64())
        ns, ok, zoned = _epoch(floats, epoch)
        if whole.any():
            ns[whole] = _epoch(_cast_or_null(tidy.filter(pa.array(whole)), pa.int64()), epoch)[0]
        return ns, ok & number, zoned & number
    ok = np.asarray(column.is_valid()).astype(bool)
    per_s, zero = epoch.per_s, -epoch.origin_s * epoch.per_s  # the number of 1970
    if pa.types.is_integer(column.type):
        numbers = pc.fill_null(column, zero).to_numpy().astype(np.int64)
        limit = (LATEST_NS // SECOND) * per_s
        ok &= (numbers > zero - limit) & (numbers < zero + limit)
        ns = (np.where(ok, numbers, zero) - zero) * (SECOND // per_s)
    else:
        floats = pc.fill_null(column.cast(pa.float64(), safe=False), np.nan).to_numpy() / per_s + epoch.origin_s
        ok &= np.abs(floats) < LATEST_NS / SECOND
        ns = np.round(np.where(ok, floats, 0) * 1e6).astype(np.int64) * 1000
    return ns, ok, ok.copy()


def _day_numbers(column: pa.ChunkedArray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """To the millisecond: a float64 holds a day of this century to some microseconds, and most are written shorter."""
    if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
        tidy = pc.replace_substring(as_text(column), ",", ".")
        number = pc.fill_null(pc.match_substring_regex(tidy, r"^\d{1,6}(\.\d*)?$"), False)
        column = pc.cast(pc.if_else(number, tidy, "nan"), pa.float64())
    days = pc.fill_null(column.cast(pa.float64(), safe=False), np.nan).to_numpy()
    ok = (days > _DAYS_TO_1970) & (days < _DAYS_TO_1970 + LATEST_NS / SECOND / 86400)
    ms = np.round((np.where(ok, days, _DAYS_TO_1970) - _DAYS_TO_1970) * 86_400_000)
    return ms.astype(np.int64) * 1_000_000, ok, np.zeros(len(ok), bool)


def _cast_or_null(texts: pa.ChunkedArray, kind: pa.DataType) -> pa.ChunkedArray:
    try:
        return pc.cast(texts, kind)
    except pa.ArrowInvalid:  # 19 digits that do not fit
        fitting = [int(text) if abs(int(text)) < 1 << 63 else None for text in texts.to_pylist()]
        return pa.chunked_array([pa.array(fitting, kind)])


def _typed(column: pa.ChunkedArray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Columns that hold times; those with a zone are UTC inside."""
    kind = column.type
    ok = np.asarray(column.is_valid()).astype(bool)
    if pa.types.is_date(kind):
        column, kind = column.cast(pa.timestamp("s")), pa.timestamp("s")
    per_s = {"s": 1, "ms": 1_000, "us": 1_000_000, "ns": SECOND}[kind.unit]
    numbers = pc.fill_null(column.cast(pa.int64()), 0).to_numpy()
    limit = (LATEST_NS // SECOND) * per_s
    ok &= (numbers > -limit) & (numbers < limit)
    ns = np.where(ok, numbers, 0) * (SECOND // per_s)
    return ns, ok, ok & (kind.tz is not None)
