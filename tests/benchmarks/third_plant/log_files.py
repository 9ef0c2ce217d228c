"""Writes a log as its plant would: dialect of CSV wide or long, or Parquet, with what happens to recorders."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.third_plant.channels import Channel
from tests.benchmarks.third_plant.machine import Machine
from tests.benchmarks.third_plant.tags import LINE_TAGS

TIME_ZONES = {
    "de": "Europe/Berlin", "us": "America/Chicago", "es": "Europe/Madrid", "fr": "Europe/Paris", "it": "Europe/Rome",
    "nl": "Europe/Amsterdam",
}  # fmt: skip
STORED_AGAIN_S = 600.0


def time_zone(machine: Machine) -> str:
    """Zone of the log's clock; Parquet is in UTC."""
    return "UTC" if machine.dialect.shape == "parquet" else TIME_ZONES.get(machine.dialect.language, "UTC")


def time_column(machine: Machine) -> str:
    """Name of the time column."""
    return "time" if machine.dialect.shape != "wide" else LINE_TAGS[machine.dialect.language]["time"]


def write_log(
    machine: Machine, tags: Sequence[Channel], columns: list[NDArray[np.float64]], keep: NDArray[np.bool_],
    start: dt.datetime, folder: Path,
) -> Path:  # fmt: skip
    """The log's path. keep: rows that reached the recorder. NaN: no value."""
    rows = np.flatnonzero(keep)
    seconds = np.asarray(rows * machine.cadence_s, np.float64)
    if machine.dialect.shape == "parquet":
        return _parquet(tags, [c[rows] for c in columns], seconds, start, folder)
    stamps = _stamps(machine, seconds, start)
    texts = [
        _text(column[rows], tag.decimals, machine.dialect.comma) for tag, column in zip(tags, columns, strict=True)
    ]
    path, mark = folder / "log.csv", machine.dialect.delimiter
    with path.open("w", encoding="utf-8", newline="") as file:
        if machine.dialect.shape == "wide":
            file.write(mark.join([time_column(machine), *(tag.tag for tag in tags)]) + "\n")
            for row in zip(stamps, *texts, strict=True):
                file.write(mark.join(row) + "\n")
        else:
            file.write(mark.join(("time", "tag", "value")) + "\n")
            _long(file, mark, tags, [c[rows] for c in columns], texts, stamps, seconds)
    return path


def _long(
    file: TextIO, mark: str, tags: Sequence[Channel], columns: list[NDArray[np.float64]], texts: list[list[str]],
    stamps: list[str], seconds: NDArray[np.float64],
) -> None:  # fmt: skip
    """Value on change, and again after ten minutes."""
    lines: list[tuple[int, int]] = []
    for j, (tag, column) in enumerate(zip(tags, columns, strict=True)):
        band, last, at = (1.5 if tag.decimals == 1 else 0.5) * 10.0**-tag.decimals, None, -1e9
        for i, value in enumerate(column.tolist()):
            if value == value and (last is None or abs(value - last) > band or seconds[i] - at >= STORED_AGAIN_S):
                last, at = value, seconds[i]
                lines.append((i, j))
    lines.sort()
    file.writelines(f"{stamps[i]}{mark}{tags[j].tag}{mark}{texts[j][i]}\n" for i, j in lines)


def _text(column: NDArray[np.float64], decimals: int, comma: bool) -> list[str]:
    found = ["" if value != value else f"{value:.{decimals}f}" for value in column.tolist()]
    return [text.replace(".", ",") for text in found] if comma else found


def _stamps(machine: Machine, seconds: NDArray[np.float64], start: dt.datetime) -> list[str]:
    form = machine.dialect.time_format
    if not form:
        return [f"{start.timestamp() + s:.0f}" for s in seconds.tolist()]
    zone = dt.UTC if form.endswith("Z") else ZoneInfo(time_zone(machine))
    return [(start + dt.timedelta(seconds=s)).astimezone(zone).strftime(form) for s in seconds.tolist()]


def _parquet(
    tags: Sequence[Channel], columns: list[NDArray[np.float64]], seconds: NDArray[np.float64], start: dt.datetime,
    folder: Path,
) -> Path:  # fmt: skip
    import pyarrow as pa
    import pyarrow.parquet as pq

    stamps = int(start.timestamp()) * 1_000_000_000 + (seconds * 1e9).astype(np.int64)
    times = pa.array(stamps, pa.int64()).cast(pa.timestamp("ns", tz="UTC"))
    data = {tag.tag: pa.array(column, from_pandas=True) for tag, column in zip(tags, columns, strict=True)}
    path = folder / "log.parquet"
    pq.write_table(pa.table({"time": times, **data}), path)
    return path
