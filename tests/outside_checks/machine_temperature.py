"""A chart on two real temperature records with labelled failures.

    EVENMELT_OPEN_DATA=... python -m tests.outside_checks.machine_temperature

Data: A. Lavin & S. Ahmad, arXiv 1510.03336 (2015), MIT licence: machine temperature every 5 min, 4 labels; ambient
temperature hourly, 2 labels; no unit. The records carry no speed, rate or set-point, so the monitor's conditions have
nothing to hold a temperature against; what is checked is the chart under them.

Frozen before it was run, the same for both records: hourly medians; centre and spread (MAD) of the seven days that
ended a day before; EWMA of weight 0.2 of the distance in spreads; limit for 2000 h in control under the lag-1
autocorrelation of the first seven days (`lag1_for_design`, at most 0.95: above that a chart sees one slow wave). A
finding begins at the first hour beyond the limit and has ended after 24 h inside. 'Found': a finding begins inside a
labelled window. All other findings are false, whatever the record shows there.
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from monitor.statistics.autocorrelated_design import design_ewma_autocorrelated
from monitor.statistics.autocorrelation import lag1_for_design
from monitor.statistics.ewma import ewma, variance_factor
from monitor.statistics.robust import mad_sigma, median
from tests.outside_checks.open_data import folder

NAME = "machine_temperature"
RECORDS = ("machine_temperature_system_failure", "ambient_temperature_system_failure")
WEIGHT, MOST_LAG1, RUN_LENGTH_H, REFERENCE_H, DELAY_H, CLEAR_H = 0.2, 0.95, 2000.0, 168, 24, 24


@dataclass(frozen=True)
class Outcome:
    """found: labelled windows in which a finding begins. false: findings outside. weeks: judged."""

    record: str
    windows: int
    found: int
    false: int
    weeks: float
    lag1: float
    width: float


def hourly(record: str) -> tuple[datetime, np.ndarray]:
    """First hour and the median of each; NaN where there is none. Later readings win where the clock stepped back."""
    with (folder(NAME) / f"{record}.csv").open(encoding="utf-8") as file:
        rows = [(datetime.fromisoformat(row["timestamp"]), float(row["value"])) for row in csv.DictReader(file)]
    first = min(at for at, _ in rows).replace(minute=0, second=0)
    hours: dict[int, dict[datetime, float]] = {}
    for at, value in rows:
        hours.setdefault(int((at - first).total_seconds() // 3600), {})[at] = value
    out = np.full(max(hours) + 1, np.nan)
    for hour, values in hours.items():
        out[hour] = median(np.array(list(values.values())))
    return first, out


def begins(values: np.ndarray) -> tuple[list[int], int, float, float]:
    """Hours at which findings begin, hours judged, lag-1 autocorrelation, width of the limits."""
    lag1 = min(lag1_for_design(values[:REFERENCE_H]), MOST_LAG1)
    width = design_ewma_autocorrelated(WEIGHT, lag1, max(RUN_LENGTH_H, 20 * 60 / min(WEIGHT, 1 - lag1)))
    limit = width * variance_factor(WEIGHT, lag1) ** 0.5
    distance = np.full(len(values), np.nan)
    for hour in range(REFERENCE_H + DELAY_H, len(values)):
        past = values[hour - REFERENCE_H - DELAY_H : hour - DELAY_H]
        if np.isfinite(past).sum() >= REFERENCE_H / 2:
            distance[hour] = (values[hour] - median(past)) / max(mad_sigma(past), 1e-9)
    out = np.abs(ewma(distance, WEIGHT, 0.0)) > limit
    found, inside = [], CLEAR_H
    for hour in np.flatnonzero(np.isfinite(distance)).tolist():
        if out[hour] and inside >= CLEAR_H:
            found.append(hour)
        inside = 0 if out[hour] else inside + 1
    return found, int(np.isfinite(distance).sum()), lag1, width


def outcome(record: str) -> Outcome:
    """Found and false for one record."""
    first, values = hourly(record)
    with (folder(NAME) / "combined_windows.json").open(encoding="utf-8") as file:
        labelled = json.load(file)[f"realKnownCause/{record}.csv"]
    windows = [
        tuple((datetime.fromisoformat(at) - first).total_seconds() / 3600 for at in window) for window in labelled
    ]
    found, judged, lag1, width = begins(values)
    hit = [any(start <= hour <= end for hour in found) for start, end in windows]
    false = sum(not any(start <= hour <= end for start, end in windows) for hour in found)
    return Outcome(record, len(windows), sum(hit), false, judged / 168, lag1, width)


def main() -> None:
    """Print the table."""
    heads = " ".join(f"{head:>6}" for head in ("labels", "found", "false", "weeks"))
    print(f"{'record':38} {heads} {'false a week':>13} {'lag 1':>6} {'width':>6}")
    for one in map(outcome, RECORDS):
        print(
            f"{one.record:38} {one.windows:6} {one.found:6} {one.false:6} {one.weeks:6.1f} "
            f"{one.false / one.weeks:13.2f} {one.lag1:6.2f} {one.width:6.2f}"
        )


if __name__ == "__main__":
    main()
