"""What goes on in an ordinary shift. Each doing adds its changes, its words and the findings it deserves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.third_plant.knobs import Change, minute
from tests.benchmarks.third_plant.line_files import Product
from tests.benchmarks.third_plant.machine import Machine
from tests.benchmarks.third_plant.truth import Case

Rng = np.random.Generator


@dataclass
class Doing:
    """Where a doing writes. rate: part of nominal that is run now. base: part the recipe in force wants."""

    case: Case
    rng: Rng
    at: float
    rate: float = 1.0
    base: float = 1.0

    @property
    def m(self) -> Machine:
        """The machine."""
        return self.case.machine

    def add(self, words: str, *changes: Change) -> None:
        """Write changes down."""
        self.case.life += changes
        self.case.story.append(f"{self.at:.0f} min: {words}")


def rate_and_speed(m: Machine, at: float, part: float, ramp_s: float = 45.0) -> list[Change]:
    """Rate and speed together; on a flood-fed line the speed alone, with its pump."""
    found = [minute(at, "speed", m.speed_rpm * part, ramp_s)]
    if m.starve_fed:
        found.append(minute(at, "rate", m.rate_kg_h * part, ramp_s))
    if m.kind == "single_pump":
        found.append(minute(at, "pump", m.pump_rpm * part, ramp_s))
    return found


def stop_and_start(m: Machine, at: float, back: float, part: float = 1.0) -> list[Change]:
    """Feed off, screw run out, standing; screw first, feed after it, both up in five minutes.

    The vacuum is shut off with the feed and comes on when the melt is through.
    """
    found = [minute(at, "rate", 0.0), minute(at + 1.5, "speed", 0.0), minute(at + 1.5, "pump", 0.0, 10)]
    speed, rate, pump = m.speed_rpm * part, m.rate_kg_h * part, m.pump_rpm * part
    found += [minute(back, "speed", 0.4 * speed, 20), minute(back + 0.8, "rate", 0.5 * rate, 40)]
    found += [minute(back + 0.6, "pump", 0.4 * pump, 20), minute(back + 3, "speed", speed, 150)]
    found += [minute(at + 0.5, "vacuum", 980.0, 20), minute(back + 9, "vacuum", 60.0, 60)]
    return [*found, minute(back + 3.2, "rate", rate, 150), minute(back + 3, "pump", pump, 150)]


def trim_speed(d: Doing) -> None:
    """A few percent by hand, for good."""
    part = 1 + float(d.rng.choice((-1, 1))) * float(d.rng.uniform(0.015, 0.03))
    d.add(f"trimmed to {part:.3f}", *rate_and_speed(d.m, d.at, d.rate * part, 30))
    d.rate *= part
    d.case.allowed.add("setpoint_not_recipe")


def change_rate(d: Doing) -> None:
    """Rate and speed by 5 to 12 % of nominal; not said in the recipe."""
    d.rate = d.base * (1 + float(d.rng.choice((-1, 1))) * float(d.rng.uniform(0.05, 0.12)))
    d.add(f"rate and speed to {d.rate:.3f}", *rate_and_speed(d.m, d.at, d.rate))
    d.case.allowed.add("setpoint_not_recipe")


def trim_zone(d: Doing) -> None:
    """One zone by 2 C."""
    zone = int(d.rng.integers(1, len(d.m.zones)))
    set_c = d.m.zones[zone].set_c + float(d.rng.choice((-2, 2)))
    d.add(f"{d.m.zones[zone].name} set to {set_c:.0f} C", minute(d.at, "set", set_c, of=zone))
    d.case.allowed.add("setpoint_not_recipe")


def hall_moves(d: Doing) -> None:
    """The hall warms or cools in two hours."""
    to = 24 + float(d.rng.uniform(-6, 7))
    d.add(f"hall goes to {to:.0f} C", minute(d.at, "hall_c", to, 7200))


def new_lot(d: Doing) -> None:
    """A raw-material lot a few percent off."""
    part = 1 + float(d.rng.uniform(-0.045, 0.045))
    d.add(f"lot {100 * (part - 1):+.1f} %", minute(d.at, "viscosity", part, 600))


def by_hand(d: Doing) -> None:
    """From now on a feeder is filled by hand: four minutes a time."""
    if d.m.feeders and d.m.feeders[0].weighed:
        i = int(d.rng.integers(len(d.m.feeders)))
        d.add(f"{d.m.feeders[i].name} filled by hand", minute(d.at, "by_hand", 1.0, of=i))


def leans(d: Doing) -> None:
    """Somebody leans on a hopper."""
    if d.m.feeders and d.m.feeders[0].weighed:
        i = int(d.rng.integers(len(d.m.feeders)))
        kg = 0.05 * d.m.feeders[i].hopper_kg * float(d.rng.uniform(0.3, 1.5))
        ends = d.at + float(d.rng.uniform(5, 20)) / 60
        d.add(f"leaned on {d.m.feeders[i].name}", minute(d.at, "lean_kg", kg, of=i), minute(ends, "lean_kg", 0.0, of=i))


def mains_sag(d: Doing) -> None:
    """Mains 5 to 8 % down for some minutes."""
    ends = d.at + float(d.rng.uniform(1, 12))
    d.add("mains sag", minute(d.at, "mains", float(d.rng.uniform(0.92, 0.96))), minute(ends, "mains", 1.0))


def vent_cleaned(d: Doing) -> None:
    """The vent is opened for three to five minutes."""
    if d.m.vent:
        ends = d.at + float(d.rng.uniform(3, 5))
        d.add("vent cleaned", minute(d.at, "vacuum", 950.0, 10), minute(ends, "vacuum", 60.0, 60))


def stops(d: Doing) -> None:
    """A planned stop, in its order, and a start; PVC may stand for a quarter of an hour only."""
    back = d.at + float(d.rng.uniform(4, 14 if d.m.kind == "pvc" else 25))
    d.add(f"stop until {back:.0f}", *stop_and_start(d.m, d.at, back, d.rate))


def fresh_screen(d: Doing) -> None:
    """A screen that fills by a fifth of the pressure's screen part, changed in a stop."""
    if d.m.screen_part > 0:
        back = d.at + float(d.rng.uniform(6, 15))
        begins = max(5.0, d.at - 90)
        filled = 1 + float(d.rng.uniform(0.1, 0.3))
        changes = [minute(begins, "screen", filled, (d.at - begins) * 60), minute(d.at + 3, "screen", 1.0)]
        d.add("screen changed in a stop", *changes, *stop_and_start(d.m, d.at, back, d.rate))
        d.case.allowed.add("screen_blinding")


