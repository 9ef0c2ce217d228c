"""A real extruder line through the archive. The data are no part of the project: EVENMELT_OPEN_DATA names their folder.

`multistage_line`: open data of a multi-stage continuous-flow manufacturing process, 2019.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ingest.account import ReadingAccount
from ingest.archive.read import ArchivedLine, archive_blocks
from ingest.mapping import ChannelSource, LogMapping
from ingest.read_log import read_blocks
from tests.ingest.archive.archive_cases import bring
from tests.ingest.plain_log import all_cells, same_blocks

FOLDER = Path(os.environ.get("EVENMELT_OPEN_DATA", ""))
pytestmark = pytest.mark.skipif(
    not os.environ.get("EVENMELT_OPEN_DATA") or not FOLDER.is_dir(),
    reason="set EVENMELT_OPEN_DATA to the folder of the open data sets",
)


def test_every_row_of_the_multi_stage_line(tmp_path: Path) -> None:
    folder = FOLDER / "multistage_line"
    raw = pd.read_csv(folder / "line.csv.gz")
    tags = list(raw.columns[1:])
    outputs = tuple(tag for tag in tags if ".Output.Measurement" in tag)
    channels = tuple(ChannelSource(tag, f"zone_temperature:{tag}", "relative", "mean", 60) for tag in tags)
    line = LogMapping("line", 1, "UTC", channels, zero_is_missing=outputs)
    report = bring(tmp_path / "a", folder / "line.csv.gz", mapping=line)
    back = list(archive_blocks(str(tmp_path / "a"), "line"))
    assert same_blocks(back, list(read_blocks([folder / "line.csv.gz"], line, ReadingAccount())))
    plain = [i for i, tag in enumerate(tags) if tag not in outputs]
    np.testing.assert_array_equal(all_cells(back)[plain], raw[[tags[i] for i in plain]].to_numpy().T)
    level = ArchivedLine(str(tmp_path / "a"), "line").coarse(back[0].t0, back[-1].end, 600)
    assert level.count[plain[0]].sum() == len(raw) == 14_088
    assert level.maximum[plain].max(axis=1).tolist() == raw[[tags[i] for i in plain]].max().tolist()
    # The same readings from the Parquet file of the same log: another file, nothing new.
    again = bring(tmp_path / "a", folder / "line.parquet", mapping=line)
    assert (again.brought.new, again.brought.contradicting) == (0, 0)
    assert again.brought.same == report.brought.new
