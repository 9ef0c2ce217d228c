"""Writes logs the slow way and says what a reader must make of them. Shares no code with the readers.

Only the shapes that travel between modules (mapping, block) are imported.
"""

from __future__ import annotations

import gzip
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.account import ReadingAccount
from ingest.block import Block
from ingest.mapping import ChannelSource, LogMapping
from ingest.read_log import read_in_pieces

START = datetime(2026, 3, 6, 10, 52, 30, tzinfo=UTC)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

CHANNELS = (
    ChannelSource("T1", "zone_temperature:Z1", "C", "mean", 60),
    ChannelSource("P die", "melt_pressure:die", "bar", "max", 15),
    ChannelSource("SP1", "zone_setpoint:Z1", "C", "last", 600),
)


def mapping(**changes: object) -> LogMapping:
    """A line with CHANNELS at 1 s in UTC; any field of LogMapping may be given."""
    fields: dict[str, object] = {
        "line": "L1",
        "cadence_s": 1.0,
        "time_zone": "UTC",
        "channels": CHANNELS,
        "time_columns": ("Time",),
    }
    return LogMapping(**{**fields, **changes})  # type: ignore[arg-type]


def moment(ns: int) -> datetime:
    """UTC nanoseconds as a datetime, to the microsecond."""
    return EPOCH + timedelta(microseconds=ns // 1000)


def nanoseconds(when: datetime) -> int:
    """A datetime as UTC nanoseconds."""
    return (when - EPOCH) // timedelta(microseconds=1) * 1000


@dataclass(frozen=True)
class Style:
    """How a plant writes its log."""

    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    time: str = "iso"
    zone: str = "UTC"
    line_end: str = "\n"
    preamble: tuple[str, ...] = ()
    units: bool = False
    quote: bool = False
    packed: bool = False
    last_line_end: bool = True
    none: str = ""
    names: dict[str, str] = field(default_factory=dict)


def time_text(ns: int, style: Style) -> list[str]:
    """A stamp as the fields that the style writes for it."""
    when = moment(ns).astimezone(ZoneInfo(style.zone))
    fraction = f"{ns % 1_000_000_000 // 1_000_000:03d}"
    dot = f".{fraction}" if int(fraction) else ""
    clock = when.strftime("%H:%M:%S")
    seconds, milliseconds = divmod(ns // 1_000_000, 1000)
    match style.time:
        case "iso":
            return [f"{when:%Y-%m-%d} {clock}{dot}"]
        case "iso T offset":
            offset = when.strftime("%z")
            return [f"{when:%Y-%m-%d}T{clock}{dot}{offset[:3]}:{offset[3:]}"]
        case "iso Z":
            return [f"{moment(ns):%Y-%m-%dT%H:%M:%S}{dot}Z"]
        case "iso milliseconds":
            return [f"{when:%Y-%m-%d} {clock}{style.decimal}{fraction}"]
        case "day first":
            return [f"{when:%d.%m.%Y} {clock}{dot.replace('.', style.decimal)}"]
        case "month first am pm":
            hour = when.hour % 12 or 12
            return [f"{when.month}/{when.day}/{when.year} {hour}:{when:%M:%S} {'AM' if when.hour < 12 else 'PM'}"]
        case "month by name":
            return [
                f"{when.day:02d}-{'JanFebMarAprMayJunJulAugSepOctNovDec'[3 * when.month - 3 :][:3]}-{when.year} {clock}"
            ]
        case "date and time":
            return [f"{when:%d.%m.%Y}", f"{clock}{style.decimal}{fraction}"]
        case "epoch s":
            return [f"{seconds}{style.decimal}{milliseconds:03d}" if milliseconds else str(seconds)]
        case "epoch ms":
            return [str(ns // 1_000_000)]
        case "epoch us":
            return [str(ns // 1000)]
    raise ValueError(style.time)


def time_names(style: Style) -> tuple[str, ...]:
    """Names of the time columns of a style."""
    return ("Date", "Clock") if style.time == "date and time" else ("Time",)


Row = tuple[int, Mapping[str, object]]


def number_text(value: object, style: Style) -> str:
    """A value as the style writes it; texts as they are."""
    if value is None:
        return style.none
    return str(value).replace(".", style.decimal) if isinstance(value, float) else str(value)


def csv_text(rows: Iterable[Row], columns: Sequence[str], style: Style) -> str:
    """The whole text of a CSV log."""

    def join(fields: Iterable[str]) -> str:
        return style.delimiter.join(f'"{text}"' if style.quote or style.delimiter in text else text for text in fields)

    lines = [*style.preamble, join([*time_names(style), *columns])]
    if style.units:
        lines.append(join(["" for _ in time_names(style)] + ["[x]" for _ in columns]))
    for ns, values in rows:
        lines.append(join([*time_text(ns, style), *(number_text(values.get(name), style) for name in columns)]))
    return style.line_end.join(lines) + (style.line_end if style.last_line_end else "")


def write_csv(
    path: Path, rows: Iterable[Row], columns: Sequence[str] = ("T1", "P die", "SP1"), style: Style = Style()
) -> Path:
    """Writes a CSV log and returns its path."""
    data = csv_text(rows, columns, style).encode(style.encoding)
    path.write_bytes(gzip.compress(data) if style.packed else data)
    return path


def write_parquet(
    path: Path, rows: Sequence[Row], columns: Sequence[str] = ("T1", "P die", "SP1"), group: int = 100
) -> Path:
    """Writes a Parquet log with UTC stamps and returns its path."""
    table = {"Time": pa.array([ns for ns, _ in rows], pa.timestamp("ns", "UTC"))}
    table |= {name: pa.array([values.get(name) for _, values in rows]) for name in columns}
    pq.write_table(pa.table(table), path, row_group_size=group)
    return path


def steady(count: int, step_ms: int = 1000, start: datetime = START) -> list[Row]:
    """Rows on a plain step with values that tell their place."""
    first = nanoseconds(start)
    return [
        (first + i * step_ms * 1_000_000, {"T1": 200.0 + i / 8, "P die": 100.0 + i % 7, "SP1": 210.0})
        for i in range(count)
    ]


def read(
    paths: Path | Sequence[Path], line: LogMapping | None = None, **options: object
) -> tuple[list[Block], ReadingAccount]:
    """All Blocks and the account."""
    account = ReadingAccount()
    paths = [paths] if isinstance(paths, Path) else paths
    return list(read_in_pieces(paths, line or mapping(), account, **options)), account  # type: ignore[arg-type]


def cells_of(blocks: Iterable[Block]) -> dict[tuple[str, int], tuple[float, int]]:
    """(channel, start of the cell) -> (value, status) for every cell that is not empty."""
    cells = {}
    for block in blocks:
        for key, values, status in zip(block.channels, block.values, block.status, strict=True):
            for i in range(block.n):
                if status[i] != 3:
                    cells[key, block.t0 + i * block.step] = (float(values[i]), int(status[i]))
    return cells


def expected_cells(rows: Iterable[Row], line: LogMapping) -> dict[tuple[str, int], tuple[float, int]]:
    """The same, worked out reading by reading; all readings good, rows in order of time, no long gap."""
    step = round(line.cadence_s * 1e9)
    rows = sorted(rows, key=lambda row: row[0])
    end = rows[-1][0] // step
    cells: dict[tuple[str, int], tuple[float, int]] = {}
    for source in line.channels:
        readings: dict[int, list[float]] = {}
        for ns, values in rows:
            value = values.get(source.tag)
            if value is not None:
                readings.setdefault(ns // step, []).append(float(value))  # type: ignore[arg-type]
        held, age = None, 0
        for cell in range(rows[0][0] // step, end + 1):
            if cell in readings:
                some = readings[cell]
                total = 0.0
                for one in some:
                    total += one
                held = {"last": some[-1], "mean": total / len(some), "max": max(some)}[source.cell]
                age = 0
                cells[source.key, cell * step] = (held, 4)
                continue
            age += 1
            if held is not None and age * step <= source.hold_s * 1e9:
                cells[source.key, cell * step] = (held, 0)
    return cells


def same_blocks(one: Sequence[Block], other: Sequence[Block]) -> bool:
    """Equal to the bit, cuts and notes included."""
    return len(one) == len(other) and all(
        (a.t0, a.step, a.channels, a.notes) == (b.t0, b.step, b.channels, b.notes)
        and a.values.tobytes() == b.values.tobytes()
        and a.status.tobytes() == b.status.tobytes()
        for a, b in zip(one, other, strict=True)
    )


def all_cells(blocks: Sequence[Block]) -> np.ndarray:
    """Values of all Blocks one behind the other, shape (channels, n)."""
    return np.concatenate([block.values for block in blocks], axis=1)
