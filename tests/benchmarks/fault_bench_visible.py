"""When a fault first stands out in a plant's log, from the run with it and the same run, same noise, without it.

No monitor can know sooner, and none can know at all what stays within the noise of every logged channel.
"""

from __future__ import annotations

import numpy as np

from ingest.roles import split_key
from sample_logs.faults import Fault
from sample_logs.plant import Plant

FALLING = ("feeder_weight", "hopper_level", "packed_total", "scrap_total")
"""Read by their slope: they run down and are filled up, the same in both runs or not."""
IN_THE_LOG = ("data_stopped", "controller_stale")
"""The plant goes on and its log does not: nothing to see for max(5 s, three times the cadence)."""
SAMPLES_OUT, MINUTES_OUT = 4.0, 3.0
"""A channel stands out when two samples in a row, or one minute's mean, are so many scatters away; own choice."""


def stands_out_s(plant: Plant, fault: Fault, with_it: np.ndarray, without: np.ndarray) -> float:
    """Seconds from the fault's start to its first sight in some logged channel; inf where it never shows.

    with_it, without: readings of the two runs, [reading, channel of the log].
    """
    if fault.kind in IN_THE_LOG:
        return max(5.0, 3.0 * plant.cadence_s)
    first = round(fault.start_s / plant.cadence_s)
    first_seen = np.inf
    for c, key in enumerate(plant.channels):
        role = split_key(key)[0]
        step = plant.logger.resolution.get(role, 0.0)
        coarse = max(step, plant.logger.deadband.get(role, 0.0))
        away = np.abs(with_it[first:, c].astype(float) - without[first:, c].astype(float))
        if role in FALLING:
            seen = _by_slope(with_it[:, c], without[:, c], first, coarse, plant.cadence_s)
        else:
            seen = min(
                _by_sample(away, without[:, c], coarse, plant.cadence_s),
                _by_minute(away, without[:, c], coarse, plant.cadence_s),
            )
        first_seen = min(first_seen, seen)
    return first_seen


def _by_sample(away: np.ndarray, quiet: np.ndarray, coarse: float, cadence_s: float) -> float:
    scatter = _spread(np.diff(quiet.astype(float))) / np.sqrt(2.0)
    out = away > max(SAMPLES_OUT * scatter, coarse, 1e-6)
    out = out[:-1] & out[1:]
    return (int(np.argmax(out)) + 1) * cadence_s if out.any() else np.inf


def _by_minute(away: np.ndarray, quiet: np.ndarray, coarse: float, cadence_s: float) -> float:
    n = max(round(60.0 / cadence_s), 1)
    means = _means(quiet, n)
    scatter = _spread(means - np.median(means))
    out = _means(away, n) > max(MINUTES_OUT * scatter, 0.5 * coarse, 1e-6)
    return (int(np.argmax(out)) + 1) * 60.0 if out.any() else np.inf


def _by_slope(with_it: np.ndarray, quiet: np.ndarray, first: int, coarse: float, cadence_s: float) -> float:
    """Change over five minutes, where neither run was being filled up."""
    n = max(round(300.0 / cadence_s), 2)
    a, b = (np.asarray(v, float)[n:] - np.asarray(v, float)[:-n] for v in (with_it, quiet))
    scatter = _spread(np.diff(quiet.astype(float)))
    begin = max(first - n, 0)
    out = np.abs(a - b)[begin:] > max(SAMPLES_OUT * scatter, 2.0 * coarse, 0.01 * _spread(b), 1e-6)
    return max(begin + int(np.argmax(out)) + n - first, 1) * cadence_s if out.any() else np.inf


def _means(values: np.ndarray, n: int) -> np.ndarray:
    whole = len(values) // n * n
    return values[:whole].astype(float).reshape(-1, n).mean(1)


def _spread(values: np.ndarray) -> float:
    """Standard deviation from the median absolute deviation."""
    return 1.4826 * float(np.median(np.abs(values - np.median(values)))) if len(values) else 0.0
