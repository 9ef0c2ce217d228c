"""Faults of heaters, cooling, couples, set-points, starts and stops."""

from __future__ import annotations

from collections.abc import Callable

from tests.benchmarks.third_plant.knobs import minute
from tests.benchmarks.third_plant.life import minutes_to_heat, start_up, stop_and_start
from tests.benchmarks.third_plant.scene import ANY, FED, TWIN, Scenario, Scene

S = Scenario


def _on_zone(
    fault: str, knob: str, *ranges: tuple[float, float], ramp_s: float = 0.0, cooled: bool | None = None
) -> Callable[[Scene], None]:
    """A fault of one zone that moves one knob by size."""

    def write(s: Scene) -> None:
        i = s.zone(lambda z: cooled is None or z.cooled is cooled)
        s.goes(knob, s.sized(*ranges), ramp_s, i)
        s.true(fault, s.m.zones[i].name)

    return write


def _same(value: float) -> tuple[tuple[float, float], ...]:
    return ((value, value),) * 3


def phase_lost(s: Scene) -> None:
    """Every third zone without heat."""
    first = int(s.rng.integers(3))
    lost = [i for i, zone in enumerate(s.m.zones) if i % 3 == first and zone.kind != "feed"]
    for i in lost:
        s.goes("heater", 0.0, of=i)
    s.true("phase_lost", *(s.m.zones[i].name for i in lost))


def couple_open(s: Scene) -> None:
    """Open, up-scale; mended after a while."""
    i, lasts = s.zone(), s.between(8, 30)
    s.passes("couple", 1.0, 0, lasts, i, back=0.0)
    s.true("couple_open", s.m.zones[i].name, lasts=lasts)


def couple_frozen(s: Scene) -> None:
    """Frozen; then the set-points of its neighbours are moved, so that its own need changes."""
    i = s.zone(lambda z: z.kind == "barrel")
    s.goes("couple", 3.0, of=i)
    near = [j for j in (i - 1, i + 1) if 0 < j < len(s.m.zones)]
    for j in near:
        s.case.life.append(minute(s.at + 10, "set", s.m.zones[j].set_c + s.between(8, 12), 30, j))
    s.case.allowed |= {"setpoint_not_recipe", "recipe_window", "zone_over_temperature", "melt_over_temperature"}
    s.true("couple_frozen", s.m.zones[i].name)


def couples_swapped(s: Scene) -> None:
    """Two couples exchanged, heated from cold."""
    i = s.zone(lambda z: z.kind == "barrel" and z.name != s.m.zones[-1].name)
    j = i + 2 if i + 2 < len(s.m.zones) else i - 1
    s.case.minutes = 120.0
    s.at = 0.0
    s.does(minute(0, "reads", float(j), of=i), minute(0, "reads", float(i), of=j))
    s.true("couples_swapped", s.m.zones[i].name, s.m.zones[j].name)


def probe_drifts(s: Scene) -> None:
    """The melt probe goes its own way."""
    off = s.sized((11, 13), (14, 18), (20, 26)) * float(s.rng.choice((-1, 1)))
    s.goes("probe_c", off, s.between(300, 1500))
    s.true("probe_drifts", "M1")


def cooling_weak(s: Scene) -> None:
    """Scaled cooling, found out by a higher speed with more shear."""
    cooled = [i for i, z in enumerate(s.m.zones) if z.cooled and z.kind != "feed"]
    i = max(cooled, key=lambda n: s.m.zones[n].shear_c / s.m.zones[n].set_c)
    s.goes("cool", s.sized((0.15, 0.2), (0.08, 0.14), (0.0, 0.06)), of=i)
    s.case.life.append(minute(s.at + 2, "speed", s.m.speed_rpm * 1.1, 120))
    z = s.m.zones[i]
    s.case.life.append(minute(s.at + 2, "shear", min(2.5, 1.2 * (z.set_c - 24) / z.shear_c), 300))
    s.case.allowed |= {"setpoint_not_recipe", "sme_off", "recipe_window", "melt_over_temperature"}
    s.true("cooling_weak", s.m.zones[i].name)


