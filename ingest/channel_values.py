"""One column of a log as readings of one channel: numbers in the fixed unit of its role, with quality."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from ingest.account import ReadingAccount
from ingest.cell_units import read_with_units
from ingest.errors import BadLog
from ingest.mapping import ChannelSource, LogMapping
from ingest.number_text import Decimal, read_numbers
from ingest.roles import RELATIVE, ROLES, split_key
from ingest.sentinel_numbers import possible_range, without_sentinels
from ingest.units import STANDARD_ATMOSPHERE_MBAR, Conversion, UnitError, to_unit

_SAME = Conversion(1.0, 0.0)


@dataclass(frozen=True)
class ChannelValues:
    """What must be known to read one channel. missing_*: texts and numbers that say 'no reading'.

    possible: what a sensor of the role could show at the very most, in the unit of the log.
    atmosphere_mbar: air pressure at the site, for cells with units of their own.
    """

    source: ChannelSource
    conversion: Conversion
    missing_texts: frozenset[str]
    missing_numbers: tuple[float, ...]
    switch: bool
    possible: tuple[float, float] = (-np.inf, np.inf)
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR

    def numbers(
        self, column: pa.ChunkedArray, decimal: Decimal, units: Sequence[str] = ()
    ) -> tuple[np.ndarray, np.ndarray | None]:
        """Numbers as the plant wrote them, float64 with NaN for 'no reading', and a bool array of unreadable
        texts (None where there is none).

        units: those that stand in the cells; then a number without one has the first of them.
        """
        unreadable = None
        kind = column.type
        if pa.types.is_dictionary(kind):
            column, kind = column.cast(kind.value_type), kind.value_type
        if pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_binary(kind):
            numbers, unreadable = read_numbers(column.cast(pa.string()), decimal, self.missing_texts, self.switch)
        else:
            if pa.types.is_boolean(kind):
                column = column.cast(pa.uint8())
            # A whole number beyond 2**53, a damaged byte, is taken as the nearest there is: no sensor shows it anyway.
            floats = column.cast(pa.float64(), safe=False)
            numbers = floats.to_numpy(zero_copy_only=False) if len(column) else np.zeros(0)
        if units:
            unreadable = np.zeros(len(numbers), bool) if unreadable is None else unreadable
            numbers = self._with_units(column, numbers.copy(), unreadable, decimal, units)
        return self.without_missing(numbers), unreadable if unreadable is not None and unreadable.any() else None

    def _with_units(
        self,
        column: pa.ChunkedArray,
        numbers: np.ndarray,
        unreadable: np.ndarray,
        decimal: Decimal,
        units: Sequence[str],
    ) -> np.ndarray:
        """The numbers with those of cells that have a unit, others having the first of the units; `unreadable` too."""
        try:
            usual = to_unit(units[0], self.source.unit, atmosphere_mbar=self.atmosphere_mbar)
        except UnitError:  # cells of another tag, in the long layout
            unreadable |= ~np.isnan(numbers)
            numbers[:] = np.nan
        else:
            numbers[:] = usual.apply(numbers) if usual != _SAME else numbers
        if unreadable.any():
            some = column.filter(pa.array(unreadable))
            found, failed = read_with_units(some, decimal, units, self.source.unit, self.atmosphere_mbar)
            numbers[unreadable] = found
            unreadable[unreadable] = failed
        return numbers

    def all_plain(self, column: pa.ChunkedArray, out: np.ndarray) -> bool:
        """Whether every row has a number that is a reading its sensor can show; if so they are in `out`, in the unit
        of the role. False is no verdict: then each is to be looked at by itself, and `out` holds anything.

        Nearly every stretch of a log is so, and its least and greatest number tell all that there is to know.
        """
        if not pa.types.is_float64(column.type) or column.null_count or not len(column):
            return False
        at = 0
        for chunk in column.chunks:
            out[at : at + len(chunk)] = chunk.to_numpy()
            at += len(chunk)
        least, most = float(out.min()), float(out.max())
        if not (-np.inf < least and most < np.inf) or least < self.possible[0] or most > self.possible[1]:
            return False
        for missing in self.missing_numbers:
            if least <= missing <= most:
                return False
        if self.conversion != _SAME:
            # A conversion never changes the order of two numbers but of all, so the ends stay the ends.
            least, most = sorted((self.conversion.apply(least), self.conversion.apply(most)))
            out[:] = self.in_unit(out)
        low, high = self.source.low, self.source.high
        return (low is None or least >= low) and (high is None or most <= high)

    def without_missing(self, numbers: np.ndarray) -> np.ndarray:
        """Numbers with NaN for infinities and for those that say 'no reading'."""
        wrong = np.isinf(numbers)
        for missing in self.missing_numbers:
            wrong |= numbers == missing
        return np.where(wrong, np.nan, numbers) if wrong.any() else numbers

    def without_sentinels(self, numbers: np.ndarray) -> tuple[np.ndarray, dict[float, int]]:
        """Numbers with NaN for those that plainly stand for 'no reading', and how often each stood there."""
        return without_sentinels(numbers, *self.possible)

    def in_unit(self, numbers: np.ndarray) -> np.ndarray:
        """Numbers in the fixed unit of the role."""
        return numbers if self.conversion == _SAME else self.conversion.apply(numbers)

    def out_of_range(self, values: np.ndarray) -> np.ndarray | None:
        """Which values the sensor cannot show, None where there is none."""
        low, high = self.source.low, self.source.high
        wrong = np.zeros(0, bool)
        if low is not None:
            wrong = values < low
        if high is not None:
            wrong = wrong | (values > high) if len(wrong) else values > high
        return wrong if wrong.any() else None


def channel_values(mapping: LogMapping, paths: Sequence[str], account: ReadingAccount) -> tuple[ChannelValues, ...]:
    """One reader for each channel of a mapping, in its order; conversions go to the account.

    Raises BadLog for a unit that cannot become that of the role.
    """
    texts = frozenset(text.strip().casefold() for text in mapping.missing_values)
    numbers = tuple(number for text in mapping.missing_values if (number := _number(text)) is not None)
    readers = []
    for source in mapping.channels:
        unit = ROLES[split_key(source.key)[0]].unit
        try:
            conversion = (
                Conversion(100.0 / source.full)
                if source.full
                else to_unit(source.unit, unit, atmosphere_mbar=mapping.atmosphere_mbar)
            )
        except UnitError as error:
            raise BadLog(
                paths[0] if paths else mapping.line,
                f"the line file gives a unit that cannot be used: {error}",
                column=source.tag,
                hint="Correct `unit` of this sensor in the line file.",
            ) from None
        if source.full:
            account.conversions[source.tag] = f"{source.unit} to {unit}, {source.full:.5g} {source.unit} being 100 %"
        elif conversion != _SAME:
            account.conversions[source.tag] = f"{source.unit} to {unit}{_air(source.unit, unit, mapping)}"
        elif source.unit == RELATIVE:
            account.conversions[source.tag] = "unit not known, left as it is"
        zero = (0.0,) if source.tag in mapping.zero_is_missing else ()
        low, high = _in_unit(source.low, source.high, conversion)
        source = replace(source, low=low, high=high)
        possible = (-np.inf, np.inf) if source.unit == RELATIVE else _as_written(possible_range(unit), conversion)
        switch = unit == "1"
        readers.append(
            ChannelValues(source, conversion, texts, numbers + zero, switch, possible, mapping.atmosphere_mbar)
        )
    return tuple(readers)


def _in_unit(low: float | None, high: float | None, conversion: Conversion) -> tuple[float | None, float | None]:
    """A sensor's range in the unit of the role; a scale below zero (vacuum to absolute) turns it round."""
    bounds = [None if bound is None else conversion.apply(bound) for bound in (low, high)]
    return (bounds[1], bounds[0]) if conversion.scale < 0 else (bounds[0], bounds[1])


def _as_written(bounds: tuple[float, float], conversion: Conversion) -> tuple[float, float]:
    """Bounds in the unit of the log; a scale below zero (vacuum to absolute) turns them round."""
    low, high = sorted((bound - conversion.offset) / conversion.scale for bound in bounds)
    return low, high


def _air(given: str, unit: str, mapping: LogMapping) -> str:
    """Says the air pressure where a conversion depends on it."""
    here, elsewhere = (to_unit(given, unit, atmosphere_mbar=mbar) for mbar in (mapping.atmosphere_mbar, 0.0))
    return f", with an air pressure of {mapping.atmosphere_mbar:g} mbar" if here != elsewhere else ""


def _number(text: str) -> float | None:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return None
