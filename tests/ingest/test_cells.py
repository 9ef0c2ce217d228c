"""Readings into cells: what a cell takes, what is held and how long, ranges, units, notes."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.block import Block, Note
from ingest.mapping import ChannelSource
from tests.ingest.plain_log import mapping, nanoseconds, read, steady, write_csv

TEN = nanoseconds(datetime(2026, 3, 6, 10, tzinfo=UTC))


def log(
    tmp_path: Path, rows: list[str], *channels: ChannelSource, **changes: object
) -> tuple[list[Block], ReadingAccount]:
    """Reads rows of 'seconds,A,B' after ten o'clock."""
    path = tmp_path / "log.csv"
    lines = []
    for row in rows:
        seconds, rest = row.split(",", 1)
        lines.append(f"{(TEN + round(float(seconds) * 1e9)) // 10**6},{rest}")
    path.write_text("\n".join(["Time,A,B", *lines]) + "\n")
    sources = channels or (
        ChannelSource("A", "torque", "%", "mean", 5),
        ChannelSource("B", "screw_speed", "rpm", "last", 5),
    )
    return read(path, mapping(channels=sources, **changes))


def channel(cell: str, hold_s: float = 5, **changes: object) -> ChannelSource:
    """Column A as torque."""
    return ChannelSource("A", "torque", "%", cell, hold_s, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(("cell", "wanted"), [("last", 2.5), ("mean", 4.0), ("max", 8.5)])
def test_several_readings_in_a_cell(tmp_path: Path, cell: str, wanted: float) -> None:
    (block,), _ = log(tmp_path, ["0.1,1,", "0.4,8.5,", "0.9,2.5,", "1.0,7,"], channel(cell))
    assert block.values[0].tolist() == [wanted, 7]
    assert block.status[0].tolist() == [4, 4]


def test_late_readings_count_in_their_order_of_time(tmp_path: Path) -> None:
    (block,), _ = log(tmp_path, ["0.9,1,", "0.2,2,"], channel("last"))
    assert block.values[0].tolist() == [1]


def test_of_one_stamp_the_later_row_is_the_last(tmp_path: Path) -> None:
    (block,), account = log(tmp_path, ["0,1,", "0,2,", "0,,"], channel("last"))
    assert block.values[0].tolist() == [2]
    assert account.duplicates == 2


@pytest.mark.parametrize(("hold_s", "cells"), [(0.5, 0), (1, 1), (3, 3), (3.9, 3), (100, 9)])
def test_hold(tmp_path: Path, hold_s: float, cells: int) -> None:
    (block,), _ = log(tmp_path, ["0.7,5,1", "10,6,1"], channel("mean", hold_s))
    assert block.status[0].tolist() == [4] + [0] * cells + [3] * (9 - cells) + [4]
    np.testing.assert_array_equal(block.values[0], [5.0] * (1 + cells) + [np.nan] * (9 - cells) + [6])


def test_hold_reaches_from_block_to_block_and_over_a_gap(tmp_path: Path) -> None:
    rows = ["3595,5,1", "3603,,2", "30000,,3"]
    blocks, _ = log(tmp_path, rows, channel("mean", 27_000), ChannelSource("B", "screw_speed", "rpm", "last", 10))
    assert [block.n for block in blocks] == [5, 4, 1]
    assert np.concatenate([block.status[0] for block in blocks]).tolist() == [4] + [0] * 9
    assert np.concatenate([block.status[1] for block in blocks]).tolist() == [4] + [0] * 7 + [4, 4]


def test_what_the_sensor_cannot_show_is_bad(tmp_path: Path) -> None:
    rows = ["0,0,", "1,-0.1,", "2,300,", "3,300.1,", "4,150,", "4.5,900,"]
    (block,), account = log(tmp_path, rows, channel("mean", low=0, high=300))
    assert block.status[0].tolist() == [4, 6, 4, 6, 4]
    assert block.values[0].tolist() == [0, -0.1, 300, 300.1, 150]
    assert account.rows_accepted == 6


def test_ranges_are_in_the_unit_of_the_sensor(tmp_path: Path) -> None:
    # 5000 psi = 344.738 bar (NIST SP 811), 428 F = 220 C.
    sources = (
        ChannelSource("A", "melt_pressure:die", "psi", "max", 5, high=5004),
        ChannelSource("B", "zone_temperature:Z1", "F", "mean", 5, high=446),
    )
    (block,), account = log(tmp_path, ["0,5000,428", "1,5010,450"], *sources)
    np.testing.assert_allclose(block.values[:, 0], [344.7378646584, 220], rtol=1e-12)
    assert block.status.tolist() == [[4, 6], [4, 6]]
    assert account.conversions == {"A": "psi to bar", "B": "F to C"}


def test_relative_readings_are_left_alone(tmp_path: Path) -> None:
    source = ChannelSource("A", "melt_pressure:die", "relative", "max", 5)
    (block,), account = log(tmp_path, ["0,5000,"], source)
    assert block.values.tolist() == [[5000]]
    assert account.conversions == {"A": "unit not known, left as it is"}


def test_zeros_and_numbers_that_mean_no_reading(tmp_path: Path) -> None:
    sources = (ChannelSource("A", "torque", "%", "last", 0), ChannelSource("B", "vacuum:V1", "mbar", "last", 0))
    rows = ["0,0,0", "1,-9999,1", "2,-9999.0,0.0", "3,7,-0", "4,void,8"]
    (block,), account = log(tmp_path, rows, *sources, zero_is_missing=("B",), missing_values=("-9999", "void"))
    np.testing.assert_array_equal(block.values, [[0, np.nan, np.nan, 7, np.nan], [np.nan, 1, np.nan, np.nan, 8]])
    assert account.values_missing == {"A": 3, "B": 3}
    assert account.values_unreadable == {}


def test_texts_between_numbers(tmp_path: Path) -> None:
    (block,), account = log(tmp_path, ["0,1,1", "1,OFF,2", "2,OFF,", "3,OFF,OFF", "4,2,3"])
    assert block.status.tolist() == [[4, 0, 0, 0, 4], [4, 4, 0, 0, 4]]
    found = account.values_unreadable
    assert {tag: (one.count, one.row, one.text) for tag, one in found.items()} == {
        "A": (3, 3, "OFF"),
        "B": (1, 5, "OFF"),
    }
    # Rows 4 and 5 say nothing that can be read, and do say something.
    assert account.set_aside_by_reason == {"no value can be read": 2}
    assert [one.row for one in account.set_aside] == [4, 5]


def test_a_row_without_any_value_is_accepted(tmp_path: Path) -> None:
    (block,), account = log(tmp_path, ["0,1,1", "1,,", "2,NaN,---"])
    assert (account.rows_accepted, account.rows_set_aside) == (3, 0)
    assert block.n == 3


def test_one_column_as_two_channels(tmp_path: Path) -> None:
    sources = (channel("max"), ChannelSource("A", "feeder_drive:F1", "%", "mean", 5))
    (block,), _ = log(tmp_path, ["0,1,", "0.5,3,"], *sources)
    assert block.values.tolist() == [[3], [2]]
    assert block.channels == ("torque", "feeder_drive:F1")


def test_switches(tmp_path: Path) -> None:
    source = ChannelSource("A", "feeder_refill:F1", "1", "last", 5)
    (block,), account = log(tmp_path, ["0,true,", "1,OFF,", "2,1,"], source)
    assert block.values.tolist() == [[1, 0, 1]]
    assert account.values_unreadable == {}


def test_silent_tags_are_named(tmp_path: Path) -> None:
    _, account = log(tmp_path, ["0,1,", "1,2,x"])
    assert account.silent_tags == ["B"]


def test_lots_and_recipes_become_notes_when_they_change(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    lots = ["7", "7", "", "7", "8", "8", "9", "7", "7.0"]
    recipes = ["PP 20", "", "", "n/a", "PP 20", "PP 30", "PP 30", "", ""]
    rows = [
        f"{TEN // 10**6 + 600_000 * i},{i},{lot},{recipe}"
        for i, (lot, recipe) in enumerate(zip(lots, recipes, strict=True))
    ]
    path.write_text("\n".join(["Time,A,Lot,Recipe", *rows]) + "\n")
    blocks, _ = read(path, mapping(channels=(channel("last"),), lot_column="Lot", recipe_column="Recipe"))
    minute = 60 * 10**9
    assert [block.notes for block in blocks] == [
        (
            Note(TEN, "lot", "7"),
            Note(TEN, "recipe", "PP 20"),
            Note(TEN + 40 * minute, "lot", "8"),
            Note(TEN + 50 * minute, "recipe", "PP 30"),
        ),
        (Note(TEN + 60 * minute, "lot", "9"), Note(TEN + 70 * minute, "lot", "7")),
    ]
    assert all(block.t0 <= note.at_ns < block.end for block in blocks for note in block.notes)


def test_a_hold_shorter_than_the_step_of_the_log_is_said(tmp_path: Path) -> None:
    _, account = log(tmp_path, [f"{60 * i},1,2" for i in range(9)])
    assert any("rows come every 60 s" in s and "'A', 'B'" in s for s in account.assumptions)


def test_units_below_the_names_that_differ_are_said(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(f"Time,A,B\nms,psi,[rpm]\n{TEN // 10**6},1,2\n{TEN // 10**6 + 1000},1,2\n")
    sources = (
        ChannelSource("A", "melt_pressure:die", "bar", "max", 5),
        ChannelSource("B", "screw_speed", "rpm", "last", 5),
    )
    (block,), account = read(path, mapping(channels=sources))
    assert block.values[0].tolist() == [1, 1]
    assert [s for s in account.assumptions if "for 'A' the log gives 'psi', the line file says 'bar'" in s]
    assert not [s for s in account.assumptions if "below 'B'" in s]
    assert account.rows_read == 2


def test_progress_runs_to_the_end(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "log.csv", steady(500))
    seen: list[tuple[int, int]] = []
    read(path, progress=lambda done, total: seen.append((done, total)), block_bytes=2000)
    size = path.stat().st_size
    assert {total for _, total in seen} == {size}
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    assert seen[-1][0] == size and len(seen) > 5
