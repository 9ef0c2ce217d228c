"""Writes a simulated run the way a plant would: CSV wide or long, or Parquet, with the line file that reads it."""

from __future__ import annotations

import copy
import datetime as dt
import gzip
import io
import zoneinfo
from pathlib import Path
from typing import Any

import numpy as np

from ingest.block import FRESH, NONE, QUALITY_MASK, Block
from ingest.roles import ROLES, split_key
from sample_logs.dialects import US_DIGITS, Dialect
from sample_logs.plant import Plant

NS = 1_000_000_000


def write_log(block: Block, plant: Plant, dialect: Dialect, path: Path, time_zone: str) -> None:
    """Writes the block's readings to `path`; '.gz' compresses. What did not arrive is an empty field or no row."""
    if dialect.form == "parquet":
        _write_parquet(block, plant, dialect, path)
        return
    text = _long_text(block, plant, dialect) if dialect.form == "long csv" else _wide_text(
        block, plant, dialect, time_zone
    )  # fmt: skip
    data = text.encode(dialect.encoding)
    path.write_bytes(gzip.compress(data, 9, mtime=0) if path.suffix == ".gz" else data)


def line_in_dialect(plant: Plant, dialect: Dialect, time_zone: str) -> dict[str, Any]:
    """The plant's line file with the tags, units and log settings of the dialect."""
    line = copy.deepcopy(plant.line)
    line["line"]["time_zone"] = time_zone
    log: dict[str, Any] = {"layout": "long" if dialect.form == "long csv" else "wide"}
    log["time_columns"] = [dialect.time_column]
    if dialect.form == "long csv":
        log |= {"tag_column": "tag", "value_column": "value", "quality_column": "quality"}
    line["log"] = log
    for key, sensor in zip(plant.channels, line["sensor"], strict=True):
        sensor["tag"] = dialect.tag(key)
        if "unit" in sensor:
            sensor["unit"] = dialect.unit(sensor["role"])
        if "range" in sensor:
            sensor["range"] = [round(dialect.convert(sensor["role"], bound), 3) for bound in sensor["range"]]
        if dialect.form == "long csv":
            # stored on change: a reading stands until the next, at the latest after `longest_s`
            sensor["hold_s"] = max(plant.logger.longest_s + 30.0, sensor.get("hold_s", 0.0))
    return line


def _digits(plant: Plant, role: str, dialect: Dialect) -> int:
    if dialect.us_units and dialect.unit(role) in US_DIGITS:
        return US_DIGITS[dialect.unit(role)]
    step = plant.logger.resolution.get(role, 0.0)
    if ROLES[role].unit == "1":
        return 0
    return max(0, -int(np.floor(np.log10(step) + 1e-9))) if step > 0 else 2


def _columns(block: Block, plant: Plant, dialect: Dialect) -> list[tuple[str, np.ndarray, np.ndarray]]:
    """Per channel: tag, values in written units rounded as written, and which cells hold a reading."""
    columns: list[tuple[str, np.ndarray, np.ndarray]] = []
    for c, key in enumerate(block.channels):
        role, _ = split_key(key)
        there = (block.status[c] & FRESH > 0) & (block.status[c] & QUALITY_MASK != NONE)
        there &= ~np.isnan(block.values[c])
        shown = np.round(_converted(dialect, role, block.values[c]), _digits(plant, role, dialect))
        columns.append((dialect.tag(key), shown, there))
    return columns


def _converted(dialect: Dialect, role: str, values: np.ndarray) -> np.ndarray:
    scale = dialect.convert(role, 1.0) - dialect.convert(role, 0.0)
    return values * scale + dialect.convert(role, 0.0)


def _stamps(block: Block, dialect: Dialect, time_zone: str) -> list[str]:
    zone = zoneinfo.ZoneInfo(time_zone) if dialect.local else dt.UTC
    return [dt.datetime.fromtimestamp(t // NS, zone).strftime(dialect.stamp) for t in block.times().tolist()]


def _wide_text(block: Block, plant: Plant, dialect: Dialect, time_zone: str) -> str:
    columns = _columns(block, plant, dialect)
    out = io.StringIO()
    join = dialect.delimiter.join
    out.write(join([dialect.time_column, *(tag for tag, _, _ in columns)]) + "\n")
    if dialect.unit_row:
        roles = [split_key(key)[0] for key in block.channels]
        units = [dialect.unit(role) if ROLES[role].unit != "1" else "" for role in roles]
        out.write(join(["", *units]) + "\n")
    texts = []
    for (_, values, there), key in zip(columns, block.channels, strict=True):
        digits = _digits(plant, split_key(key)[0], dialect)
        texts.append([_text(v, digits, dialect.decimal) if t else "" for v, t in zip(values, there, strict=True)])
    for stamp, *row in zip(_stamps(block, dialect, time_zone), *texts, strict=True):
        if any(row):
            out.write(join([stamp, *row]) + "\n")
    return out.getvalue()


def _text(value: float, digits: int, decimal: str) -> str:
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text if decimal == "." else text.replace(".", decimal)


def _long_text(block: Block, plant: Plant, dialect: Dialect) -> str:
    """One row a reading, stored on change and at the latest every `longest_s`; classic quality byte 192 = good."""
    stamps = _stamps(block, dialect, "UTC")
    longest = max(int(plant.logger.longest_s / plant.cadence_s), 1)
    rows: list[tuple[int, int, str]] = []
    for c, (tag, values, there) in enumerate(_columns(block, plant, dialect)):
        digits = _digits(plant, split_key(block.channels[c])[0], dialect)
        last_at, last = -longest, float("nan")
        for i in np.flatnonzero(there).tolist():
            if values[i] != last or i - last_at >= longest:
                rows.append((i, c, f"{stamps[i]},{tag},{_text(values[i], digits, '.')},192"))
                last_at, last = i, values[i]
    rows.sort()
    return "\n".join([f"{dialect.time_column},tag,value,quality", *(text for _, _, text in rows)]) + "\n"


def _write_parquet(block: Block, plant: Plant, dialect: Dialect, path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    names, arrays = [dialect.time_column], [pa.array(block.times(), pa.timestamp("ns", "UTC"))]
    for tag, values, there in _columns(block, plant, dialect):
        names.append(tag)
        arrays.append(pa.array(values.astype(np.float32), pa.float32(), mask=~there))
    pq.write_table(pa.table(arrays, names=names), path, compression="zstd", compression_level=12)


__all__ = ["line_in_dialect", "write_log"]
