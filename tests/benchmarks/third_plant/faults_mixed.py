"""Faults that come soon after a change or a start, that come together, or that come again."""

from __future__ import annotations

from tests.benchmarks.third_plant.life import rate_and_speed, stop_and_start
from tests.benchmarks.third_plant.scene import FED, FULL, WEIGHED, Scenario, Scene

S = Scenario
FEEDERS_AWARE = ("single_starved", "twin")


def _changed(s: Scene) -> None:
    """Rate and speed were changed 3 to 12 minutes before."""
    part = 1 + float(s.rng.choice((-1, 1))) * s.between(0.06, 0.1)
    s.case.life += rate_and_speed(s.m, s.at - s.between(3.5, 12), part)
    s.case.allowed.add("setpoint_not_recipe")


def chute_after_change(s: Scene) -> None:
    """The chute blocks."""
    _changed(s)
    lasts = s.between(12, 25)
    s.passes("path", 1 - s.sized((0.35, 0.4), (0.42, 0.5), (0.55, 0.7)), 20, lasts)
    s.true("chute_blocked", lasts=lasts)


def chute_after_restart(s: Scene) -> None:
    """The chute blocks soon after a stop."""
    s.case.life += stop_and_start(s.m, s.at - 30, s.at - s.between(14, 20))
    lasts = s.between(14, 25)
    s.passes("path", 1 - s.sized((0.35, 0.4), (0.42, 0.5), (0.55, 0.7)), 20, lasts)
    s.true("chute_blocked", lasts=lasts)


def bridged_after_change(s: Scene) -> None:
    """A feeder bridges."""
    _changed(s)
    i, lasts = s.feeder(lambda f: not f.liquid), s.between(5, 12)
    s.passes("flow", s.sized((0.25, 0.32), (0.15, 0.25), (0.05, 0.12)), 20, lasts, i)
    s.true("bridged", s.m.feeders[i].name, lasts=lasts)


def throat_after_change(s: Scene) -> None:
    """The throat bridges."""
    _changed(s)
    lasts = s.between(12, 20)
    s.passes("throat", 1 - s.sized((0.3, 0.36), (0.38, 0.46), (0.5, 0.6)), 30, lasts)
    s.true("throat_bridged", lasts=lasts)


def die_after_change(s: Scene) -> None:
    """The die restricts."""
    _changed(s)
    s.goes("die", 1 + s.sized((0.4, 0.5), (0.6, 0.8), (0.9, 1.3)), 60)
    s.true("die_blocks", "P1", "P2")


def heater_then_bridge(s: Scene) -> None:
    """A dead heater, then a bridge."""
    i = s.zone(lambda z: z.shear_c < 0.4 * z.set_c)
    s.goes("heater", 0.0, of=i)
    s.true("heater_dead", s.m.zones[i].name)
    s.at += s.between(25, 35)
    f, lasts = s.feeder(lambda f: not f.liquid), s.between(6, 12)
    s.passes("flow", s.between(0.05, 0.2), 30, lasts, f)
    s.true("bridged", s.m.feeders[f].name, lasts=lasts)


def couple_then_chute(s: Scene) -> None:
    """An open couple, then a blocked chute."""
    i = s.zone(lambda z: z.kind == "barrel")
    s.goes("couple", 1.0, of=i)
    s.true("couple_open", s.m.zones[i].name)
    s.at += s.between(20, 30)
    lasts = s.between(12, 18)
    s.passes("path", 1 - s.sized((0.35, 0.4), (0.42, 0.5), (0.55, 0.65)), 20, lasts)
    s.true("chute_blocked", lasts=lasts)


def screen_then_throat(s: Scene) -> None:
    """A screen fills while the throat bridges."""
    s.goes("screen", 1 + s.between(0.3, 0.45) / s.m.screen_part, 3000)
    s.true("screen_blinds", "P1")
    s.at += s.between(45, 55)
    lasts = s.between(12, 18)
    s.passes("throat", 1 - s.sized((0.3, 0.34), (0.36, 0.42), (0.45, 0.55)), 30, lasts)
    s.true("throat_bridged", lasts=lasts)


def chute_and_die(s: Scene) -> None:
    """Chute blocked and die half plugged at once: the pressure hardly moves, the load falls."""
    lasts = s.between(18, 28)
    block = s.sized((0.3, 0.34), (0.36, 0.42), (0.45, 0.5))
    s.goes("die", 1 + (1 / (1 - block) ** s.m.index - 1) / (1 - s.m.screen_part), 60)
    s.passes("path", 1 - block, 30, lasts)
    s.true("chute_blocked", lasts=lasts)


def bridged_twice(s: Scene) -> None:
    """The same hopper bridges again."""
    i = s.feeder(lambda f: not f.liquid)
    for _ in range(2):
        lasts = s.between(6, 9)
        s.passes("flow", s.sized((0.22, 0.3), (0.12, 0.22), (0.04, 0.1)), 20, lasts, i)
        s.true("bridged", s.m.feeders[i].name, lasts=lasts)
        s.at += 28


def scale_and_vacuum(s: Scene) -> None:
    """A scale knocked, and the vacuum lost."""
    i = s.feeder(lambda f: not f.liquid)
    s.goes("span", 1 - s.between(0.12, 0.18), of=i)
    s.true("span_low", s.m.feeders[i].name)
    s.at += 6
    if s.m.vent:
        s.goes("vacuum", s.between(300, 600), 60)
        s.true("vacuum_lost", "V1")


MIXED = (
    S("chute_after_change", chute_after_change, FED, 6, family="after change"),
    S("chute_after_restart", chute_after_restart, FED, 2, family="after change"),
    S("bridged_after_change", bridged_after_change, WEIGHED, 3, family="after change"),
    S("throat_after_change", throat_after_change, FULL, 2, family="after change"),
    S(
        "die_after_change",
        die_after_change,
        ("twin", "single", "single_starved", "twin_flooded"),
        2,
        family="after change",
    ),
    S("heater_then_bridge", heater_then_bridge, WEIGHED, 1, family="together"),
    S("couple_then_chute", couple_then_chute, FED, 1, family="together"),
    S("screen_then_throat", screen_then_throat, ("single", "twin_flooded"), 2, family="together", minutes=85),
    S("chute_and_die", chute_and_die, ("twin", "single_starved"), 1, family="together"),
    S("bridged_twice", bridged_twice, WEIGHED, 1, family="together"),
    S("scale_and_vacuum", scale_and_vacuum, ("twin",), 1, True, needs=("drives",), family="together"),
)
