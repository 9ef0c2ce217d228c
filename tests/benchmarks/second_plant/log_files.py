"""Writes a log as its plant would: one line as CSV with decimal comma in local time, the others as Parquet in UTC."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

EPOCH = dt.datetime(2026, 2, 10, 6, tzinfo=dt.UTC)
EPOCH_NS = int(EPOCH.timestamp()) * 1_000_000_000


def write_log(line: str, columns: dict[str, NDArray[np.float64]], cadence_s: int, folder: Path) -> Path:
    """The log's path in `folder`."""
    rows = len(next(iter(columns.values())))
    if line == "sued":
        path = folder / "log.csv"
        local = EPOCH + dt.timedelta(hours=1)
        with path.open("w", encoding="utf-8") as file:
            file.write(";".join(["Zeit", *columns]) + "\n")
            for i, values in enumerate(zip(*(column.tolist() for column in columns.values()), strict=True)):
                stamp = (local + dt.timedelta(seconds=i * cadence_s)).strftime("%d.%m.%Y %H:%M:%S")
                file.write(f"{stamp};" + ";".join(f"{value:.6g}".replace(".", ",") for value in values) + "\n")
        return path
    import pyarrow as pa
    import pyarrow.parquet as pq

    stamps = EPOCH_NS + np.arange(rows, dtype=np.int64) * cadence_s * 1_000_000_000
    times = pa.array(stamps, pa.int64()).cast(pa.timestamp("ns", tz="UTC"))
    path = folder / "log.parquet"
    pq.write_table(pa.table({"time": times, **columns}), path)
    return path