def hunts(s: Scene) -> None:
    """A controller whose integral is far too quick."""
    i = s.zone(lambda z: z.cooled)
    s.goes("gain", s.between(1.8, 3.5), of=i)
    s.goes("reset", s.sized((0.05, 0.058), (0.042, 0.049), (0.03, 0.04)), of=i)
    s.true("hunts", s.m.zones[i].name)


def manual(s: Scene) -> None:
    """A zone left in manual, its output some points off what it needs."""
    i = s.zone(lambda z: z.kind == "barrel")
    z = s.m.zones[i]
    needs = max(0.0, (z.set_c - 24 - z.shear_c) / z.gain_c * 100)
    off = s.sized((3, 4), (5, 7), (8, 12)) * float(s.rng.choice((-1, 1)))
    s.goes("manual", max(0.0, needs + off), of=i)
    s.true("manual", z.name)


def zone_set_wrong(s: Scene) -> None:
    """A set-point keyed in wrong."""
    i = s.zone()
    off = s.sized((6, 9), (12, 18), (20, 30)) * float(s.rng.choice((-1, 1)))
    s.goes("set", s.m.zones[i].set_c + off, of=i)
    s.true("zone_set_wrong", s.m.zones[i].name)


def zone_set_wrong_before(s: Scene) -> None:
    """The same, since before the log."""
    s.at = 0.0
    zone_set_wrong(s)


def speed_set_wrong(s: Scene) -> None:
    """Speed set by hand off the recipe."""
    part = 1 + s.sized((0.05, 0.06), (0.07, 0.1), (0.11, 0.15)) * float(s.rng.choice((-1, 1)))
    s.goes("speed", s.m.speed_rpm * part, 20)
    s.true("speed_set_wrong")


def throat_hot(s: Scene) -> None:
    """Cooling water of the throat is lost."""
    s.goes("throat_c", s.sized((14, 18), (20, 28), (30, 40)), s.between(600, 1500))
    s.true("throat_hot")


def cold_start(s: Scene) -> None:
    """The screw is turned while the die is far from molten: its heater was on late."""
    last = len(s.m.zones) - 1
    s.case.life = [minute(0, "heater", 0.2, of=last)]
    s.at = minutes_to_heat(s.case, last) + s.between(8, 25)
    s.case.minutes = s.at + 40
    s.does(*start_up(s.m, s.at))
    s.true("cold_start", given=s.at)


def short_soak(s: Scene) -> None:
    """All zones are at set, but only just: no soak."""
    s.at = minutes_to_heat(s.case) + s.between(1, 3)
    s.case.minutes = s.at + 45
    s.does(*start_up(s.m, s.at))
    s.true("short_soak", lasts=10, given=s.at)


def hot_hold(s: Scene) -> None:
    """Stopped full and hot for longer than the material may."""
    allowed = 20.0 if s.m.kind == "pvc" else 60.0
    stop = 30.0
    back = stop + allowed + s.sized((10, 14), (16, 24), (26, 40))
    s.at = stop + allowed
    s.case.minutes = back + 30
    s.case.life = stop_and_start(s.m, stop, back)
    s.true("hot_hold", lasts=back - s.at, given=s.at + 1.5)


