"""How the tags of one log become the channels of one line. The line file is turned into this; a reader
sees nothing else of the line."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from ingest.units import STANDARD_ATMOSPHERE_MBAR


@dataclass(frozen=True)
class ChannelSource:
    """One channel and where the log keeps it.

    tag: column name (wide layout) or value of the tag column (long layout).
    key: channel key, `role` or `role:subject`.
    unit: unit in the log as the plant writes it, or 'relative'.
    low, high: what the sensor can show, in `unit` as the log; readings outside are 'bad'.
    hold_s: how long one reading stands when the next has not come.
    full: reading, in `unit`, that is 100 % of a role in percent; None where `unit` itself can become that of the role.
    cell: what a cell takes of several readings.
    """

    tag: str
    key: str
    unit: str
    cell: Literal["last", "mean", "max"]
    hold_s: float
    low: float | None = None
    high: float | None = None
    full: float | None = None


@dataclass(frozen=True)
class LogMapping:
    """Everything a reader must know to turn a log into the Blocks of one line.

    line: name of the line.
    cadence_s: width of a cell.
    time_zone: IANA zone of local stamps that carry no offset.
    time_columns: the time column, or date and time columns to be joined; empty = find it by looking.
    time_format: strptime format; empty = find it by looking at the whole file and say what was found.
    line_column, line_value: only rows whose `line_column` equals `line_value` belong to this line.
    layout: 'wide' one column a tag; 'long' one row a reading.
    tag_column, value_column, quality_column: of the long layout.
    lot_column, recipe_column: text columns that become notes when their text changes.
    missing_values: texts and numbers that stand for 'no reading', beside the usual ones.
    zero_is_missing: tags where a zero stands for 'no reading'.
    quality_suffix: what stands behind a tag in the name of its quality column (wide layout); '' = find such columns by
        looking, '-' = there are none.
    atmosphere_mbar: air pressure at the site, where gauge or vacuum readings become absolute.
    """

    line: str
    cadence_s: float
    time_zone: str
    channels: tuple[ChannelSource, ...]
    time_columns: tuple[str, ...] = ()
    time_format: str = ""
    line_column: str = ""
    line_value: str = ""
    layout: Literal["wide", "long"] = "wide"
    tag_column: str = ""
    value_column: str = ""
    quality_column: str = ""
    lot_column: str = ""
    recipe_column: str = ""
    missing_values: tuple[str, ...] = field(default=())
    zero_is_missing: tuple[str, ...] = field(default=())
    quality_suffix: str = ""
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR
