"""Thins a series to what a screen can show, without losing an extreme, a flagged point or a gap."""

from __future__ import annotations

import numpy as np

from dashboards.clock import DAY, HOUR, MINUTE, SECOND

STILL_POINTS = 2000
LIVE_POINTS = 600

_WIDTHS = (
    *(SECOND * k for k in (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30, 40)),
    *(MINUTE * k for k in (1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30, 40)),
    *(HOUR * k for k in (1, 1.5, 2, 3, 4, 6, 8, 12)),
    *(DAY * k for k in (1, 2, 4, 7, 14, 28)),
)


def bucket_width(span_ns: int, buckets: int) -> int:
    """The narrowest round width, in nanoseconds, that cuts `span_ns` into at most `buckets` buckets."""
    needed = span_ns / max(buckets, 1)
    for width in _WIDTHS:
        if width >= needed:
            return int(width)
    return int(-(-needed // DAY) * DAY)


def coarse_width(span_ns: int, buckets: int) -> int:
    """As `bucket_width`, but a whole multiple of 10 s."""
    width = bucket_width(span_ns, buckets)
    return -(-width // (10 * SECOND)) * 10 * SECOND


def break_at_jumps(t: np.ndarray, y: np.ndarray, gap_ns: int) -> tuple[np.ndarray, np.ndarray]:
    """The series with a NaN put in wherever two neighbours are further apart than `gap_ns`."""
    jumps = np.flatnonzero(np.diff(t) > gap_ns)
    if not len(jumps):
        return t, y
    middles = t[jumps] + (t[jumps + 1] - t[jumps]) // 2
    return np.insert(t, jumps + 1, middles), np.insert(y, jumps + 1, np.nan)


def decimate(
    t: np.ndarray, y: np.ndarray, n: int, *, gap_ns: int, flagged: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """At most `n` points of a series (plus the flagged ones), fit for a line chart.

    t: UTC nanoseconds, rising, shape (m,). y: float, shape (m,); NaN and infinities are gaps.
    gap_ns: neighbours further apart than this are a gap too. flagged: times that must stay.
    Buckets stand on the absolute time grid, so panning does not make the line shimmer. Each keeps its
    lowest and highest reading; the first and last readings stay; a NaN stands in every gap.
    """
    if n < 16:
        raise ValueError(f"a chart of {n} points cannot keep its extremes; ask for 16 or more")
    y = np.where(np.isfinite(y), y, np.nan)
    t, y = break_at_jumps(np.asarray(t, dtype=np.int64), y, gap_ns)
    if len(t) <= n:
        return t, y
    keep_times = np.empty(0, dtype=np.int64) if flagged is None else np.asarray(flagged, dtype=np.int64)
    forced = np.flatnonzero(np.isin(t, keep_times)) if len(keep_times) else np.empty(0, dtype=np.int64)
    buckets = (n - 2) // 2
    while True:
        kept = _with_gaps(np.union1d(_extremes(t, y, buckets), forced), y)
        if len(kept) <= n + 2 * len(forced) or buckets == 1:
            return t[kept], y[kept]
        buckets = max(1, buckets // 2)


def _extremes(t: np.ndarray, y: np.ndarray, buckets: int) -> np.ndarray:
    """Indices of the lowest and highest reading of each bucket, and of the first and last reading."""
    finite = np.flatnonzero(~np.isnan(y))
    if not len(finite):
        return finite
    width = bucket_width(int(t[-1] - t[0]) + 1, max(1, buckets - 1))
    bucket = t[finite] // width
    starts = np.flatnonzero(np.r_[True, bucket[1:] != bucket[:-1]])
    counts = np.diff(np.r_[starts, len(finite)])
    values = y[finite]
    picked = [finite[[0, -1]]]
    for extreme in (np.minimum.reduceat(values, starts), np.maximum.reduceat(values, starts)):
        at = np.flatnonzero(values == np.repeat(extreme, counts))
        of_bucket = bucket[at]
        picked.append(finite[at[np.r_[True, of_bucket[1:] != of_bucket[:-1]]]])
    return np.unique(np.concatenate(picked))


def _with_gaps(kept: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The kept indices plus one NaN between neighbours, and at either end, wherever the series has one."""
    missing = np.flatnonzero(np.isnan(y))
    if not len(missing):
        return kept
    if not len(kept):
        return missing[[0]]
    after = np.searchsorted(missing, kept)
    lone = after[after < len(missing)]
    candidates = missing[np.unique(lone)]
    tail = missing[missing > kept[-1]][:1]
    return np.union1d(kept, np.union1d(candidates, tail))
