"""Everything that people, weather and faults change in a plant, and the list of changes in time."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from tests.benchmarks.third_plant.machine import Machine


class Change(NamedTuple):
    """At a second, a knob goes to a value, within ramp_s. at: number of zone or feeder, None for the line's knobs."""

    second: float
    knob: str
    at: int | None
    value: float
    ramp_s: float = 0.0


def minute(at: float, knob: str, value: float, ramp_s: float = 0.0, of: int | None = None) -> Change:
    """A change given in minutes."""
    return Change(at * 60, knob, of, value, ramp_s)


LINE: dict[str, float] = {
    "hall_c": 24.0, "water_c": 18.0, "mains": 1.0, "viscosity": 1.0, "screen": 1.0, "die": 1.0, "leak": 1.0,
    "path": 1.0, "bulk": 1.0, "side_path": 1.0, "throat": 1.0, "surge": 0.0, "surge_s": 45.0, "loader": 1.0,
    "clutch": 1.0, "load_add": 0.0, "load_swing": 0.0, "speed_part": 1.0, "pump_slip": 0.0, "vacuum": 60.0,
    "zero_bar": 0.0, "pressure_frozen": 0.0, "tap_s": 0.0, "pressure_noise": 1.0, "probe_c": 0.0, "oil_c": 0.0,
    "throat_c": 0.0, "stuffer": 0.0, "bath_c": 32.0, "product": 1.0, "shear": 1.0,
}  # fmt: skip
"""Knobs of the line and where they stand while all is well. path: part of the throat feed that comes through.

bulk: what the screw can take. throat: what falls into a flood-fed screw. speed_part: turning over wanted speed.
"""
ZONE = {
    "heater": 1.0, "stuck_pct": 0.0, "cool": 1.0, "cool_leak": 0.0, "couple": 0.0, "couple_part": 1.0, "manual": -999.0,
    "gain": 1.0, "reset": 1.0, "steam": 0.0, "reads": -1.0,
}  # fmt: skip
"""Knobs of a zone. couple: 0 works, 1 open, 2 shorted, 3 frozen. reads: number of the zone whose couple it reads.

reset: part of the usual integral time.
"""
FEEDER = {
    "flow": 1.0, "density": 1.0, "tripped": 0.0, "span": 1.0, "no_refill": 0.0, "leak_in": 0.0, "volumetric": 0.0,
    "flush": 0.0, "echo": 0.0, "material": 0.0, "wrong_set": 1.0, "lean_kg": 0.0, "noise": 1.0, "injection": 1.0,
    "by_hand": 0.0,
}  # fmt: skip
"""Knobs of a feeder. flow: part of what the drive asks for that falls. span: reads this part of the truth."""


@dataclass
class Knobs:
    """Where all knobs stand now."""

    line: dict[str, float]
    many: dict[str, list[float]]
    waiting: list[Change]
    _moving: list[tuple[Change, float]] = field(default_factory=list)

    @staticmethod
    def of(machine: Machine, changes: list[Change], running: bool) -> Knobs:
        """Knobs of a machine at its nominal point, or at rest."""
        line = dict(LINE)
        line["speed"] = machine.speed_rpm if running else 0.0
        line["rate"] = machine.rate_kg_h if running else 0.0
        line["pump"] = machine.pump_rpm if running else 0.0
        zones, feeders = len(machine.zones), len(machine.feeders)
        many = {name: [value] * zones for name, value in ZONE.items()}
        many |= {name: [value] * feeders for name, value in FEEDER.items()}
        many["reads"] = [float(i) for i in range(zones)]
        many["set"] = [zone.set_c for zone in machine.zones]
        many["share"] = [feeder.share_pct / 100 for feeder in machine.feeders]
        return Knobs(line, many, sorted(changes, key=lambda c: c.second))

    def move_to(self, second: float) -> None:
        """Apply what is due."""
        while self.waiting and self.waiting[0].second <= second:
            change = self.waiting.pop(0)
            self._moving = [(c, b) for c, b in self._moving if (c.knob, c.at) != (change.knob, change.at)]
            if change.ramp_s > 0:
                self._moving.append((change, self._read(change)))
            else:
                self._write(change, change.value)
        for change, begin in self._moving:
            part = min(1.0, (second - change.second) / change.ramp_s)
            self._write(change, begin + (change.value - begin) * part)
        if self._moving:
            self._moving = [(c, b) for c, b in self._moving if second - c.second < c.ramp_s]

    def _read(self, change: Change) -> float:
        return self.line[change.knob] if change.at is None else self.many[change.knob][change.at]

    def _write(self, change: Change, value: float) -> None:
        if change.at is None:
            self.line[change.knob] = value
        else:
            self.many[change.knob][change.at] = value
