"""How the quantities of a reference move together: components, and limits from data not used for them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from monitor.exact import Floats, ewma
from monitor.reference.model import Together
from monitor.statistics.autocorrelation import cautious_time
from monitor.statistics.principal import Components, components, limit_by_moments, t2_and_spe

WEIGHT = 0.2
"""Of a minute in the moving mean that is judged: memory of five minutes."""
LARGEST_RESIDUAL = 6.0
"""In minute scatters: a wild minute must not turn the components."""
FOLDS = 3
LEAST_QUANTITIES = 4
LEAST_KNOWN = 0.9
LEAST_INDEPENDENT_PER_QUANTITY = 3.0
LEAST_INDEPENDENT_HELD_OUT = 20.0
RUN_LENGTH_H = 2000.0
"""Wanted hours in control between false calls of either statistic, before the condition asks for more."""


def learn_together(
    number: np.ndarray, residuals: Mapping[str, Floats], autocorrelation_s: Mapping[str, float]
) -> tuple[Together | None, str]:
    """Components and limits, or None and why not.

    number: of each minute. residuals: quantity -> distance from normal in minute scatters, NaN = not known.
    """
    names = tuple(name for name, cells in residuals.items() if np.isfinite(cells).mean() >= LEAST_KNOWN)
    if len(names) < LEAST_QUANTITIES:
        return None, f"only {len(names)} quantities are known together; at least {LEAST_QUANTITIES} are needed"
    x = np.array([residuals[name] for name in names]).T
    known = np.isfinite(x).all(axis=1)
    x, number = np.clip(x[known], -LARGEST_RESIDUAL, LARGEST_RESIDUAL), number[known]
    time = float(np.median([autocorrelation_s[name] for name in names])) / 60
    effective = len(x) / max(time, 1.0)
    if effective < LEAST_INDEPENDENT_PER_QUANTITY * len(names):
        wanted = LEAST_INDEPENDENT_PER_QUANTITY * len(names)
        return (
            None,
            f"{effective:.0f} independent minutes are too few for {len(names)} quantities (at least {wanted:.0f})",
        )
    t2, spe = np.full(len(x), np.nan), np.full(len(x), np.nan)
    smooth = moving_means(number, x)
    for part in np.array_split(np.arange(len(x)), FOLDS):
        rest = np.delete(np.arange(len(x)), part)
        made = components(x[rest], n_effective=effective * len(rest) / len(x))
        t2[part], spe[part] = t2_and_spe(smooth[part], made)
    times = [max(cautious_time(statistic), 1.0) for statistic in (t2, spe)]
    if len(x) / max(times) < LEAST_INDEPENDENT_HELD_OUT:
        return None, f"only {len(x) / max(times):.0f} independent values of T2 and SPE; limits would be a guess"
    # Two statistics share the run length; values within an autocorrelation time of each other count as one.
    limits = [
        max(limit_by_moments(values, 2 * span / (60 * RUN_LENGTH_H)), float(values.max()))
        for values, span in zip((t2, spe), times, strict=True)
    ]
    made = components(x, n_effective=effective)
    held_out = {
        "t2_mean": float(t2.mean()), "t2_sd": float(t2.std(ddof=1)), "t2_most": float(t2.max()),
        "spe_mean": float(spe.mean()), "spe_sd": float(spe.std(ddof=1)), "spe_most": float(spe.max()),
        "t2_autocorrelation_min": times[0], "spe_autocorrelation_min": times[1],
    }  # fmt: skip
    return Together(
        names, made.loadings, made.variances, WEIGHT, limits[0], limits[1], RUN_LENGTH_H, effective, held_out
    ), ""


def moving_means(number: np.ndarray, x: Floats) -> Floats:
    """Exponentially weighted means of the minutes, begun at zero after each break. x: [minute, quantity]."""
    out = np.empty(x.shape)
    breaks = np.flatnonzero(np.diff(number) != 1) + 1
    for part in np.split(np.arange(len(x)), breaks):
        out[part] = ewma(np.zeros(x.shape[1]), x[part].T, WEIGHT)[0].T
    return out


def components_of(together: Together) -> Components:
    """Its components."""
    return Components(together.loadings, together.variances)
