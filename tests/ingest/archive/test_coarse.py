"""Coarser levels against numpy over the cells of each bucket."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.archive.coarse import coarse_levels
from ingest.archive.layout import widths_for
from ingest.archive.read import ArchivedLine
from ingest.block import BAD, Block
from tests.ingest.archive.archive_cases import DAY, LINE, SECOND, keep

CHANNELS = ("torque", "melt_pressure:P1")


def stretch(t0: int, n: int, step: int = SECOND, seed: int = 0) -> Block:
    """Cells with holes, all qualities and a spike."""
    chance = np.random.default_rng([seed, n])
    values = np.round(chance.normal(100, 20, (2, n)), 2)
    status = chance.choice([0, 1, 2, 4, 5, 6], (2, n)).astype(np.uint8)
    empty = chance.random((2, n)) < 0.2
    values[empty], status[empty] = np.nan, 3
    values[0, n // 2], status[0, n // 2] = 9_999.0, 4
    return Block(t0, step, CHANNELS, values, status)


def expected(blocks: list[Block], row: int, width_s: int) -> dict[int, tuple[float, float, float, int]]:
    """By start of the bucket: least, greatest, mean and count, with plain numpy."""
    inside: dict[int, list[float]] = {}
    for block in blocks:
        for t, value, status in zip(block.times(), block.values[row], block.status[row], strict=True):
            if np.isfinite(value) and status & 3 != BAD:
                inside.setdefault(int(t) // (width_s * SECOND) * width_s * SECOND, []).append(float(value))
    return {t: (min(some), max(some), float(np.mean(some)), len(some)) for t, some in inside.items()}


def compare(level, blocks: list[Block], width_s: int) -> None:
    assert (np.diff(level.t) > 0).all()
    for row in range(2):
        want = expected(blocks, row, width_s)
        there = level.count[row] > 0
        assert sorted(want) == level.t[there].tolist()
        for place in np.flatnonzero(there):
            low, high, mean, count = want[int(level.t[place])]
            got = (level.minimum[row, place], level.maximum[row, place], level.count[row, place])
            assert got == (low, high, count)
            assert level.mean[row, place] == pytest.approx(mean, rel=1e-12)
        assert np.isnan(level.mean[row, ~there]).all()


@pytest.mark.parametrize("step", [100_000_000, SECOND, 4 * SECOND, 7 * SECOND, 16 * SECOND, 60 * SECOND])
def test_levels_of_an_archive(tmp_path: Path, step: int) -> None:
    """Stretches that begin and end anywhere, over midnight, with a hole inside a bucket."""
    start = DAY - 20_000 * SECOND
    blocks, t0 = [], start // step * step
    for n, gap in ((1500, 3), (700, 400), (2200, 0), (900, 0)):
        blocks.append(stretch(t0, n, step))
        t0 += (n + gap) * step
    keep(tmp_path, blocks)
    line = ArchivedLine(str(tmp_path), LINE)
    for width in widths_for(step):
        compare(line.coarse(blocks[0].t0, blocks[-1].end, width), blocks, width)
    assert set(widths_for(step)) == {width for width in (10, 60, 600) if width * SECOND >= 2 * step}


def test_a_window_of_a_level(tmp_path: Path) -> None:
    block = stretch(0, 7200)
    keep(tmp_path, [block])
    line = ArchivedLine(str(tmp_path), LINE)
    some = line.coarse(1805 * SECOND, 2400 * SECOND, 60, ["melt_pressure:P1", "vacuum:V1"])
    assert some.t.tolist() == [second * SECOND for second in range(1800, 2400, 60)]
    whole = line.coarse(0, 7200 * SECOND, 60)
    assert some.minimum[0].tolist() == whole.minimum[1, 30:40].tolist()
    assert (some.count[1] == 0).all() and np.isnan(some.mean[1]).all()
    with pytest.raises(ValueError, match="no level of 20 s"):
        line.coarse(0, DAY, 20)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 3599), min_size=1, max_size=6, unique=True), st.integers(0, 5))
def test_a_level_does_not_depend_on_cuts(cuts: list[int], seed: int) -> None:
    whole = stretch(0, 3600, seed=seed)
    edges = [0, *sorted(cuts), 3600]
    pieces = [whole.cut(low, high) for low, high in pairwise(edges)]
    for one, other in zip(coarse_levels([whole]), coarse_levels(pieces), strict=True):
        for name in ("t", "minimum", "maximum", "mean", "count"):
            assert getattr(one, name).tobytes() == getattr(other, name).tobytes()
