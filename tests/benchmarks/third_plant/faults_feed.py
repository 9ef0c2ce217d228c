"""Faults of feeding: what falls, what the feeders say, what the screw takes."""

from __future__ import annotations

from tests.benchmarks.third_plant.knobs import minute
from tests.benchmarks.third_plant.scene import FED, FULL, PUMPED, TWIN, WEIGHED, Scenario, Scene

S = Scenario


def chute_blocked(s: Scene) -> None:
    """Part of the throat feed stays above a blockage while every feeder is on set."""
    lasts = s.between(12, 40)
    s.passes("path", 1 - s.sized((0.14, 0.22), (0.28, 0.45), (0.5, 0.75)), s.between(10, 60), lasts)
    s.true("chute_blocked", lasts=lasts)


def chute_closes(s: Scene) -> None:
    """Over an hour or so."""
    s.goes("path", 1 - s.sized((0.15, 0.2), (0.22, 0.3), (0.32, 0.45)), s.between(1800, 4200))
    s.true("chute_closes")


def side_path(s: Scene) -> None:
    """The side feed does not get in."""
    lasts = s.between(12, 25)
    s.passes("side_path", 1 - s.sized((0.4, 0.5), (0.55, 0.75), (0.8, 1.0)), 20, lasts)
    s.true("side_path", lasts=lasts)


def throat_bridged(s: Scene) -> None:
    """A flood-fed throat bridges."""
    lasts = s.between(10, 30)
    s.passes("throat", 1 - s.sized((0.13, 0.2), (0.25, 0.38), (0.45, 0.65)), s.between(20, 80), lasts)
    s.true("throat_bridged", lasts=lasts)


def throat_slow(s: Scene) -> None:
    """It bridges over an hour."""
    s.goes("throat", 1 - s.sized((0.15, 0.2), (0.22, 0.3), (0.32, 0.42)), s.between(1800, 3300))
    s.true("throat_slow")


def hopper_empty(s: Scene) -> None:
    """The loader is off; the hopper over the throat runs empty."""
    s.goes("loader", 0.0)
    s.true("hopper_empty")


def surging(s: Scene) -> None:
    """Feed comes in waves."""
    s.goes("surge_s", s.between(35, 75))
    s.goes("surge", s.sized((0.18, 0.24), (0.26, 0.36), (0.4, 0.55)), 60)
    s.true("surging")


def bridged(s: Scene) -> None:
    """A hopper bridges; the controller drives to its limit."""
    i, lasts = s.feeder(lambda f: not f.liquid), s.between(7, 20)
    s.passes("flow", s.sized((0.28, 0.36), (0.15, 0.28), (0.03, 0.12)), s.between(10, 90), lasts, i)
    s.true("bridged", s.m.feeders[i].name, lasts=lasts)


def part_bridged(s: Scene) -> None:
    """Less falls for a turn, but the drive can still make up for it, or nearly."""
    i = s.feeder(lambda f: not f.liquid)
    s.goes("flow", s.sized((0.7, 0.8), (0.55, 0.68), (0.42, 0.5)), s.between(60, 1500), i)
    s.true("part_bridged", s.m.feeders[i].name)


def tripped(s: Scene) -> None:
    """A feeder stops."""
    i = s.feeder()
    lasts = s.between(3, 6) if s.m.feeders[i].share_pct > 50 else s.between(10, 40)
    s.passes("tripped", 1.0, 0, lasts, i, back=0.0)
    s.true("tripped", s.m.feeders[i].name, lasts=lasts)


def echoed(s: Scene) -> None:
    """Bridged behind a rate that only repeats its set-point."""
    i, lasts = s.feeder(lambda f: not f.liquid and f.share_pct > 8), s.between(12, 30)
    s.goes("echo", 1.0, of=i)
    s.passes("flow", s.sized((0.5, 0.6), (0.3, 0.45), (0.1, 0.25)), 40, lasts, i)
    s.true("echoed", s.m.feeders[i].name, lasts=lasts)


