"""Where a log keeps its time and how it is written: found by looking, then read row by row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from ingest.arrow_compute import pc
from ingest.raw_rows import RawRows
from ingest.stamp_text import SECOND, StampForm, decode

EARLIEST_NS, LATEST_NS = 315_532_800 * SECOND, 4_102_444_800 * SECOND
"""1980 and 2100: stamps outside are no stamps of a log."""

_EPOCH_UNITS = (("s", 1), ("ms", 1_000), ("µs", 1_000_000), ("ns", 1_000_000_000))


@dataclass(frozen=True)
class TimeReader:
    """Reads the stamps of one file.

    columns: the time column, or date and time columns to be joined.
    form: how texts are written; None for columns that hold times or epoch numbers.
    epoch_per_s: for epoch numbers, how many of them make a second; 0 otherwise.
    """

    columns: tuple[str, ...]
    form: StampForm | None = None
    epoch_per_s: int = 0

    @property
    def name(self) -> str:
        """For people."""
        if self.form is not None:
            return self.form.name
        if self.epoch_per_s:
            return f"epoch {next(unit for unit, per_s in _EPOCH_UNITS if per_s == self.epoch_per_s)}"
        return "time stamps"

    def read(self, rows: RawRows) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Nanoseconds int64, which could be read, and which are UTC and not of the local clock."""
        if self.form is not None:
            return decode(joined(rows, self.columns), self.form)
        column = rows.columns[self.columns[0]]
        if self.epoch_per_s:
            return _epoch(column, self.epoch_per_s)
        return _typed(column)


def joined(rows: RawRows, names: tuple[str, ...]) -> pa.ChunkedArray:
    """Texts of one column, or of date and time columns with a blank between."""
    parts = [as_text(rows.columns[name], last=name == names[-1] and len(names) > 1) for name in names]
    return parts[0] if len(parts) == 1 else pc.binary_join_element_wise(*parts, " ", null_handling="replace")


def as_text(column: pa.ChunkedArray, last: bool = False) -> pa.ChunkedArray:
    """A column as texts without blanks around them; of date columns only the date, unless it is the `last`."""
    if pa.types.is_timestamp(column.type):
        column = column.cast(pa.time64("ns") if last else pa.date32())
    return pc.utf8_trim_whitespace(pc.fill_null(column.cast(pa.string()), ""))


def epoch_unit(numbers: np.ndarray) -> int:
    """How many of these numbers make a second if they count from 1970; 0 where they cannot be epoch time."""
    known = numbers[np.isfinite(numbers)]
    if not len(known):
        return 0
    middle = float(np.median(known))
    for _, per_s in _EPOCH_UNITS:
        if EARLIEST_NS / SECOND <= middle / per_s < LATEST_NS / SECOND:
            return per_s
    return 0


def _epoch(column: pa.ChunkedArray, per_s: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Whole numbers exactly; fractions to the microsecond, which is what a float64 holds of a date."""
    if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
        tidy = pc.replace_substring(as_text(column), ",", ".")
        whole = np.asarray(pc.fill_null(pc.match_substring_regex(tidy, r"^-?\d{1,19}$"), False)).astype(bool)
        if whole.all():
            return _epoch(_cast_or_null(tidy, pa.int64()), per_s)
        number = np.asarray(pc.fill_null(pc.match_substring_regex(tidy, r"^-?\d{1,19}(\.\d*)?$"), False)).astype(bool)
        floats = pc.cast(pc.if_else(pa.array(number), tidy, "nan"), pa.float64())
        ns, ok, zoned = _epoch(floats, per_s)
        if whole.any():
            ns[whole] = _epoch(_cast_or_null(tidy.filter(pa.array(whole)), pa.int64()), per_s)[0]
        return ns, ok & number, zoned & number
    ok = np.asarray(column.is_valid()).astype(bool)
    if pa.types.is_integer(column.type):
        numbers = pc.fill_null(column, 0).to_numpy().astype(np.int64)
        limit = (LATEST_NS // SECOND) * per_s
        ok &= (numbers > -limit) & (numbers < limit)
        ns = np.where(ok, numbers, 0) * (SECOND // per_s)
    else:
        floats = pc.fill_null(column.cast(pa.float64()), np.nan).to_numpy() / per_s
        ok &= np.abs(floats) < LATEST_NS / SECOND
        ns = np.round(np.where(ok, floats, 0) * 1e6).astype(np.int64) * 1000
    return ns, ok, ok.copy()


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
