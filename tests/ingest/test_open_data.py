"""Two records of real machines. The data are not part of the project: EVENMELT_OPEN_DATA names their folder.

`machine_temperature`: Numenta Anomaly Benchmark, MIT licence (Lavin and Ahmad 2015, arXiv 1510.03336).
`multistage_line`: open data of a multi-stage continuous-flow manufacturing process, 2019.
What is asserted was counted with pandas, not with this reader.
"""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ingest.mapping import ChannelSource, LogMapping
from tests.ingest.plain_log import all_cells, moment, read, same_blocks

FOLDER = Path(os.environ.get("EVENMELT_OPEN_DATA", ""))
pytestmark = pytest.mark.skipif(
    not os.environ.get("EVENMELT_OPEN_DATA") or not FOLDER.is_dir(),
    reason="set EVENMELT_OPEN_DATA to the folder of the open data sets",
)


def temperature(cadence_s: float, hold_s: float) -> LogMapping:
    """The one column of a temperature record; its unit is not known."""
    source = ChannelSource("value", "zone_temperature:Z1", "relative", "mean", hold_s)
    return LogMapping("machine", cadence_s, "UTC", (source,))


def test_the_clock_of_the_machine_steps_back_once() -> None:
    path = FOLDER / "machine_temperature" / "machine_temperature_system_failure.csv"
    raw = pd.read_csv(path, parse_dates=["timestamp"])
    backwards = np.flatnonzero(raw["timestamp"].diff() < pd.Timedelta(0))
    assert len(backwards) == 1 and raw["timestamp"].duplicated().sum() == 12
    blocks, account = read(path, temperature(60, 300))
    assert account.rows_read == len(raw) == 22_695
    (step,) = account.clock_steps
    assert step.row == backwards[0] + 2  # counted from 1, below the header
    assert step.back_s == 55 * 60
    assert (str(moment(step.from_ns)), str(moment(step.to_ns))) == (
        "2014-01-07 02:55:00+00:00",
        "2014-01-07 02:00:00+00:00",
    )
    # Eleven stamps stand behind the newest; the twelfth equals it and is taken as a second row of its stamp.
    assert account.set_aside_by_reason == {"clock runs backwards": 11}
    assert account.duplicates == 12
    values = all_cells(blocks)[0]
    assert np.isfinite(values).all()  # five minutes are held for five minutes
    assert values[0] == raw["value"][0] and values[-1] == raw["value"].iloc[-1]


def test_the_gaps_of_the_ambient_record() -> None:
    path = FOLDER / "machine_temperature" / "ambient_temperature_system_failure.csv"
    raw = pd.read_csv(path, parse_dates=["timestamp"])
    hours = raw["timestamp"].diff().dt.total_seconds() / 3600
    blocks, account = read(path, temperature(60, 3600), block_s=86_400)
    assert (account.rows_read, account.rows_accepted) == (7267, 7267)
    assert [(g.to_ns - g.from_ns) / 3.6e12 for g in account.gaps] == hours[hours > 2.5].tolist()
    assert [g.row for g in account.gaps] == (hours[hours > 2.5].index + 2).tolist()
    assert max((g.to_ns - g.from_ns) / 3.6e12 for g in account.gaps) == 174
    assert sum(after.t0 > before.end for before, after in pairwise(blocks)) == (hours > 6).sum()


def test_every_row_of_the_multi_stage_line() -> None:
    folder = FOLDER / "multistage_line"
    raw = pd.read_csv(folder / "line.csv.gz")
    tags = list(raw.columns[1:])
    assert len(raw) == 14_088 and len(tags) == 115
    outputs = tuple(tag for tag in tags if ".Output.Measurement" in tag)
    channels = tuple(ChannelSource(tag, f"zone_temperature:{tag}", "relative", "mean", 60) for tag in tags)
    line = LogMapping("line", 1, "UTC", channels, zero_is_missing=outputs)
    csv, account = read(folder / "line.csv.gz", line)
    parquet, other = read(folder / "line.parquet", line)
    for one in (account, other):
        assert (one.rows_read, one.rows_accepted, one.rows_set_aside, one.gap_count) == (14_088, 14_088, 0, 0)
        assert one.values_missing == {tag: n for tag in outputs if (n := int((raw[tag] == 0).sum()))}
    assert same_blocks(csv, parquet)
    plain = [i for i, tag in enumerate(tags) if tag not in outputs]
    np.testing.assert_array_equal(all_cells(csv)[plain], raw[[tags[i] for i in plain]].to_numpy().T)