def refill_unheard(s: Scene) -> None:
    """No refill comes; the hopper runs empty."""
    i = s.feeder(lambda f: not f.liquid)
    s.goes("no_refill", 1.0, of=i)
    s.true("refill_unheard", s.m.feeders[i].name)


def span_low(s: Scene) -> None:
    """The scale reads part of what leaves: the drive goes up, too much falls."""
    i = s.feeder(lambda f: not f.liquid)
    s.goes("span", 1 - s.sized((0.07, 0.1), (0.11, 0.15), (0.16, 0.22)), of=i)
    s.true("span_low", s.m.feeders[i].name)


def span_high(s: Scene) -> None:
    """The scale reads more than leaves: too little falls."""
    i = s.feeder(lambda f: not f.liquid)
    s.goes("span", 1 + s.sized((0.08, 0.11), (0.12, 0.16), (0.17, 0.24)), of=i)
    s.true("span_high", s.m.feeders[i].name)


def factor_moved(s: Scene) -> None:
    """Bulk density or build-up: less a turn, made up for by the drive."""
    i = s.feeder(lambda f: not f.liquid)
    s.goes("density", 1 - s.sized((0.13, 0.18), (0.2, 0.28), (0.3, 0.4)), s.between(60, 4200), i)
    s.true("factor_moved", s.m.feeders[i].name)


def flushing(s: Scene) -> None:
    """Aerated powder runs through for some minutes."""
    i, lasts = s.feeder(lambda f: not f.liquid), s.between(2.5, 6)
    s.passes("flush", s.sized((0.7, 1.0), (1.1, 1.6), (1.8, 2.5)), 5, lasts, i, back=0.0)
    s.true("flushing", s.m.feeders[i].name, lasts=lasts)


def prime_lost(s: Scene) -> None:
    """The liquid pump sucks air."""
    i = s.feeder(lambda f: f.liquid)
    s.goes("flow", 0.0, 20, i)
    s.goes("injection", 0.0, 20, i)
    s.true("prime_lost", s.m.feeders[i].name)


def nozzle_plugged(s: Scene) -> None:
    """The injection nozzle plugs: pressure up, flow down."""
    i = s.feeder(lambda f: f.liquid)
    s.goes("flow", s.sized((0.34, 0.4), (0.2, 0.3), (0.05, 0.15)), 240, i)
    s.goes("injection", s.between(8, 14), 240, i)
    s.true("nozzle_plugged", s.m.feeders[i].name)


def side_backs_up(s: Scene) -> None:
    """Fluff stands ahead of the side screws and lets go as a slug, twice."""
    i = next(i for i, f in enumerate(s.m.feeders) if f.side)
    size, lasts = s.sized((0.25, 0.35), (0.4, 0.55), (0.6, 0.8)), s.between(12, 18)
    for turn in range(2):
        begins = turn * (lasts + 2)
        s.goes("stuffer", 60 * size, 60 * lasts * 0.7, after=begins)
        s.goes("side_path", 1 - size, 60 * lasts * 0.5, after=begins)
        s.goes("side_path", 1 + 3 * size, after=begins + lasts)
        s.goes("stuffer", 0.0, 10, after=begins + lasts)
        s.goes("side_path", 1.0, 5, after=begins + lasts + 0.5)
    s.true("side_backs_up", s.m.feeders[i].name, lasts=2 * lasts + 3)


def wrong_material(s: Scene) -> None:
    """Another grade in the refill of the main feeder: lighter and thicker."""
    s.goes("material", s.sized((1.6, 2.0), (2.2, 2.8), (3.0, 4.0)), 90, 0)
    s.true("wrong_material", s.m.feeders[0].name)


