"""Average run length of CUSUM and EWMA charts on independent normal readings, and limits for a wanted one.

Run length is the number of readings up to and with the first signal: its mean in control says how often a
chart cries wolf, its mean after a shift how late it is. Everything here is in units of sigma. For readings
that resemble each other see `autocorrelated_design`: these limits would be far too tight.

References: D. Brook & D. A. Evans, Biometrika 59, 539 (1972), and J. M. Lucas & R. B. Crosier,
Technometrics 24, 199 (1982) for the CUSUM; S. V. Crowder, Technometrics 29, 401 (1987) for the EWMA.
Integral equations are solved on Gauss-Legendre nodes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np

MAX_RUN_LENGTH = 1e9
"""Longest in-control run length a limit is computed for; beyond it the equations lose their digits."""


def arl_shewhart(shift: float = 0.0, width: float = 3.0) -> float:
    """Average run length of single readings against limits `width` sigma from the target."""
    from scipy.special import ndtr

    return 1 / float(ndtr(shift - width) + ndtr(-shift - width))


def arl_cusum(k: float, h: float, shift: float = 0.0, *, headstart: float = 0.0, sides: int = 2) -> float:
    """Average run length of a tabular CUSUM.

    k, h: reference value and limit, in sigma. shift: of the mean, in sigma. headstart: where both sums start,
    0 to h. sides: 2, or 1 for the upper sum alone.
    """
    if not (k >= 0 and h > 0 and 0 <= headstart < h):
        raise ValueError(f"CUSUM needs k >= 0 and 0 <= headstart < h (got k {k}, h {h}, headstart {headstart})")
    upper_zero, upper = _one_sided_cusum(k, h, shift, headstart)
    if sides == 1:
        return upper
    lower_zero, lower = _one_sided_cusum(k, h, -shift, headstart)
    return (upper * lower_zero + lower * upper_zero - upper_zero * lower_zero) / (upper_zero + lower_zero)


def _one_sided_cusum(k: float, h: float, shift: float, headstart: float) -> tuple[float, float]:
    """Average run length of the upper sum from zero and from a head start (Page's integral equation)."""
    from scipy.special import ndtr

    nodes, weights = np.polynomial.legendre.leggauss(max(80, math.ceil(6 * h)))
    sums, weights = h / 2 * (nodes + 1), h / 2 * weights
    starts = np.concatenate([[0.0], sums])
    to_sums = weights * _density(sums - starts[:, np.newaxis] + k - shift)
    to_zero = ndtr(k - shift - starts)
    moves = np.column_stack([to_zero, to_sums])
    lengths = np.linalg.solve(np.eye(starts.size) - moves, np.ones(starts.size))
    from_headstart = (
        1
        + float(ndtr(k - shift - headstart)) * lengths[0]
        + float(weights * _density(sums - headstart + k - shift) @ lengths[1:])
    )
    return float(lengths[0]), from_headstart


def arl_ewma(weight: float, width: float, shift: float = 0.0, *, start: float = 0.0) -> float:
    """Average run length of an EWMA against settled limits on both sides.

    width: distance of the limits in standard deviations of z. shift: of the mean, and start: of z, in sigma.
    """
    if not (0 < weight <= 1 and width > 0):
        raise ValueError(f"EWMA needs 0 < weight <= 1 and width > 0 (got weight {weight}, width {width})")
    limit = width * math.sqrt(weight / (2 - weight))
    # A step of z is `weight` sigma wide: enough nodes to see it.
    nodes, weights = np.polynomial.legendre.leggauss(max(80, math.ceil(6 * limit / weight)))
    levels, weights = limit * nodes, limit * weights
    lengths = np.linalg.solve(
        np.eye(levels.size) - _ewma_moves(weight, levels, levels, shift) * weights, np.ones(levels.size)
    )
    from_start = _ewma_moves(weight, np.array([start]), levels, shift)[0] * weights
    return 1 + float(from_start @ lengths)


def _ewma_moves(weight: float, before: np.ndarray, after: np.ndarray, shift: float) -> np.ndarray:
    """Density of z one reading on, for every level before (rows) and after (columns)."""
    reading = (after - (1 - weight) * before[:, np.newaxis]) / weight
    return _density(reading - shift) / weight


@cache
def design_cusum(k: float, arl0: float) -> float:
    """Limit h, in sigma, for which a two-sided CUSUM has this run length in control.

    k: > 0. arl0: 2 < arl0 <= 1e9. Raises ValueError outside.
    """
    if not k > 0:
        raise ValueError(f"CUSUM reference value k must be > 0 to design its limit (got {k})")
    _check_run_length(arl0)
    # log ARL grows by about 2 k a unit of h once h is large.
    return _solve(lambda h: arl_cusum(k, h), arl0, lowest=1e-3, highest=(math.log(arl0) + 10) / (2 * k) + 5)


@cache
def design_ewma(weight: float, arl0: float) -> float:
    """Width of the limits, in standard deviations of z, for this run length in control.

    arl0: 2 < arl0 <= 1e9. Raises ValueError outside.
    """
    _check_run_length(arl0)
    return _solve(lambda width: arl_ewma(weight, width), arl0, lowest=1e-2, highest=7.0)


def wanted_run_length(*, false_signals: float, watched_s: float, charts: int, cell_s: float) -> float:
    """Run length in cells that each of many charts needs so that all together signal falsely this often.

    Half a false signal in 12 h shared by 200 charts on 10 s cells is 1,728,000 cells, 4800 h, for each.
    """
    return charts * watched_s / (false_signals * cell_s)


def _check_run_length(arl0: float) -> None:
    if not 2 < arl0 <= MAX_RUN_LENGTH:
        raise ValueError(f"in-control run length must be > 2 and <= {MAX_RUN_LENGTH:g} readings (got {arl0})")


def _solve(arl: Callable[[float], float], arl0: float, *, lowest: float, highest: float) -> float:
    from scipy.optimize import root_scalar

    # Going up from below keeps away from limits so wide that the equations are singular.
    low, high = lowest, min(max(2 * lowest, 1.0), highest)
    while arl(high) < arl0 and high < highest:
        low, high = high, min(1.25 * high, highest)
    return root_scalar(lambda limit: math.log(arl(limit) / arl0), bracket=(low, high), xtol=1e-9).root


def _density(x: np.ndarray) -> np.ndarray:
    return np.exp(-np.square(x) / 2) / math.sqrt(2 * math.pi)
