"""Daily medians on plant days."""

from __future__ import annotations

import datetime as dt

import numpy as np

from dashboards.clock import DAY, HOUR, MINUTE, PlantClock
from dashboards.daily import as_steps, at_setpoint, daily, plant_days

MADRID = PlantClock("Europe/Madrid")


def instant(*local: int) -> int:
    return int(dt.datetime(*local, tzinfo=MADRID._zone).timestamp()) * 10**9  # type: ignore[arg-type]


def test_a_day_begins_at_midnight_of_the_plant() -> None:
    start = instant(2026, 5, 4)
    t = start + 10 * MINUTE * np.arange(3 * 144, dtype=np.int64)
    days = daily(t, (np.arange(3 * 144) // 144).astype(float), MADRID)
    assert days.start.tolist() == [instant(2026, 5, d) for d in (4, 5, 6)]
    assert days.median.tolist() == [0, 1, 2]


def test_days_of_changing_clocks_keep_their_cells() -> None:
    start = instant(2026, 3, 28)
    t = start + HOUR * np.arange(72, dtype=np.int64)
    days, cells = np.unique(plant_days(t, MADRID), return_counts=True)
    assert days.tolist() == [instant(2026, 3, 28), instant(2026, 3, 29), instant(2026, 3, 30), instant(2026, 3, 31)]
    assert cells.tolist() == [24, 23, 24, 1]


def test_too_few_cells_make_no_day() -> None:
    t = np.arange(0, DAY, HOUR, dtype=np.int64)
    y = np.full(24, np.nan)
    y[3:5] = 7.0
    assert len(daily(t, y, PlantClock("UTC"))) == 0
    y[5] = 9.0
    assert daily(t, y, PlantClock("UTC")).median.tolist() == [7.0]


def test_only_the_present_set_point_is_compared() -> None:
    y, wanted = np.array([10.0, 20.0, 30.0]), np.array([215.0, 230.0, 215.5])
    kept = at_setpoint(y, wanted, 215.0)
    assert np.isnan(kept[1]) and kept[[0, 2]].tolist() == [10, 30]
    assert at_setpoint(y, np.full(3, np.nan), None) is y


def test_steps_leave_gaps_between_days() -> None:
    t = np.arange(0, 2 * DAY, HOUR, dtype=np.int64)
    steps = as_steps(daily(t, np.ones(48), PlantClock("UTC")))
    assert len(steps[0]) == 6 and np.isnan(steps[1][2]) and np.isnan(steps[1][5])
