"""The long layout, one row a reading, and logs that hold several lines."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
from hypothesis import given, settings

from tests.ingest.plain_log import (
    CHANNELS,
    Row,
    cells_of,
    expected_cells,
    mapping,
    moment,
    read,
    same_blocks,
    steady,
)
from tests.ingest.test_round_trip import logs

LONG = mapping(layout="long", tag_column="Tag", value_column="Value")


def long_text(rows: Sequence[Row]) -> str:
    """One row a reading, stamp by stamp."""
    lines = ["Time;Tag;Value"]
    for ns, values in rows:
        lines += [
            f"{moment(ns):%Y-%m-%d %H:%M:%S.%f};{tag};{'' if value is None else value}" for tag, value in values.items()
        ]
    return "\n".join(lines) + "\n"


@settings(max_examples=60, deadline=None)
@given(rows=logs())
def test_wide_and_long_give_the_same_cells(rows: list[Row]) -> None:
    newest, kept = rows[0][0], []
    for row in rows:
        newest = max(newest, row[0])
        if row[0] >= newest - 10 * 10**9:
            kept.append(row)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_text(long_text(rows))
        blocks, account = read(path, LONG)
    assert account.rows_read == 3 * len(rows)
    assert cells_of(blocks) == expected_cells(kept, LONG)


def test_tags_that_are_not_mapped_are_counted(tmp_path: Path) -> None:
    rows = [(ns, {**values, "other": 1.0, "more": 2.0}) for ns, values in steady(20)]
    path = tmp_path / "log.csv"
    path.write_text(long_text(rows))
    blocks, account = read(path, LONG)
    assert account.set_aside_by_reason == {"tag is not in the line file": 40}
    assert account.set_aside == []
    assert cells_of(blocks) == expected_cells(rows, LONG)


def test_duplicates_are_of_one_tag(tmp_path: Path) -> None:
    rows = [*steady(20), *steady(20)[-1:]]
    path = tmp_path / "log.csv"
    path.write_text(long_text(rows))
    _, account = read(path, LONG)
    assert account.duplicates == 3


def test_long_parquet_with_typed_columns(tmp_path: Path) -> None:
    rows = steady(40)
    flat = [(ns, tag, float(value)) for ns, values in rows for tag, value in values.items()]  # type: ignore[arg-type]
    stamps, tags, values = zip(*flat, strict=True)
    table = pa.table(
        {
            "Time": pa.array(stamps, pa.timestamp("ns", "UTC")),
            "Tag": pa.array(tags).dictionary_encode(),
            "Value": pa.array(values),
        }
    )
    parquet, csv = tmp_path / "log.parquet", tmp_path / "log.csv"
    pq.write_table(table, parquet, row_group_size=17)
    csv.write_text(long_text(rows))
    assert same_blocks(read(parquet, LONG)[0], read(csv, LONG)[0])


def test_several_lines_in_one_log(tmp_path: Path) -> None:
    chance = random.Random(3)
    rows = steady(60)
    lines = ["Time,Extruder,T1,P die,SP1"]
    for ns, values in rows:
        here = [("E1", 1.0), ("E2", 2.0)]
        chance.shuffle(here)
        for name, factor in here:
            cells = ",".join(str(value * factor) for value in values.values())  # type: ignore[operator]
            # The clock of the other extruder runs ahead and is none of our business.
            lines.append(f"{moment(ns + (0 if name == 'E1' else 60 * 10**9)):%Y-%m-%d %H:%M:%S},{name},{cells}")
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    blocks, account = read(path, mapping(line_column="Extruder", line_value="E1"))
    assert cells_of(blocks) == expected_cells(rows, mapping())
    assert account.set_aside_by_reason == {"belongs to another line": 60}
    doubled = [(ns + 60 * 10**9, {k: v * 2 for k, v in values.items()}) for ns, values in rows]  # type: ignore[operator]
    blocks, _ = read(path, mapping(line_column="Extruder", line_value="E2"))
    assert cells_of(blocks) == expected_cells(doubled, mapping())


def test_one_tag_as_two_channels(tmp_path: Path) -> None:
    channels = (*CHANNELS, replace(CHANNELS[0], key="zone_temperature:Z2", cell="max"))
    path = tmp_path / "log.csv"
    rows = steady(20)
    path.write_text(long_text(rows))
    line = mapping(layout="long", tag_column="Tag", value_column="Value", channels=channels)
    blocks, account = read(path, line)
    assert account.rows_accepted == account.rows_read == 60
    assert cells_of(blocks) == expected_cells(rows, line)
