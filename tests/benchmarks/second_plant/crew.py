"""What the crew does in a shift, as set-points over time and a few doings; seeded, without looking at the plant."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.second_plant.spec import LineSpec

Floats = NDArray[np.float64]


@dataclass
class Plan:
    """Set-points each second (screw and pump speed and rate relative to nominal) and doings.

    zone_moves: second, zone, C. screens: seconds at which a fresh screen stands. vents: vent opened, from, to.
    pauses: feeder, from, to. change: (second, recipe 2 begins). start_c: cold barrel. wrong: (second, feeder, factor).
    """

    seconds: int
    speed: Floats
    rate: Floats
    zone_moves: list[tuple[int, int, float]] = field(default_factory=list)
    screens: list[int] = field(default_factory=list)
    vents: list[tuple[int, int]] = field(default_factory=list)
    pauses: list[tuple[str, int, int]] = field(default_factory=list)
    change: int = 0
    start_c: float | None = None
    heat_at: int = 0
    doings: list[tuple[int, str]] = field(default_factory=list)


def ramped(seconds: int, points: list[tuple[float, float]]) -> Floats:
    """A line through (second, value), held flat at both ends."""
    return np.interp(np.arange(seconds), [t for t, _ in points], [v for _, v in points])


def stop_points(at: float, minutes: float, speed: float, rate: float) -> tuple[list, list]:
    """Feeds off, screw run empty, standing still, then a start: screw first, feeds in steps. (speed, rate) points."""
    back = at + minutes * 60
    speeds = [(at, speed), (at + 70, speed), (at + 100, 0.0), (back, 0.0), (back + 30, 0.45 * speed)]
    speeds += [(back + 120, 0.45 * speed), (back + 600, speed)]
    rates = [(at, rate), (at + 1, 0.0), (back + 39, 0.0), (back + 40, 0.4 * rate), (back + 130, 0.4 * rate)]
    rates += [(back + 600, rate)]
    return speeds, rates


def clean_shift(spec: LineSpec, rng: np.random.Generator, hours: float = 12.0) -> Plan:
    """Twelve ordinary hours: small changes, a stop with a fresh screen and a restart, vent cleaned, feeder tested."""
    seconds = int(hours * 3600)
    hour = lambda low, high: float(rng.uniform(low, high)) * 3600  # noqa: E731
    quick, slow = 1 + float(rng.uniform(0.02, 0.045)), 1 - float(rng.uniform(0.06, 0.1))
    faster, stop, slower, later = hour(1.2, 2.0), hour(4.0, 5.0), hour(6.8, 7.4), hour(9.8, 10.4)
    minutes = float(rng.uniform(*spec.stop_min))
    speeds, rates = stop_points(stop, minutes, quick, 1.0)
    speed = [(0.0, 1.0), (faster, 1.0), (faster + 20, quick), *speeds, (slower, quick), (slower + 60, slow * quick)]
    rate = [(0.0, 1.0), *rates, (slower, 1.0), (slower + 60, slow)]
    plan = Plan(seconds, np.empty(0), np.empty(0))
    plan.screens = [int(stop + minutes * 30)]
    zone = int(rng.integers(2, len(spec.zones) - 1))
    plan.zone_moves = [(int(hour(2.5, 3.3)), zone, 3.0), (int(hour(8.6, 9.0)), zone, -3.0)]
    if spec.vent:
        at = int(hour(8.0, 8.4))
        plan.vents = [(at, at + int(rng.uniform(120, 300)))]
    if spec.feeders:
        name = spec.feeders[-1].name
        plan.pauses = [(name, int(stop + 300), int(stop + 540))]
    if spec.second_recipe:
        plan.change = int(later + 900)
        rate += [(later, slow), (later + 30, 0.5 * slow), (plan.change, 0.5 * slow), (plan.change + 300, 0.95)]
        speed += [(later, slow * quick), (later + 30, 0.8 * quick), (plan.change, 0.8), (plan.change + 300, 1.0)]
    else:
        rate += [(later, slow), (later + 120, 1.0)]
        speed += [(later, slow * quick), (later + 120, quick)]
        plan.screens.append(int(hour(11.0, 11.4)))
    plan.speed, plan.rate = ramped(seconds, speed), ramped(seconds, rate)
    plan.doings = [(int(faster), "speed up"), (int(stop), "stop"), (int(stop + minutes * 60), "restart")]
    plan.doings += [
        (int(slower), "rate and speed down"),
        (int(later), "change"),
        *((s, "screen") for s in plan.screens),
    ]
    plan.doings += [(a, f"vent open to {b}") for a, b in plan.vents]
    plan.doings += [(t, f"zone {spec.zones[z].name} {d:+g} C") for t, z, d in plan.zone_moves]
    return plan


def fault_shift(spec: LineSpec, rng: np.random.Generator, hours: float = 6.0) -> Plan:
    """Six hours with one small change of speed; the fault comes later."""
    seconds = int(hours * 3600)
    at, quick = float(rng.uniform(0.8, 1.1)) * 3600, 1 + float(rng.uniform(-0.04, 0.04))
    plan = Plan(seconds, ramped(seconds, [(0, 1.0), (at, 1.0), (at + 20, quick)]), np.ones(seconds))
    plan.doings = [(int(at), "small speed change")]
    return plan


def cold_start_shift(spec: LineSpec, rng: np.random.Generator, early: float) -> Plan:
    """Heated from cold. early: screw turned at this part of the usual 100 min of heating and soaking."""
    seconds = 4 * 3600
    at = 900 + 6000 * early
    speed = [(0, 0.0), (at, 0.0), (at + 40, 0.3), (at + 240, 0.3), (at + 700, 1.0)]
    rate = [(0, 0.0), (at + 59, 0.0), (at + 60, 0.35), (at + 240, 0.35), (at + 700, 1.0)]
    plan = Plan(seconds, ramped(seconds, speed), ramped(seconds, rate), start_c=24.0, heat_at=900)
    plan.doings = [(900, "heat on"), (int(at), "screw on")]
    return plan


def hot_hold_shift(spec: LineSpec, rng: np.random.Generator, minutes: float) -> Plan:
    """Stopped full and hot for `minutes`, then started again."""
    seconds = 6 * 3600
    at = int(rng.uniform(1.2, 1.6) * 3600)
    speeds, rates = stop_points(at, minutes, 1.0, 1.0)
    plan = Plan(seconds, ramped(seconds, [(0, 1.0), *speeds]), ramped(seconds, [(0, 1.0), *rates]))
    plan.doings = [(at, "stop"), (int(at + minutes * 60), "restart")]
    return plan