def valve_leaks(s: Scene) -> None:
    """The refill slide lets some through all the time."""
    i = s.feeder(lambda f: not f.liquid and f.share_pct > 5)
    part = s.sized((0.12, 0.18), (0.2, 0.3), (0.35, 0.5))
    s.goes("leak_in", part * s.m.part(i) * s.m.rate_kg_h, of=i)
    s.true("valve_leaks", s.m.feeders[i].name)


def volumetric(s: Scene) -> None:
    """A feeder stays in volumetric."""
    i = s.feeder(lambda f: not f.liquid)
    s.goes("volumetric", 1.0, of=i)
    s.true("volumetric", s.m.feeders[i].name)


def share_set_wrong(s: Scene) -> None:
    """A wrong share keyed in."""
    i = s.feeder(lambda f: f.share_pct < 50)
    part = s.sized((0.12, 0.16), (0.2, 0.3), (0.45, 0.6))
    s.goes("wrong_set", 1 + part * float(s.rng.choice((-1, 1))), of=i)
    s.true("share_set_wrong", s.m.feeders[i].name)


def takes_less(s: Scene) -> None:
    """Fluffy feed: the intake takes less than is fed."""
    s.goes("bulk", (1 - s.sized((0.14, 0.2), (0.24, 0.34), (0.38, 0.5))) / s.m.room, s.between(60, 400))
    s.true("takes_less")


def overfed(s: Scene) -> None:
    """Rate raised far over the recipe at the same speed: load climbs, hunts, then the intake gives in."""
    up = s.sized((0.18, 0.24), (0.26, 0.34), (0.36, 0.46))
    s.case.life.append(minute(s.at, "rate", s.m.rate_kg_h * (1 + up), 120))
    s.goes("load_swing", 0.1, 120, after=3)
    s.goes("bulk", (1 + 0.3 * up) / s.m.room, 120, after=14)
    s.case.allowed |= {"setpoint_not_recipe", "recipe_window", "sme_off"}
    s.true("overfed", begins=2)


FEED = (
    S("chute_blocked", chute_blocked, FED, 8),
    S("chute_closes", chute_closes, FED, 2, minutes=100),
    S("side_path", side_path, TWIN, 2, big=True),
    S("throat_bridged", throat_bridged, (*FULL, *PUMPED), 6),
    S("throat_slow", throat_slow, (*FULL, *PUMPED), 2, minutes=80),
    S("hopper_empty", hopper_empty, (*FULL, *PUMPED), 2, True, needs=("weights",)),
    S("surging", surging, FULL, 3),
    S("bridged", bridged, WEIGHED, 5),
    S("part_bridged", part_bridged, WEIGHED, 2, True, needs=("drives",)),
    S("tripped", tripped, WEIGHED, 3),
    S("echoed", echoed, WEIGHED, 3),
    S("refill_unheard", refill_unheard, WEIGHED, 2, True, needs=("weights",)),
    S("span_low", span_low, WEIGHED, 2, True, needs=("drives",)),
    S("span_high", span_high, WEIGHED, 2, True, needs=("drives",)),
    S("factor_moved", factor_moved, WEIGHED, 2, True, needs=("drives",), minutes=90),
    S("flushing", flushing, WEIGHED, 2),
    S("prime_lost", prime_lost, TWIN, 1, True, True, ("drives",)),
    S("nozzle_plugged", nozzle_plugged, TWIN, 2, True, True, ("drives",)),
    S("side_backs_up", side_backs_up, TWIN, 2, True, True, ("stuffer",)),
    S("wrong_material", wrong_material, WEIGHED, 2, True, needs=("drives",)),
    S("valve_leaks", valve_leaks, WEIGHED, 2, True, needs=("weights", "drives")),
    S("volumetric", volumetric, WEIGHED, 1, True, needs=("refill", "weights")),
    S("share_set_wrong", share_set_wrong, TWIN, 2),
    S("takes_less", takes_less, FED, 3),
    S("overfed", overfed, FED, 3),
)
