"""A regular swing in a window of pressure, and what swings with it."""

from __future__ import annotations

import numpy as np

from monitor.exact import Bools, Floats

FACTS = (
    "swing", "period", "cycles", "scatter", "skew", "lead", "lead_corr", "now_corr", "speed_corr", "speed_swing",
    "load_swing", "zone", "zone_corr", "alias", "again",
)  # fmt: skip

MOST_MISSING = 0.1
FURTHEST_LEAD_CELLS, FURTHEST_ZONE_CELLS = 6, 18
SPEED_UNCERTAIN = 0.005


def swing_of(rows: Floats, step_s: float, cadence_s: float) -> dict[str, float] | None:
    """FACTS of a window, or None where too much is missing or nothing swings.

    rows: [4 + zones, cells]: pressure, load, screw speed, 1 while running, zone outputs. step_s: width of the cells.
    cadence_s: of the log behind them. swing, speed_swing and load_swing: half of the range between the 5th and the
    95th of hundred, over the mean. period, lead: seconds, lead positive where load comes first. alias: 1 where flight
    ripple at this speed and cadence would show as this period. again: how much of the wave is there again one period
    later, 1 all of it: of irregular wander little is, however its crossings fall.
    """
    pressure = rows[0]
    if np.isnan(pressure).mean() > MOST_MISSING or not rows[3].all():
        return None
    wave = _flat(pressure)
    ups = _up_crossings(wave)
    if len(ups) < 3:
        return None
    gaps = np.diff(ups) * step_s
    period = float(gaps.mean())
    load, speed = _flat(rows[1]), _flat(rows[2])
    # Half a period further on the next wave comes: load that leads by most of one would look as if it followed.
    furthest = min(FURTHEST_LEAD_CELLS, int(period / 2 // step_s))
    lead, lead_corr = _best_lead(load, wave, furthest)
    zone, zone_corr = float("nan"), 0.0
    for place, output in enumerate(rows[4:]):
        flat = _flat(output)
        if float(np.abs(flat).max()) < 3.0:
            continue
        strength = max(abs(_corr(flat, wave, lag)) for lag in range(FURTHEST_ZONE_CELLS + 1))
        if strength > zone_corr:
            zone, zone_corr = float(place), strength
    return {
        "swing": _half_range(wave) / max(abs(_mean(pressure)), 1e-9),
        "period": period,
        "cycles": float(len(ups)),
        "scatter": float(gaps.std() / period),
        "skew": float((wave**3).mean() / max(float((wave**2).mean()) ** 1.5, 1e-12)),
        "lead": lead * step_s,
        "lead_corr": lead_corr,
        "now_corr": _corr(load, wave, 0),
        "speed_corr": max(_corr(speed, wave, lag) for lag in (-1, 0, 1)),
        "speed_swing": _half_range(speed) / max(abs(_mean(rows[2])), 1e-9),
        "load_swing": _half_range(load) / max(abs(_mean(rows[1])), 1e-9),
        "zone": zone,
        "zone_corr": zone_corr,
        "alias": float(is_alias(period, _mean(rows[2]), cadence_s, len(pressure) * step_s)),
        "again": max(_corr(wave, wave, lag) for lag in _about(period / step_s)),
    }


def _about(cells: float) -> range:
    """Lags within a tenth of a period, and its nearest neighbours."""
    return range(max(1, int(0.9 * cells)), int(1.1 * cells) + 2)


def is_alias(period_s: float, speed_rpm: float, cadence_s: float, window_s: float) -> bool:
    """Whether something once a turn, sampled every `cadence_s`, shows with this period.

    A frequency f sampled at fs shows at |f - k fs|, k the nearest whole number (sampling theorem). The speed is known
    to half a percent, the period to one cycle in the window.
    """
    turn = speed_rpm / 60
    shown = abs(turn - round(turn * cadence_s) / cadence_s)
    return abs(1 / period_s - shown) <= SPEED_UNCERTAIN * turn + 1 / window_s if turn > 0 else False


def _flat(x: Floats) -> Floats:
    """Less its straight line; what is missing lies on the line. Zero throughout where nothing is known."""
    known = np.isfinite(x)
    if known.sum() < len(x) * (1 - MOST_MISSING):
        return np.zeros(len(x))
    place = np.arange(len(x), dtype=float)
    t, y = place[known], x[known]
    t0, y0 = float(t.mean()), float(y.mean())
    slope = float(((t - t0) * (y - y0)).sum() / ((t - t0) ** 2).sum())
    return np.where(known, np.where(known, x, 0.0) - y0 - slope * (place - t0), 0.0)


def _mean(x: Floats) -> float:
    known = x[np.isfinite(x)]
    return float(known.mean()) if len(known) else 0.0


def _half_range(wave: Floats) -> float:
    ordered = np.sort(wave)
    edge = len(wave) // 20
    return float(ordered[-1 - edge] - ordered[edge]) / 2


def _up_crossings(wave: Floats) -> Floats:
    """Cells in which the wave comes up through its middle, having been clearly below it since the last time."""
    band = 0.4 * float(np.sqrt((wave**2).mean()))
    above: Bools = wave > band
    below: Bools = wave < -band
    ups, armed = [], False
    for place in range(len(wave)):
        if below[place]:
            armed = True
        elif above[place] and armed:
            ups.append(float(place))
            armed = False
    return np.array(ups)


def _corr(first: Floats, wave: Floats, lag: int) -> float:
    """Correlation with `first` so many cells ahead of the wave."""
    n = len(wave)
    a = first[: n - lag] if lag >= 0 else first[-lag:]
    b = wave[lag:] if lag >= 0 else wave[: n + lag]
    size = float(np.sqrt((a**2).sum() * (b**2).sum()))
    return float((a * b).sum()) / size if size > 0 else 0.0


def _best_lead(load: Floats, wave: Floats, furthest: int) -> tuple[float, float]:
    """Cells by which load leads, where they go together best, and how well."""
    found = [(_corr(load, wave, lag), lag) for lag in range(-furthest, furthest + 1)]
    best, lag = max(found)
    return float(lag), best
