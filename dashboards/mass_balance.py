"""Does the mass balance close: what the hoppers' scales lost against what the feeders report, refills left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dashboards.cells import means
from dashboards.clock import HOUR, MINUTE, SECOND
from dashboards.data import JournalData
from dashboards.machine import mass_known, subject_title
from ingest.roles import channel_key

CLOSES_PCT = 1.0
"""What a loss-in-weight feeder that is well kept stays within over an hour; common practice, no source."""

LEAP_SIGMAS = 8.0
"""A step of the weight so far from what was fed is a refill or a hand; of scatter alone, one cell in 10^15."""

FEWEST_CELLS = 30
TWO_SIGMA = 2.0


@dataclass(frozen=True)
class Balance:
    """One hopper over a stretch. lost, fed: kg by its scale and by its feeder's rate, over the cells compared.

    error: two standard deviations of `lost` less `fed`, kg. compared: share of the stretch's fed kilograms in it.
    sigma: standard deviation of a difference of two weights, kg; scatter: of what a cell of `step_s` fed, kg.
    """

    title: str
    lost: float
    fed: float
    error: float
    compared: float
    sigma: float = float("nan")
    scatter: float = float("nan")
    step_s: float = 10.0

    def error_over(self, seconds: float) -> float:
        """Two standard deviations of what its scale can tell of kilograms fed in another stretch without a refill."""
        return TWO_SIGMA * (self.sigma**2 + self.scatter**2 * max(1.0, seconds / self.step_s)) ** 0.5

    @property
    def off_pct(self) -> float:
        """Scale less rate, % of the rate."""
        return 100 * (self.lost - self.fed) / self.fed

    @property
    def error_pct(self) -> float:
        """Two standard deviations, % of the rate."""
        return 100 * self.error / self.fed

    @property
    def closes(self) -> bool:
        """Within its error, or within what a well-kept feeder stays within."""
        return abs(self.off_pct) <= max(CLOSES_PCT, self.error_pct)


def mass_balance(data: JournalData, name: str, t0: int, t1: int) -> list[Balance]:
    """Every feeder whose weight and rate are logged in known units, in the order of the line file."""
    line = data.line(name)
    if line is None or not mass_known(line):
        return []
    step = 10 * SECOND if t1 - t0 <= 48 * HOUR else MINUTE
    found = []
    for feeder in line.feeder:
        weight, rate = channel_key("feeder_weight", feeder.name), channel_key("feeder_rate", feeder.name)
        if not {weight, rate} <= set(line.channels) or {weight, rate} & set(line.relative_channels):
            continue
        cells = means(data.source, name, t0, t1, (weight, rate), step)
        title = subject_title(line, rate)
        item = balance_of(title, cells.row(weight), cells.row(rate), step / SECOND)
        if item is not None:
            found.append(item)
    return found


def share_errors(kg: dict[str, float], balances: Sequence[Balance]) -> dict[str, float]:
    """Two standard deviations of each share, points of percent, as far as the scales can tell; by title.

    kg: fed by each feeder, by title. Only where every feeder that fed has a balance: one that is not known moves all.
    The scales' errors are independent; a share falls with every other feeder's kilograms.
    """
    return errors_of_shares(kg, {i.title: i.error_pct / 100 * kg.get(i.title, 0.0) for i in balances})


def errors_of_shares(kg: dict[str, float], error: dict[str, float]) -> dict[str, float]:
    """The same from the error of each feeder's kilograms, by title; empty where one that fed has none."""
    total = sum(kg.values())
    if total <= 0 or any(title not in error for title, amount in kg.items() if amount > 0):
        return {}
    found = {}
    for title, amount in kg.items():
        share = amount / total
        own = (1 - share) * error.get(title, 0.0)
        others = [share * e for other, e in error.items() if other != title]
        found[title] = 100 * (own**2 + sum(e**2 for e in others)) ** 0.5 / total
    return found


def balance_of(title: str, weight: np.ndarray, rate: np.ndarray, step_s: float) -> Balance | None:
    """weight, kg, and rate, kg/h: means of cells of `step_s`, NaN where none. None where too little can be compared."""
    # Between the middles of two cells half of each was fed.
    fed = (rate[:-1] + rate[1:]) / 2 * step_s / 3600
    off = weight[:-1] - weight[1:] - fed
    there = np.isfinite(off)
    if there.sum() < FEWEST_CELLS:
        return None
    middle = float(np.median(off[there]))
    sigma = 1.4826 * float(np.median(np.abs(off[there] - middle)))
    leap = there & (np.abs(off - middle) > LEAP_SIGMAS * max(sigma, 1e-4))
    # Filling takes longer than the cell in which it leaps: its neighbours are left out as well.
    near = leap.copy()
    for shift in (1, 2):
        near[shift:] |= leap[:-shift]
        near[:-shift] |= leap[shift:]
    kept = there & ~near
    total = float(fed[np.isfinite(fed)].sum())
    compared = float(fed[kept].sum())
    if kept.sum() < FEWEST_CELLS or compared <= 0:
        return None
    # Inside a stretch the readings between cancel out: only its two ends count, sigma is of such a difference.
    runs = int(np.count_nonzero(kept & ~np.r_[False, kept[:-1]]))
    lost = float((weight[:-1] - weight[1:])[kept].sum())
    # The rate is sampled, not summed: what scatters from cell to cell adds up at random.
    jumps = np.diff(rate)
    scatter = 1.4826 * float(np.nanmedian(np.abs(jumps))) / 2**0.5 * step_s / 3600
    error = TWO_SIGMA * (sigma**2 * runs + scatter**2 * float(kept.sum())) ** 0.5
    return Balance(title, lost, compared, error, compared / total, sigma, scatter, step_s)
