"""From a course to the columns of a log, with what happens to recorders; and when the log begins."""

from __future__ import annotations

import datetime as dt

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.third_plant.channels import Channel, kept
from tests.benchmarks.third_plant.plant import Course
from tests.benchmarks.third_plant.truth import Case

Floats = NDArray[np.float64]


def start_of(case: Case) -> dt.datetime:
    """UTC. A log in which the clock is put back begins an hour or two before that."""
    rng = np.random.default_rng(case.seed + 1)
    if "clock" in case.recorder:
        day = dt.datetime(2027, 11, 7, 5, tzinfo=dt.UTC) if case.machine.dialect.language == "us" else None
        return (day or dt.datetime(2027, 10, 30, 23, tzinfo=dt.UTC)) + dt.timedelta(seconds=int(rng.integers(1800)))
    day = dt.datetime(2027, 1, 4, tzinfo=dt.UTC) + dt.timedelta(days=int(rng.integers(60)))
    return day + dt.timedelta(hours=int(rng.integers(4, 16)), seconds=int(rng.integers(3600)))


def recorded(case: Case, course: Course, tags: list[Channel]) -> tuple[list[Floats], NDArray[np.bool_]]:
    """Columns and which rows were kept."""
    rng = np.random.default_rng(case.seed + 2)
    columns = [kept(case.machine, course, tag) for tag in tags]
    rows = len(columns[0])
    keep = np.ones(rows, bool)
    if "gap" in case.recorder:
        for length_s in (420, 50):
            first = int(rng.integers(rows // 4, rows - 600 // int(case.machine.cadence_s) - 1))
            keep[first : first + int(length_s / case.machine.cadence_s)] = False
    if "zeros" in case.recorder:
        first = int(rng.integers(rows // 3, rows - 100))
        for column in columns:
            column[first : first + max(1, int(10 / case.machine.cadence_s))] = 0.0
    if "spikes" in case.recorder:
        for column, tag in zip(columns, tags, strict=True):
            if tag.role in ("zone_temperature", "torque", "melt_temperature") and rng.random() < 0.4:
                column[int(rng.integers(rows // 3, rows - 10))] *= 1.4
    return columns, keep
