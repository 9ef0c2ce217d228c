"""When a log could first show a fault, from the simulator's true course with and without it.

The same machine is run twice with the same noise, once without the fault. A fault is visible where a logged channel,
over half a minute, is further from its course without it than an engineer would take for the day's scatter and than
four times the channel's own scatter; or where it swings more, or stands still while it should live.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.third_plant.channels import Channel
from tests.benchmarks.third_plant.machine import Machine
from tests.benchmarks.third_plant.plant import Course
from tests.benchmarks.third_plant.truth import Truth

Floats = NDArray[np.float64]
BLOCK_S = 30.0
HOLDS, SHARP, SWING, SWING_C = 4, 2.5, 1.5, 2.4
"""Blocks for which it must hold; so many times the threshold one block is enough, or a swing; C where a zone swings."""
SWING_BLOCKS, FLAT_S = 10, 600.0
AFTER_MIN = 2.0
BY_WEIGHT = {"refill_unheard", "valve_leaks", "echoed", "hopper_empty"}
"""Faults that a weight shows; for others a weight only differs because refills come at other times."""


def known_minute(machine: Machine, tags: list[Channel], with_it: Course, without: Course, truth: Truth) -> float:
    """Minute at which the log could first show a fault, NaN where it never does."""
    if truth.given_min == truth.given_min:
        return truth.given_min if _given_holds(machine, with_it, truth) else float("nan")
    first = [
        _first(machine, tag, with_it, without, truth)
        for tag in tags
        if tag.key not in ("weight", "hopper") or truth.fault in BY_WEIGHT
    ]
    found = [minute for minute in first if minute == minute]
    return min(found) if found else float("nan")


def _given_holds(machine: Machine, course: Course, truth: Truth) -> bool:
    """A cold start is one only where some steel past the feed is well below what melts the product."""
    if truth.fault != "cold_start":
        return True
    at = int(truth.given_min * 60 / course.step_s)
    steel = course.values["steel"][at, len(machine.zones) // 2 :]
    return bool(steel.min() < machine.melting_c - 15)


def practical(machine: Machine, tag: Channel) -> float:
    """Difference an engineer would not take for the day's scatter, in the unit of the course."""
    m, key = machine, tag.key
    if key in ("fed", "fed_set"):
        return 0.04 * m.rate_kg_h * m.part(tag.index or 0)
    if key == "drive":
        return 0.1 * m.feeders[tag.index or 0].drive_pct
    if key == "weight":
        return 0.08 * m.feeders[tag.index or 0].hopper_kg
    return {
        "zone": 3.0,
        "set": 3.0,
        "output": 8.0,
        "amps": 2.0,
        "speed": 0.03 * m.speed_rpm,
        "speed_set": 0.03 * m.speed_rpm,
        "load": 0.07 * m.net_pct,
        "bar": max(1.5, 0.06 * m.pressure_bar),
        "before_pump": max(1.5, 0.08 * m.pressure_bar),
        "suction": 0.15 * m.suction_bar,
        "after_screen": max(1.5, 0.07 * m.pressure_bar),
        "melt": 5.0,
        "vacuum": 30.0,
        "oil": 8.0,
        "throat_c": 8.0,
        "hall": 99.0,
        "bath": 6.0,
        "cutter": 200.0,
        "product": 0.5,
        "pump": 0.05 * m.pump_rpm,
        "rate": 0.04 * m.rate_kg_h,
        "stuffer": 8.0,
        "injection": 4.0,
        "hopper": 0.08 * m.hopper_kg,
        "refill": 9.0,
        "gravimetric": 0.5,
    }[key]


def _first(machine: Machine, tag: Channel, with_it: Course, without: Course, truth: Truth) -> float:
    step, per = machine.cadence_s, max(1, round(BLOCK_S / machine.cadence_s))
    every = round(machine.cadence_s / with_it.step_s)
    f, c = _column(with_it, tag)[::every], _column(without, tag)[::every]
    begin, end = (
        int(truth.start_min * 60 / step),
        int((max(truth.end_min, truth.start_min + 4) + AFTER_MIN) * 60 / step),
    )
    begin -= begin % per
    f_rows, c_rows = _blocks(f[begin:end], per), _blocks(c[begin:end], per)
    if len(f_rows) < HOLDS:
        return float("nan")
    limit = max(practical(machine, tag), 4 * _scatter(_blocks(c, per).mean(axis=1)), _grain(tag))
    away = np.abs(f_rows.mean(axis=1) - c_rows.mean(axis=1)) / limit
    found = [
        _held(away > 1, HOLDS),
        _held(away > SHARP, 1),
        _swings(f_rows, c_rows, SWING_C if tag.key == "zone" else SWING * limit),
        _flat(f_rows, c_rows, tag),
    ]
    blocks = min(found)
    return float("nan") if blocks == np.inf else max(truth.start_min, (begin + blocks * per) * step / 60)


def _grain(tag: Channel) -> float:
    """A step of the recorder where it is coarse, in the unit of the course."""
    return 0.0 if tag.unit in ("", "MPa", "psi", "N m", "lb/h") else 10.0**-tag.decimals


def _column(course: Course, tag: Channel) -> Floats:
    values = course.values[tag.key]
    return values if tag.index is None else values[:, tag.index]


def _blocks(values: Floats, per: int) -> Floats:
    whole = len(values) // per
    return values[: whole * per].reshape(whole, per)


def _scatter(means: Floats) -> float:
    """Robust scatter of block means, from their steps."""
    steps = np.abs(np.diff(means))
    return float(1.4826 * np.median(steps) / np.sqrt(2)) if steps.size else 0.0


def _held(mask: NDArray[np.bool_], blocks: int) -> float:
    """End of the first run of so many blocks, in blocks."""
    run = 0
    for i, value in enumerate(mask.tolist()):
        run = run + 1 if value else 0
        if run >= blocks:
            return i + 1
    return np.inf


def _swings(f: Floats, c: Floats, limit: float) -> float:
    """End of the first five minutes in which the channel swings by so much more than it would."""
    for i in range(1, len(f) + 1):
        a, b = f[max(0, i - SWING_BLOCKS) : i], c[max(0, i - SWING_BLOCKS) : i]
        if _spread(a) - _spread(b) > limit:
            return i
    return np.inf


def _spread(rows: Floats) -> float:
    """From the second lowest to the second highest reading: a single one may be a slip of the recorder."""
    ordered = np.sort(rows, axis=None)
    return float(ordered[-2] - ordered[1])


def _flat(f: Floats, c: Floats, tag: Channel) -> float:
    """End of the first ten minutes without any life where there would be some."""
    if tag.key not in ("bar", "zone"):
        return np.inf
    blocks = int(FLAT_S / BLOCK_S) * (3 if tag.key == "zone" else 1)
    step = 10.0**-tag.decimals
    for i in range(blocks, len(f) + 1):
        if np.ptp(f[i - blocks : i]) < 0.5 * step and np.ptp(c[i - blocks : i]) > 3 * step:
            return i
    return np.inf