def filler_first(s: Scene) -> None:
    """Filler runs into empty screws before the base polymer."""
    s.at, s.case.minutes = 12.0, 60.0
    m, lasts = s.m, s.between(3, 6)
    side = next(i for i, f in enumerate(m.feeders) if f.side)
    s.case.life += [minute(0, "vacuum", 985.0), minute(10, "speed", 0.35 * m.speed_rpm, 30)]
    calm = [minute(s.at + lasts, "rate", 0.4 * m.rate_kg_h, 10), minute(s.at + lasts + 5, "speed", m.speed_rpm, 200)]
    s.case.life += [
        *calm,
        minute(s.at + lasts + 5.2, "rate", m.rate_kg_h, 200),
        minute(s.at + lasts + 12, "vacuum", 60.0, 60),
    ]
    for i in range(len(m.feeders)):
        if i != side:
            s.goes("share", 0.0, of=i, after=-0.2)
            s.goes("share", m.part(i), of=i, after=lasts)
    s.goes("rate", 0.4 * m.rate_kg_h, 10)
    s.true("filler_first", m.feeders[side].name, lasts=lasts, given=s.at + 0.5)


def never_starts(s: Scene) -> None:
    """One feeder stays off at the start."""
    s.case.minutes = 80.0
    i = s.feeder(lambda f: f.share_pct < 50)
    s.at = 11.0
    s.case.life += start_up(s.m, 10.0)
    s.does(minute(0, "tripped", 1.0, of=i))
    s.true("never_starts", s.m.feeders[i].name)


def pressure_missing(s: Scene) -> None:
    """Pressure shows nothing while the load climbs."""
    s.case.minutes, s.at = 70.0, 10.0
    s.case.life += start_up(s.m, 10.0)
    s.does(minute(0.1, "pressure_frozen", 1.0))
    s.true("pressure_missing", "P1", begins=2)


HEAT = (
    S("heater_dead", _on_zone("heater_dead", "heater", *_same(0.0)), ANY, 5),
    S("bands_dead", _on_zone("bands_dead", "heater", (0.68, 0.75), (0.45, 0.6), (0.25, 0.4)), ANY, 3),
    S("phase_lost", phase_lost, ANY, 2),
    S("stuck_on", _on_zone("stuck_on", "stuck_pct", (58, 65), (70, 85), (90, 100)), ANY, 3),
    S("cooling_leaks", _on_zone("cooling_leaks", "cool_leak", (7, 9), (11, 16), (20, 30), cooled=True), ANY, 2),
    S("cooling_weak", cooling_weak, ("twin",), 2, True, needs=("outputs",)),
    S("steam", _on_zone("steam", "steam", (5, 6), (7, 8), (9, 11), cooled=True), ANY, 1),
    S("hunts", hunts, ANY, 2, minutes=70),
    S("manual", manual, ANY, 2, True, needs=("outputs",)),
    S("couple_open", couple_open, ANY, 3),
    S("couple_short", _on_zone("couple_short", "couple", *_same(2.0)), ANY, 3),
    S("couple_loose", _on_zone("couple_loose", "couple_part", (0.955, 0.97), (0.92, 0.945), (0.85, 0.9)), ANY, 3),
    S("couple_frozen", couple_frozen, ANY, 1, True, needs=("outputs",), minutes=70),
    S("couples_swapped", couples_swapped, ANY, 2, start="cold"),
    S("probe_drifts", probe_drifts, ANY, 2, needs=("melt",)),
    S("zone_set_wrong", zone_set_wrong, ANY, 2, needs=("zone_setpoints",)),
    S("zone_set_wrong", zone_set_wrong_before, ANY, 1, needs=("zone_setpoints",)),
    S("speed_set_wrong", speed_set_wrong, ("twin", "single", "pvc"), 2, needs=("speed_setpoint",)),
    S("throat_hot", throat_hot, ANY, 1, True, needs=("throat",)),
    S("cold_start", cold_start, ANY, 2, start="cold"),
    S("short_soak", short_soak, ANY, 1, start="cold"),
    S("hot_hold", hot_hold, ANY, 2),
    S("filler_first", filler_first, TWIN, 1, big=True, start="hot"),
    S("never_starts", never_starts, TWIN, 2, start="hot"),
    S("pressure_missing", pressure_missing, FED, 2, start="hot"),
)
