"""The normal value of one quantity as a function of what was asked for, and the whole reference of a line.

    power:  value = level * (speed / speed at the centre)^a * ... * exp(b * (temperature - centre))
    linear: value = level + a * ln(speed / centre) + b * (temperature - centre)

Every feature has a range. Outside it, and outside the range of rate over speed, nothing is said.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from monitor.exact import Floats


@dataclass(frozen=True)
class Feature:
    """One thing that was asked for. ratio: enters as ln(x / centre), else as x - centre.

    coefficient 0: it did not move enough to tell its effect, and only limits where the normal value holds.
    """

    name: str
    ratio: bool
    centre: float
    coefficient: float
    low: float
    high: float


@dataclass(frozen=True)
class Normal:
    """Normal value of one quantity.

    power: see above. scatter: of 10 s cells about it, minute_scatter: of minute medians, both robust; relative where
    `power`, else in `unit`. n: minutes. autocorrelation_s: integral time. n_effective: independent minutes in n.
    """

    name: str
    unit: str
    power: bool
    level: float
    features: tuple[Feature, ...]
    scatter: float
    minute_scatter: float
    n: int
    n_effective: float
    autocorrelation_s: float

    def value(self, cells: Mapping[str, Floats]) -> Floats:
        """Normal value where the features are inside their ranges, NaN elsewhere; [n]."""
        total, inside = np.zeros(()), np.ones((), bool)
        for feature in self.features:
            x = cells[feature.name]
            with np.errstate(invalid="ignore", divide="ignore"):
                inside = inside & (x >= feature.low) & (x <= feature.high)
                if feature.coefficient:
                    moved = np.log(x / feature.centre) if feature.ratio else x - feature.centre
                    total = total + feature.coefficient * moved
        shape = np.broadcast_shapes(total.shape, inside.shape)
        with np.errstate(over="ignore"):
            value = self.level * np.exp(total) if self.power else self.level + total
        return np.where(inside, np.broadcast_to(value, shape), np.nan)

    def spread(self, value: Floats, minute: bool = False) -> Floats:
        """Scatter in the quantity's unit where its normal value is `value`."""
        share = self.minute_scatter if minute else self.scatter
        return share * np.abs(value) if self.power else np.where(np.isfinite(value), share, np.nan)


@dataclass(frozen=True)
class Together:
    """How quantities move together: principal components of residuals in units of their minute scatter.

    loadings: [component, quantity]. variances: of each component. weight: of a minute in the moving mean that is
    judged. t2_limit, spe_limit: for `run_length_h` hours in control together. held_out: moments and autocorrelation
    times of both statistics on data not used for the components, from which the limits come.
    """

    names: tuple[str, ...]
    loadings: Floats
    variances: Floats
    weight: float
    t2_limit: float
    spe_limit: float
    run_length_h: float
    n_effective: float
    held_out: Mapping[str, float]


@dataclass(frozen=True)
class Reference:
    """What is normal on a line under a recipe.

    machine: the line file's entries it depends on, by dotted name. not_learned: quantity -> reason. learned_from: logs,
    first and last moment (UTC, ISO), minutes used and left out. version: hash of the content.
    """

    line: str
    line_version: str
    recipe: str
    recipe_version: str
    machine: Mapping[str, str | float]
    learned_from: Mapping[str, str | float | list[str]]
    normals: tuple[Normal, ...]
    not_learned: Mapping[str, str] = field(default_factory=dict)
    together: Together | None = None
    version: str = ""

    @property
    def last_ns(self) -> int:
        """End of the newest run it was learned from, UTC ns."""
        last = datetime.fromisoformat(str(self.learned_from["last"]).replace("Z", "+00:00"))
        return round(last.timestamp()) * 1_000_000_000

    @property
    def hours(self) -> float:
        """Steady hours it was learned from."""
        return float(self.learned_from["steady_minutes"]) / 60  # type: ignore[arg-type]
