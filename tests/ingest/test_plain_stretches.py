"""Stretches of a log where nothing is wrong are read by quicker ways: these must give what the careful ones give."""

from __future__ import annotations

import dataclasses
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from ingest.account import ReadingAccount
from ingest.archive.read import ArchivedLine
from ingest.block import BAD, FRESH, GOOD, NONE, Block
from ingest.cell_edges import cell_edges, true_by_row
from ingest.change_moments import may_hold_moments, moments
from ingest.channel_values import ChannelValues, channel_values
from ingest.grid import Grid
from ingest.mapping import ChannelSource, LogMapping
from ingest.ordering import Ordering
from ingest.readings import Places, WideReadings, join
from tests.ingest.archive.archive_cases import HOUR, LINE, SECOND, cells, keep

SOURCE = ChannelSource("T1", "zone_temperature:Z1", "F", "mean", 60, low=32.0, high=572.0)


def channel(**changes: object) -> ChannelValues:
    source = dataclasses.replace(SOURCE, **changes)  # type: ignore[arg-type]
    mapping = LogMapping(LINE, 1.0, "UTC", (source,), missing_values=("-17",))
    return channel_values(mapping, ["log"], ReadingAccount())[0]


def carefully(one: ChannelValues, column: pa.ChunkedArray) -> tuple[np.ndarray, bool]:
    """Values one by one, and whether all of them are good readings."""
    numbers, unreadable = one.numbers(column, ".")
    numbers, taken = one.without_sentinels(numbers)
    values = one.in_unit(numbers)
    wrong = unreadable is not None or bool(taken) or one.out_of_range(values) is not None
    return values, not (wrong or np.isnan(numbers).any())


@pytest.mark.parametrize("odd", [None, np.nan, np.inf, -np.inf, -17.0, 32767.0, 31.999, 32.0, 572.0, 572.001, 9e8, 0.0])
def test_a_column_is_plain_where_every_row_is_a_good_reading(odd: float | None) -> None:
    chance, one = np.random.default_rng(5), channel()
    for place in (0, 41, 99):
        numbers = np.round(chance.uniform(32, 572, 100), 1)
        if odd is not None:
            numbers[place] = odd
        column = pa.chunked_array([numbers[:40], numbers[40:]])
        values, good = carefully(one, column)
        out = np.empty(100)
        assert one.all_plain(column, out) == good == (odd in (None, 32.0, 572.0))
        assert not good or out.tobytes() == values.tobytes()


def test_what_is_no_whole_column_of_numbers_is_not_plain() -> None:
    one, out = channel(), np.empty(3)
    for column in (pa.array([50.0, None, 60.0]), pa.array(["50", "51", "52"]), pa.array([50, 51, 52])):
        assert not one.all_plain(pa.chunked_array([column]), out)


def test_true_cells_are_counted_by_row() -> None:
    chance = np.random.default_rng(6)
    for width in (1, 7, 8, 9, 100, 3600):
        which = chance.random((5, width)) < 0.4
        assert true_by_row(which).tolist() == which.sum(axis=1).tolist()


@pytest.mark.parametrize("sharp", [True, False])
def test_no_channel_with_a_change_is_passed_over(sharp: bool) -> None:
    chance, with_change = np.random.default_rng(7), 0
    for _ in range(60):
        values = 200 + np.cumsum(chance.normal(0, chance.choice([0, 0.01, 1]), (6, 900)), axis=1)
        for row in values[:4]:
            row[int(chance.integers(40, 880)) :] += chance.choice([0.5, 4.0, 9.0, -60.0])
        values[4, 100:200] = np.nan
        values = np.round(values, 1)
        may = may_hold_moments(values, np.full(6, sharp), cell_edges(values))
        found = [len(moments(row, sharp)) > 0 for row in values]
        assert not (np.array(found) & ~may).any()
        with_change += sum(found)
    assert with_change > 60


def rows_at(at_ns: np.ndarray, complete: bool = True) -> WideReadings:
    count = len(at_ns)
    places = Places(at_ns, np.arange(count), np.zeros(count, np.int32), np.zeros((0, count), np.int32))
    return WideReadings(places, np.stack([at_ns / 7.0, at_ns / 3.0]), None, complete)


@pytest.mark.parametrize("step_s", [1, 7])
def test_what_leaves_in_parts_is_whole_cells_and_all_of_it(step_s: int) -> None:
    chance, step = np.random.default_rng(8), step_s * SECOND
    at_ns = np.sort(chance.integers(0, 3000 * SECOND, 4000))
    at_ns[500:510] = at_ns[500:510][::-1]  # a little out of order
    ordering, out, last = Ordering(step), [], -1
    cuts = [0, *sorted(chance.integers(0, 4000, 25).tolist()), 4000]
    for low, high in pairwise(cuts):
        if low == high:
            continue
        for part in ordering.push(rows_at(at_ns[low:high]), int(at_ns[:high].max())):
            assert part.places.at_ns[0] // step > last and len(part)
            last = int(part.places.at_ns[-1]) // step
            out.append(part)
    rest = ordering.close()
    whole = join([*out, rest]) if rest is not None else join(out)
    assert whole.places.at_ns.tolist() == np.sort(at_ns).tolist()
    assert np.array_equal(whole.values[0], np.sort(at_ns) / 7.0)


def test_a_grid_of_complete_rows_is_that_of_any_rows() -> None:
    sources = [dataclasses.replace(SOURCE, key=f"zone_temperature:Z{i}", hold_s=3.0) for i in (1, 2)]
    at_ns = np.concatenate([np.arange(0, 50), np.arange(52, 70), np.arange(90, 200)]) * SECOND
    found = []
    for complete in (True, False):
        grid, blocks = Grid(sources, SECOND, 60 * SECOND), []
        for part in np.array_split(at_ns, 9):
            blocks += grid.add(rows_at(part, complete))
        found.append(cells([*blocks, *grid.close()]))
    assert found[0] == found[1]
    status = [found[0]["zone_temperature:Z1", at * SECOND][1] for at in (49, 50, 51, 52, 72, 73, 89, 90)]
    held = [FRESH, GOOD, GOOD, FRESH, GOOD, NONE, NONE, FRESH]
    assert status == held


def test_a_status_that_is_first_told_late_in_the_day_is_kept(tmp_path: Path) -> None:
    blocks = []
    for hour in range(0, 24, 6):
        status = np.full((2, 3600), FRESH, np.uint8)
        if hour == 12:
            status[1, 7::5] = BAD | FRESH
        blocks.append(Block(hour * HOUR, SECOND, ("screw_speed", "torque"), np.ones((2, 3600)), status))
    keep(tmp_path, blocks)
    assert cells(ArchivedLine(str(tmp_path), LINE).blocks()) == cells(blocks)
