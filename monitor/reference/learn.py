"""Learn a reference from the steady minutes of good runs, or refuse with reasons."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ingest.roles import split_key
from monitor.exact import Floats
from monitor.expectation import FLOOR_TOLERANCES
from monitor.learned_quantities import kind_of
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.reference.collect import Minutes
from monitor.reference.features import POWER, features_of, is_ratio, spread_of, unit_of
from monitor.reference.file import with_version
from monitor.reference.machine import machine_of
from monitor.reference.model import Feature, Normal, Reference
from monitor.reference.together import learn_together
from monitor.statistics.autocorrelation import cautious_time
from monitor.statistics.huber import huber_fit

LEAST_MINUTES = 120
MOST_FAULTY_SHARE = 0.25
LEAST_KNOWN_SHARE = 0.8
LEAST_INDEPENDENT = 5.0
"""Independent minutes a normal value needs, and as many again for each coefficient."""


class ReferenceRefused(ValueError):
    """The runs cannot serve as a reference. `reasons` holds one sentence each."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("No reference was learned:\n" + "\n".join(f"  {reason}" for reason in reasons))


@dataclass(frozen=True)
class Runs:
    """Where the minutes came from. first, last: ISO, UTC. faulty: minutes (since 1970) in which a finding stood.

    faults: their conditions.
    """

    logs: tuple[str, ...]
    first: str
    last: str
    faulty: Collection[int]
    faults: tuple[str, ...]


def learn(minutes: Minutes, runs: Runs, line: Line, recipe: Recipe) -> Reference:
    """The reference; raises ReferenceRefused. Minutes in which a finding stood are left out."""
    steady = len(minutes.number)
    good = np.array([number not in runs.faulty for number in minutes.number], bool)
    reasons = []
    if steady and good.sum() < (1 - MOST_FAULTY_SHARE) * steady:
        share, names = 100 * (1 - good.sum() / steady), ", ".join(runs.faults)
        reasons.append(f"findings stood during {share:.0f} % of the steady minutes ({names}); choose better runs")
    if good.sum() < LEAST_MINUTES:
        reasons.append(f"only {good.sum()} steady minutes without findings; at least {LEAST_MINUTES} are needed")
    if reasons:
        raise ReferenceRefused(reasons)
    number = np.array(minutes.number)[good]
    values, spreads = np.array(minutes.values)[good], np.array(minutes.spreads)[good]
    points = dict(zip(minutes.features, np.array(minutes.points)[good].T, strict=True))
    there = [name for name, cells in points.items() if np.isfinite(cells).mean() >= LEAST_KNOWN_SHARE]
    normals, not_learned, residuals = [], {}, {}
    for column, name in enumerate(minutes.names):
        made = _normal(name, number, values[:, column], spreads[:, column], points, there)
        if isinstance(made, str):
            not_learned[name] = made
            continue
        normals.append(made)
        expected = made.value(points)
        residuals[name] = (values[:, column] - expected) / made.spread(expected, minute=True)
    if not normals:
        raise ReferenceRefused(
            ["no quantity could be learned: " + "; ".join(f"{k}: {v}" for k, v in not_learned.items())]
        )
    together, why_not = learn_together(number, residuals, {one.name: one.autocorrelation_s for one in normals})
    if why_not:
        not_learned["how they move together"] = why_not
    return with_version(
        Reference(
            line.name,
            line.version,
            recipe.name,
            recipe.version,
            machine_of(line),
            {
                "logs": list(runs.logs),
                "first": runs.first,
                "last": runs.last,
                "steady_minutes": float(good.sum()),
                "left_out_minutes": float(steady - good.sum()),
            },
            tuple(normals),
            not_learned,
            together,
        )
    )


