"""What a thinned series must keep."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboards.decimate import break_at_jumps, bucket_width, decimate

SECOND = 1_000_000_000


@st.composite
def series(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, int]:
    """A rising time base with jumps, values with gaps and infinities, and how many points may be drawn."""
    m = draw(st.integers(1, 4000))
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    steps = np.where(rng.random(m) < draw(st.sampled_from([0.0, 0.01])), 60, 1)
    t = (1_700_000_000 + np.cumsum(steps)).astype(np.int64) * SECOND
    y = rng.normal(0, 1, m).round(draw(st.integers(0, 6)))
    for _ in range(draw(st.integers(0, 5))):
        a = int(rng.integers(0, m))
        y[a : a + int(rng.integers(1, 200))] = rng.choice([np.nan, np.inf])
    return t, y, draw(st.integers(16, 500))


@given(series(), st.data())
@settings(max_examples=150, deadline=None)
def test_keeps_extremes_order_flags_and_gaps(case: tuple[np.ndarray, np.ndarray, int], data: st.DataObject) -> None:
    t, y, n = case
    flagged = np.array(data.draw(st.lists(st.sampled_from(t.tolist()), max_size=5)), dtype=np.int64)
    t_out, y_out = decimate(t, y, n, gap_ns=3 * SECOND, flagged=flagged)
    finite = np.isfinite(y)
    assert len(t_out) <= n + 2 * len(np.unique(flagged))
    assert np.all(np.diff(t_out) > 0)
    assert not np.isinf(y_out).any()
    if finite.any():
        assert np.nanmin(y_out) == y[finite].min()
        assert np.nanmax(y_out) == y[finite].max()
        assert t[finite][0] in t_out and t[finite][-1] in t_out
    drawn = dict(zip(t_out.tolist(), y_out.tolist(), strict=True))
    for at in flagged.tolist():
        assert at in drawn
    for at, value in drawn.items():
        if np.isfinite(value):
            assert value == y[np.searchsorted(t, at)]


@given(series())
@settings(max_examples=100, deadline=None)
def test_no_line_crosses_a_gap(case: tuple[np.ndarray, np.ndarray, int]) -> None:
    t, y, n = case
    t_out, y_out = decimate(t, y, n, gap_ns=3 * SECOND)
    kept = np.flatnonzero(np.isfinite(y_out))
    for a, b in itertools.pairwise(kept):
        if b - a == 1:
            inside = (t >= t_out[a]) & (t <= t_out[b])
            assert np.isfinite(y[inside]).all()
            assert np.diff(t[inside]).max(initial=0) <= 3 * SECOND


def test_panning_by_a_bucket_does_not_shimmer() -> None:
    rng = np.random.default_rng(1)
    t = (1_700_000_000 + np.arange(40_000, dtype=np.int64)) * SECOND
    y = rng.normal(size=t.size)
    first = decimate(t[:20_000], y[:20_000], 400, gap_ns=3 * SECOND)[0]
    later = decimate(t[5_000:25_000], y[5_000:25_000], 400, gap_ns=3 * SECOND)[0]
    both = (t[5_400], t[19_600])
    assert set(first[(first > both[0]) & (first < both[1])]) == set(later[(later > both[0]) & (later < both[1])])


def test_all_gap_is_drawn_as_gap() -> None:
    t = np.arange(1000, dtype=np.int64) * SECOND
    _, y = decimate(t, np.full(1000, np.nan), 50, gap_ns=3 * SECOND)
    assert len(y) and np.isnan(y).all()


def test_refuses_too_few_points() -> None:
    with pytest.raises(ValueError, match="16 or more"):
        decimate(np.arange(10), np.arange(10.0), 4, gap_ns=1)


def test_bucket_width_is_round_and_wide_enough() -> None:
    assert bucket_width(3600 * SECOND, 360) == 10 * SECOND
    assert bucket_width(3600 * SECOND, 350) == 12 * SECOND
    assert bucket_width(400 * 86400 * SECOND, 10) % (86400 * SECOND) == 0


def test_jump_becomes_a_gap_between_its_neighbours() -> None:
    t = np.array([0, 1, 100, 101], dtype=np.int64) * SECOND
    t_out, y_out = break_at_jumps(t, np.ones(4), 3 * SECOND)
    assert np.isnan(y_out[2]) and t[1] < t_out[2] < t[2]
