"""How fast zones heat at full output, held against their own earlier heat-ups, 20 C by 20 C.

The best evidence on heater bands: one of three dead takes a third of the rate, at full output, whatever the load.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import State
from monitor.exact import Bools, Floats, ordered_sum

BAND_C = 20.0
BANDS = 20
"""From 0 to 400 C."""

LEAST_MINUTES = 2
"""Minutes at full output in a band before its rate counts."""

LEAST_BANDS = 2
HISTORY_WEIGHT = 1 / 3


def start(zones: int) -> State:
    """No heat-up seen. usual: C/min by band; sum, minutes: of the heat-up under way; times: heat-ups in `usual`."""
    shape = (zones, BANDS)
    return {
        "usual": np.full(shape, np.nan),
        "sum": np.zeros(shape),
        "minutes": np.zeros(shape),
        "times": np.zeros(zones),
    }


def advance(state: State, temperature: Floats, rate: Floats, full: Bools, ended: Bools) -> tuple[State, Floats, Floats]:
    """Rates of the heat-up under way as a share of the usual ones, [zone, m], and heat-ups known before, [zone, m].

    temperature, C, and rate, C/min, [zone, m]. full: at full output, the screw standing [zone, m]. ended: no heat-up
    under way [m]; what it gave is then taken into the usual rates. NaN where fewer than two bands can be compared.
    """
    zones, m = temperature.shape
    ratio, times = np.full((zones, m), np.nan), np.zeros((zones, m))
    s = dict(state)
    for i in range(m):
        times[:, i] = s["times"]
        if ended[i]:
            if s["minutes"].any():
                s = _taken_in(s)
                times[:, i] = s["times"]
            continue
        use = full[:, i] & np.isfinite(temperature[:, i]) & np.isfinite(rate[:, i])
        if use.any():
            s = {**s, "sum": s["sum"].copy(), "minutes": s["minutes"].copy()}
            band = np.clip(np.nan_to_num(temperature[:, i]) // BAND_C, 0, BANDS - 1).astype(int)
            rows = np.flatnonzero(use)
            s["sum"][rows, band[rows]] += rate[rows, i]
            s["minutes"][rows, band[rows]] += 1.0
        ratio[:, i] = _ratio(s)
    return s, ratio, times


def _rates(s: State) -> Floats:
    enough = s["minutes"] >= LEAST_MINUTES
    return np.where(enough, s["sum"] / np.where(enough, s["minutes"], 1.0), np.nan)


def _ratio(s: State) -> Floats:
    """Mean over the bands that can be compared, in their order."""
    with np.errstate(invalid="ignore", divide="ignore"):
        share = _rates(s) / s["usual"]
    known = np.isfinite(share)
    total, count = ordered_sum(np.where(known, share, 0.0), BANDS)[:, 0], np.count_nonzero(known, axis=1)
    return np.where(count >= LEAST_BANDS, total / np.where(count > 0, count, 1.0), np.nan)


def _taken_in(s: State) -> State:
    rates, usual = _rates(s), s["usual"]
    known = np.isfinite(rates) & (rates > 0.2)
    moved = np.where(np.isfinite(usual), usual + HISTORY_WEIGHT * (rates - usual), rates)
    fresh = start(len(usual))
    return {
        **fresh,
        "usual": np.where(known, moved, usual),
        "times": s["times"] + known.any(axis=1),
    }
