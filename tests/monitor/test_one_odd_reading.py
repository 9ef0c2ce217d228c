"""One reading that is wrong, in any channel and at any cadence, is nothing of priority 1 or 2 for any condition.

Zero, below zero, full scale, what loggers write where they have none and what nothing can be, in a channel whose range
the line file does not give: each for one reading only, minutes apart; the next reading is a good one again.
Whatever really happens is still there at the second reading.
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np
import pytest

from monitor.conditions.registry import CONDITIONS
from monitor.line import Line
from tests.monitor.conditions.told import changed, seconds, told, without
from tests.monitor.scripted_world import FEEDERS, Script
from tests.monitor.world_path import path_line, path_recipe, path_script, pump_line

FROM_S, APART_S = 5400.0, 420.0
"""The first when everything is learned; the next when the means of minutes have forgotten it."""

ODD: dict[str, Callable[[float], float]] = {
    "zero": lambda usual: 0.0,
    "below zero": lambda usual: -0.25 * abs(usual) - 1,
    "full scale": lambda usual: 4 * abs(usual) + 10,
}

WRITTEN: dict[str, Callable[[float], float]] = {
    "16 bits": lambda usual: 32767.0,
    "16 bits, a decimal": lambda usual: 6553.5,
    "nines": lambda usual: -999.0,
}
"""What loggers write in the place of a reading, far out of any sensor's range."""

FAR: dict[str, Callable[[float], float]] = {
    "a number": lambda usual: 12345.0,
    "far above": lambda usual: 150 * abs(usual) + 1000,
    "far below": lambda usual: -150 * abs(usual) - 1000,
}
"""No number that anybody knows: a bit that fell over."""


def running(line: Line, seconds_of_log: float) -> Script:
    return path_script(int(seconds_of_log), line)


def standing_cold(line: Line, seconds_of_log: float) -> Script:
    """Heaters off, screw and feeders standing: what reads one turn of the screw must not cry for a cold start."""
    s = path_script(int(seconds_of_log), line)
    still = ("screw_speed", "torque", "feeder_rate", "feeder_setpoint", "feeder_drive", "melt_pressure", "vacuum",
             "haul_off", "cutter", "gearbox_oil_pressure")  # fmt: skip
    for key in s.x:
        if key.startswith(still):
            s.put(key, 0, s.n * s.cadence, 0.0)
        if key.startswith(("zone_temperature", "zone_setpoint", "melt_temperature")):
            s.x[key][:] = 60.0 + s.noise(0.1)
        if key.startswith("zone_output"):
            s.put(key, 0, s.n * s.cadence, 0.0)
    for feeder in FEEDERS:
        if f"feeder_weight:{feeder}" in s.x:
            s.x[f"feeder_weight:{feeder}"][:] = 40 + s.noise(0.01)
            s.x[f"feeder_refill:{feeder}"][:] = 0
    return s


LINES: dict[str, Callable[[], Line]] = {
    "all logged": path_line,
    "one pressure": lambda: path_line("twin-screw", P1="before_screen"),
    "no pressure": lambda: without(path_line(), "melt_pressure"),
    "flood-fed with pump": pump_line,
}


def odd_readings(s: Script, odd: dict[str, Callable[[float], float]]) -> list[tuple[float, str, str]]:
    """Puts them in; when, where and what."""
    usual = {key: float(np.median(values)) for key, values in s.x.items()}
    plan = [(name, key) for name in odd for key in s.line.channels]
    out = [(FROM_S + APART_S * place, key, name) for place, (name, key) in enumerate(plan)]
    for at, key, name in out:
        s.x[key][int(at / s.cadence)] = odd[name](usual[key])
    return out


def length_s(line: Line) -> float:
    return FROM_S + APART_S * (len(ODD) * len(line.channels) + 1)


@functools.cache
def said_undisturbed(logged: str, cadence_s: float, life: Callable[[Line, float], Script]) -> set[tuple[str, str]]:
    """(condition, channel) of what is of priority 1 or 2 in the log without odd readings."""
    line = changed(LINES[logged](), line={"cadence_s": cadence_s})
    found = told(life(line, length_s(line)), *CONDITIONS, recipe=path_recipe(line.line.kind))
    return {(f.last.condition, f.last.channel) for f in found if f.last.priority <= 2}


@pytest.mark.parametrize("odd", [ODD, WRITTEN, FAR], ids=["odd", "written", "far"])
@pytest.mark.parametrize(
    ("logged", "cadence_s", "life"),
    [
        *(("all logged", cadence_s, life) for cadence_s in (1.0, 2.0, 5.0, 10.0) for life in (running, standing_cold)),
        *((logged, cadence_s, running) for logged in list(LINES)[1:] for cadence_s in (2.0, 10.0)),
    ],
)
def test_it_is_nothing(
    logged: str, cadence_s: float, life: Callable[[Line, float], Script], odd: dict[str, Callable[[float], float]]
) -> None:
    line = changed(LINES[logged](), line={"cadence_s": cadence_s})
    usual = said_undisturbed(logged, cadence_s, life)
    s = life(line, length_s(line))
    plan = odd_readings(s, odd)

    found = [f for f in told(s, *CONDITIONS, recipe=path_recipe(line.line.kind)) if f.last.priority <= 2]

    assert [
        (next(p for p in reversed(plan) if p[0] <= (seconds(f.first_decided_at) or 0)), f.last.summary)
        for f in found
        if (f.last.condition, f.last.channel) not in usual
    ] == []