def _normal(
    name: str, number: np.ndarray, values: Floats, spreads: Floats, points: dict[str, Floats], there: Collection[str]
) -> Normal | str:
    """The normal value of one quantity, or why there is none."""
    power = split_key(name)[0] in POWER
    features = features_of(name, there)
    used = np.isfinite(values) & np.logical_and.reduce([np.isfinite(points[f]) for f in features] or [values == values])
    if power:
        used &= values > 0
    if used.sum() < LEAST_MINUTES:
        return f"only {used.sum()} steady minutes with readings; at least {LEAST_MINUTES} are needed"
    if used.mean() < LEAST_KNOWN_SHARE and np.isfinite(values).mean() < 0.5:
        return f"readings in only {100 * used.mean():.0f} % of the steady minutes"
    y = np.log(values[used]) if power else values[used]
    if np.ptp(y) == 0:
        return f"stood still at {values[used][0]:g} throughout: a real reading scatters"
    moved, ranges = [], []
    for feature in features:
        x, spread = points[feature][used], spread_of(feature)
        low, high = np.quantile(x, [0.02, 0.98])
        wide = (high / low - 1 if low > 0 else 0.0) if is_ratio(feature) else high - low
        margin = spread.margin * abs(np.median(x)) if is_ratio(feature) else spread.margin
        ranges.append((feature, float(np.median(x)), float(x.min() - margin), float(x.max() + margin)))
        if wide >= spread.enough and feature != "rate_over_speed":
            moved.append(feature)
    chosen, fit, time = _fitted(moved, points, used, y, number)
    if fit is None:
        return f"readings resemble each other for {time:.0f} min: too few independent ones to say what is normal"
    residual_time, sigma, level, found = fit
    features_out = tuple(
        Feature(
            feature,
            is_ratio(feature),
            centre,
            float(found[chosen.index(feature)]) if feature in chosen else 0.0,
            low,
            high,
        )
        for feature, centre, low, high in ranges
    )
    value = float(np.exp(level)) if power else level
    kind = kind_of(name)
    floor = FLOOR_TOLERANCES * (kind.share * abs(value) + kind.absolute) / (abs(value) if power else 1.0)
    cell = np.median(spreads[used] / np.abs(values[used])) if power else np.median(spreads[used])
    minute_scatter = max(sigma, floor / 3)
    return Normal(
        name,
        unit_of(name),
        power,
        value,
        features_out,
        float(max(np.hypot(cell, sigma), floor)),
        float(minute_scatter),
        int(used.sum()),
        float(used.sum() / residual_time),
        60.0 * residual_time,
    )


def _fitted(
    moved: list[str], points: dict[str, Floats], used: np.ndarray, y: Floats, number: np.ndarray
) -> tuple[list[str], tuple[float, float, float, np.ndarray] | None, float]:
    """Features kept, (autocorrelation time in minutes, sigma, level, coefficients) or None, and that time.

    A feature that the independent minutes cannot carry, or that cannot be told from the others, is given up, the
    last first; its range then narrows nothing, because the range holds what was seen.
    """
    chosen, time = list(moved), 1.0
    while True:
        columns = [_entered(feature, points[feature][used]) for feature in chosen]
        design = np.column_stack(columns) if columns else np.empty((len(y), 0))
        try:
            fit = huber_fit(design, y)
        except ValueError:
            if not chosen:
                return chosen, None, time
            chosen.pop()
            continue
        residual = y - fit.level - design @ fit.coefficients
        time = cautious_time(_on_every_minute(number[used], residual))
        time = 1.0 if np.isnan(time) else time
        if len(y) / time >= LEAST_INDEPENDENT * (1 + len(chosen)):
            return chosen, (time, fit.sigma, fit.level, fit.coefficients), time
        if not chosen:
            return chosen, None, time
        chosen.pop()


def _entered(feature: str, x: Floats) -> Floats:
    """How a feature enters the sum, about its centre."""
    centre = np.median(x)
    return np.log(x / centre) if is_ratio(feature) else x - centre


def _on_every_minute(number: np.ndarray, values: Floats) -> Floats:
    """The series with NaN where minutes are left out; a break of more than two hours is shortened to that."""
    steps = np.minimum(np.diff(number, prepend=number[0]), 120)
    place = np.add.accumulate(steps)
    out = np.full(place[-1] + 1, np.nan)
    out[place] = values
    return out
