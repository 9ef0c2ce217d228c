"""A long plant log of 64 channels for the import benchmark, written hour by hour: its length costs no memory."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as arrow_csv

from ingest.arrow_compute import pc
from ingest.mapping import ChannelSource, LogMapping

START_S = 1_772_409_600  # 2026-03-02 00:00 UTC
HOUR = 3600

# (role, how many, usual value, noise): one a zone for heating, one a feeder for feeding.
_PARTS = (
    ("zone_temperature", 14, 215.0, 0.4),
    ("zone_setpoint", 14, 215.0, 0.0),
    ("zone_output", 14, 38.0, 3.0),
    ("feeder_rate", 5, 118.0, 0.6),
    ("feeder_setpoint", 5, 118.0, 0.0),
    ("feeder_drive", 5, 47.0, 0.5),
    ("melt_pressure", 3, 96.0, 0.8),
    ("melt_temperature", 1, 228.0, 0.2),
    ("screw_speed", 1, 402.0, 0.3),
    ("torque", 1, 71.0, 0.9),
    ("motor_current", 1, 310.0, 4.0),
)


def mapping_of_64() -> LogMapping:
    """The mapping of the log: tags are channel keys."""
    keys = [
        f"{role}:{role[0].upper()}{i + 1}" if many > 1 else role for role, many, _, _ in _PARTS for i in range(many)
    ]
    channels = tuple(ChannelSource(key, key, "", "mean", 60.0) for key in keys)
    units = {"zone_temperature": "C", "zone_setpoint": "C", "zone_output": "%", "feeder_rate": "kg/h"}
    units |= {"feeder_setpoint": "kg/h", "feeder_drive": "%", "melt_pressure": "bar", "melt_temperature": "C"}
    units |= {"screw_speed": "rpm", "torque": "%", "motor_current": "A"}
    channels = tuple(ChannelSource(one.tag, one.key, units[one.key.split(":")[0]], "mean", 60.0) for one in channels)
    return LogMapping("L1", 1.0, "UTC", channels, time_columns=("time",))


def write_log(path: Path, days: int, decimals: int, seed: int = 1, alike: bool = False) -> int:
    """A CSV log at one row a second; returns its size in bytes. decimals: of every value that moves.

    alike: every hour has the values of the first, which is written a good deal quicker.
    """
    rng = np.random.default_rng(seed)
    names = [one.tag for one in mapping_of_64().channels]
    options = arrow_csv.WriteOptions(quoting_style="none", include_header=False)
    columns: list[pa.Array] = []
    with path.open("wb") as file:
        file.write((",".join(["time", *names]) + "\n").encode())
        for hour in range(24 * days):
            seconds = START_S + hour * HOUR + np.arange(HOUR)
            stamps = np.char.replace(np.datetime_as_string(seconds.astype("datetime64[s]")), "T", " ")
            if not (alike and columns):
                columns = list(_values(rng, seconds, decimals))
                # Text of whole rows is joined to other stamps much quicker than every value is written again.
                columns = [_joined([pc.cast(column, pa.string()) for column in columns])] if alike else columns
            if alike:
                file.write("".join(f"{row}\n" for row in _joined([pa.array(stamps), *columns]).to_pylist()).encode())
                continue
            table = pa.table([pa.array(stamps), *columns], names=["time", *names])
            arrow_csv.write_csv(table, file, options)
    return path.stat().st_size


def _joined(columns: list[pa.Array]) -> pa.Array:
    return pc.binary_join_element_wise(*columns, ",")


def _values(rng: np.random.Generator, seconds: np.ndarray, decimals: int) -> Iterator[pa.Array]:
    """The columns of one hour."""
    for _, many, usual, noise in _PARTS:
        for _ in range(many):
            wave = np.sin(seconds / rng.uniform(300, 3000)) * noise
            values = usual + wave + rng.normal(0, noise, HOUR) if noise else np.full(HOUR, usual)
            yield pa.array(np.round(values, decimals))
