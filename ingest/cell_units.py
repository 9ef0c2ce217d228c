"""Columns that have the unit in every cell, as '212.4 °C': which they are, and their numbers."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import pyarrow as pa

from ingest.account import SURE, ReadingAccount
from ingest.arrow_compute import pc
from ingest.mapping import LogMapping
from ingest.number_text import NO_READING, Decimal, read_numbers
from ingest.raw_rows import Log
from ingest.units import UnitError, quantity_of, to_unit

# The turns of a screw are often written '45.2 1/min'.
_SPLIT = (
    "^(?P<number>[+\\-\u2212\u2013]?[0-9][0-9.,'\u2019]*(?:[ \u00a0\u2009\u202f][0-9]{3})*(?:[.,][0-9]+)?)"
    "[ \u00a0\u2009\u202f]*?"
    "(?P<unit>[ \u00a0\u2009\u202f]1/[a-zA-Z]{1,7}|[^0-9\\s.,'+\u2019-][^\\s]{0,11}(?: [a-z]{1,8})?)$"
)
_LONGEST = 40

CellUnits = Mapping[str, tuple[str, ...]]
"""By column, the units that stand in its cells, the most frequent first."""
NO_UNITS: CellUnits = {}
_COMPILED = re.compile(_SPLIT)
_NO_NUMBER = re.compile("[^0-9\\s.,'+\u2019-]")
"""A letter that every unit has and no number."""


def split_unit(text: str) -> tuple[str, str]:
    """A number and the known unit behind it, both as written; the text itself and '' where it is none."""
    text = text.strip()
    match = _COMPILED.match(text) if len(text) <= _LONGEST else None
    if match is None:
        return text, ""
    unit = match["unit"].strip()
    try:
        quantity_of(unit)
    except UnitError:
        return text, ""
    return match["number"], unit


def units_in_cells(texts: Iterable[str]) -> tuple[str, ...]:
    """The units in the cells of a column, the most frequent first; empty where most cells have none.

    A letter behind some numbers of a column may be a mark, 'F' for a fault; behind most it is the unit.
    """
    some = [text for text in texts if text.strip().casefold() not in NO_READING]
    if not _NO_NUMBER.search("".join(some)):
        return ()
    units = Counter(unit for text in some if _NO_NUMBER.search(text) and (unit := split_unit(text)[1]))
    if units.total() <= 0.5 * len(some):
        return ()
    first, *others = (unit for unit, _ in units.most_common())
    return (first, *(unit for unit in others if len(unit) > 1))


def find_cell_units(log: Log, mapping: LogMapping, account: ReadingAccount) -> dict[str, tuple[str, ...]]:
    """By column of numbers, the units in its cells where they have some; said in the account."""
    wide = mapping.layout == "wide"
    columns = [source.tag for source in mapping.channels] if wide else [mapping.value_column]
    found: dict[str, tuple[str, ...]] = {}
    for name in columns:
        if name in log.names and name not in log.stamp_columns and (units := units_in_cells(log.texts(name))):
            found[name] = units
    by_units: dict[tuple[str, ...], list[str]] = {}
    for name, units in found.items():
        by_units.setdefault(units, []).append(name)
    for units, names in by_units.items():
        listed = f"{', '.join(map(repr, names[:5]))}{' and others' if len(names) > 5 else ''}"
        account.assume(
            f"{log.path}: the unit stands in every cell of {listed} ({', '.join(map(repr, units[:5]))}); it counts, "
            "and numbers become those of the unit in the line file",
            SURE,
        )
    return found


def read_with_units(
    texts: pa.ChunkedArray, decimal: Decimal, units: Sequence[str], unit: str, atmosphere_mbar: float
) -> tuple[np.ndarray, np.ndarray]:
    """Numbers float64 in `unit`, and which texts could not be read.

    units: those that the column is known to have; what has another one, or one of another quantity, is not read.
    """
    numbers, written = _apart(texts, decimal)
    unreadable = np.isnan(numbers)
    for one in units:
        here = written == one
        try:
            numbers[here] = to_unit(one, unit, atmosphere_mbar=atmosphere_mbar).apply(numbers[here])
        except UnitError:
            unreadable |= here
    unreadable |= ~np.isin(written, list(units))
    return np.where(unreadable, np.nan, numbers), unreadable


def bare_numbers(texts: pa.ChunkedArray, decimal: Decimal) -> np.ndarray:
    """Numbers with known units behind them, as they are written; NaN for other texts."""
    numbers, written = _apart(texts, decimal)
    known = {unit: bool(split_unit(f"1 {unit}")[1]) for unit in set(written.tolist())}
    return np.where([known[unit] for unit in written], numbers, np.nan)


def _apart(texts: pa.ChunkedArray, decimal: Decimal) -> tuple[np.ndarray, np.ndarray]:
    """Numbers float64 and the texts behind them, NaN and '' where a text is none of both."""
    tidy = pc.utf8_trim_whitespace(pc.fill_null(texts.cast(pa.string()), ""))
    parts = pc.extract_regex(pa.concat_arrays(tidy.chunks) if tidy.num_chunks else pa.array([], pa.string()), _SPLIT)
    units = pc.fill_null(pc.utf8_trim_whitespace(pc.struct_field(parts, "unit")), "")
    numbers, _ = read_numbers(
        pa.chunked_array([pc.fill_null(pc.struct_field(parts, "number"), "")]), decimal, frozenset()
    )
    return numbers, np.array(units.to_pylist(), object)