def bolt_changer(d: Doing) -> None:
    """A bolt changer halves the area for half a minute."""
    if d.m.screen_part > 0 and d.m.kind != "pvc":
        at, up = d.at, 1 + 0.35 / d.m.screen_part
        d.add(
            "screen bolt changed",
            minute(at, "screen", up),
            minute(at + 0.5, "screen", 0.9),
            minute(at + 0.7, "screen", 1.0),
        )


def autotune(d: Doing) -> None:
    """One controller tunes itself: the zone swings for ten minutes."""
    zone = int(d.rng.integers(1, len(d.m.zones)))
    changes = [minute(d.at, "gain", 2.5, of=zone), minute(d.at, "reset", 0.055, of=zone)]
    changes += [minute(d.at + 10, "gain", 1.0, of=zone), minute(d.at + 10, "reset", 1.0, of=zone)]
    d.add(f"autotune of {d.m.zones[zone].name}", *changes)


def recipe_change(d: Doing) -> None:
    """Another product as the schedule has it: rate, speed and zones."""
    part, warm = float(d.rng.uniform(0.85, 0.97)), float(d.rng.choice((-8.0, -5.0, 5.0)))
    d.case.product = Product(d.at, part, part, warm)
    changes = rate_and_speed(d.m, d.at, part)
    changes += [minute(d.at, "set", z.set_c + warm, of=i) for i, z in enumerate(d.m.zones) if z.kind != "feed"]
    d.add("next product", *changes)
    d.rate = d.base = part


def weighed_badly(d: Doing) -> None:
    """A feeder scatters more than usual for an hour: a lumpy material."""
    if d.m.feeders and d.m.feeders[0].weighed:
        i = int(d.rng.integers(len(d.m.feeders)))
        d.add("lumpy feed", minute(d.at, "noise", 2.5, of=i), minute(d.at + 60, "noise", 1.0, of=i))


def loader_late(d: Doing) -> None:
    """The loader over a flood-fed throat pauses, not long enough to empty it."""
    if d.m.hopper_kg > 0:
        lasts = 0.25 * d.m.hopper_kg / d.m.rate_kg_h * 60
        d.add("loader late", minute(d.at, "loader", 0.0), minute(d.at + lasts, "loader", 1.0))
        d.case.allowed |= {"refill_not_answered"}


def start_up(m: Machine, at: float) -> list[Change]:
    """Screw, then feed, up in some minutes; vacuum when melt is through."""
    rows = [minute(0, "vacuum", 985.0), minute(at + 10, "vacuum", 60.0, 60), minute(at, "speed", 0.3 * m.speed_rpm, 30)]
    rows += [minute(at + 0.7, "rate", 0.4 * m.rate_kg_h, 30), minute(at + 0.6, "pump", 0.3 * m.pump_rpm, 30)]
    rows += [minute(at + 5, "speed", m.speed_rpm, 200), minute(at + 5.2, "rate", m.rate_kg_h, 200)]
    return [*rows, minute(at + 5, "pump", m.pump_rpm, 200)]


def minutes_to_heat(case: Case, but: int | None = None) -> float:
    """When all zones of a cold machine (one left out) have come within 3 C of their set-points, min."""
    from tests.benchmarks.third_plant.plant import simulate

    course = simulate(case.machine, case.life, 200, case.seed, "cold")
    away = abs(course.values["zone"] - course.values["set"])
    if but is not None:
        away[:, but] = 0
    there = away.max(axis=1) < 3
    return float(there.argmax() * course.step_s / 60) if there.any() else 190.0


def recorder(kind: str) -> Callable[[Doing], None]:
    """What a recorder does: a gap, zeros written on a restart, single spikes."""

    def doing(d: Doing) -> None:
        d.case.recorder += (kind,)
        d.case.story.append(f"recorder: {kind}")
        if kind == "gap":
            d.case.allowed.add("data_stopped")

    return doing


QUIET: tuple[Callable[[Doing], None], ...] = (
    trim_zone, hall_moves, new_lot, by_hand, leans, mains_sag, weighed_badly, trim_speed,
)  # fmt: skip
"""What goes on around a fault."""
SHIFT: tuple[Callable[[Doing], None], ...] = (
    *QUIET, change_rate, vent_cleaned, stops, fresh_screen, bolt_changer, autotune, recipe_change, loader_late,
    recorder("gap"), recorder("zeros"), recorder("spikes"),
)  # fmt: skip
"""What goes on in a clean shift."""
