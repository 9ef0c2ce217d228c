"""What one line of the third plant is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["twin", "pvc", "single", "single_pump", "single_starved", "twin_flooded"]
STARVE_FED = ("twin", "pvc", "single_starved")
"""Kinds whose rate is set by feeders; on the others the screw takes what it can from a full throat."""


@dataclass(frozen=True)
class Zone:
    """A heated zone. gain_c: rise over the hall at full heat, C. shear_c: rise by shear at nominal load, C.

    tau_s: of the steel. band_s: of the heater band. kp: %/C of the controller. reset_s: its integral time.
    """

    name: str
    set_c: float
    kind: Literal["feed", "barrel", "adapter", "screen", "die"]
    element: str
    gain_c: float
    shear_c: float
    cooled: bool
    tau_s: float
    band_s: float
    kp: float
    reset_s: float


@dataclass(frozen=True)
class Feeder:
    """A feeder. torque: part by which torque rises when its share doubles. weighed: loss in weight."""

    name: str
    share_pct: float
    material: str
    hopper_kg: float
    zone: str
    drive_pct: float
    side: bool = False
    liquid: bool = False
    weighed: bool = True
    torque: float = 0.0
    wander: float = 0.012


@dataclass(frozen=True)
class Dialect:
    """How a plant writes: language of tags, units, shape (wide, long, parquet). time_format '': seconds since 1970.

    holds_said: of a long log, whether the line file says how long a value holds.
    """

    language: str
    zone: str
    time_format: str
    delimiter: str
    comma: bool
    temperature: Literal["C", "degF"]
    pressure: str
    rate: Literal["kg/h", "lb/h"]
    load: str
    integers: bool
    shape: str
    holds_said: bool


@dataclass(frozen=True)
class Logged:
    """What this plant logs beside temperatures, set-points, speed, load, pressure and rates."""

    outputs: bool
    currents: bool
    drives: bool
    weights: bool
    melt: bool
    speed_setpoint: bool
    zone_setpoints: bool
    two_pressures: bool
    oil: bool
    throat: bool
    hall: bool
    stuffer: bool
    refill: bool


@dataclass(frozen=True)
class Machine:
    """A line. rate_kg_h, speed_rpm, pressure_bar, net_pct, melt_c: its nominal point.

    index: n of the power law. residence_s: mean. screen_part: of the pressure. idle_pct: load of the empty screw.
    room: largest intake over nominal. heat_c: melt rise per relative specific energy. scatter: of load and pressure.
    """

    kind: Kind
    diameter_mm: int
    length_d: int
    rate_kg_h: float
    speed_rpm: float
    speed_max: float
    rated_kw: float
    pressure_bar: float
    limit_bar: float
    index: float
    thins_per_c: float
    residence_s: float
    screen_part: float
    idle_pct: float
    net_pct: float
    melt_c: float
    heat_c: float
    room: float
    scatter: float
    melting_c: float
    amorphous: bool
    ceiling_c: float
    cadence_s: float
    zones: tuple[Zone, ...]
    feeders: tuple[Feeder, ...]
    output_limit: float
    hopper_kg: float
    vent: bool
    underwater: bool
    suction_bar: float
    pump_rpm: float
    zone_tolerance_c: float
    target_error: float
    dialect: Dialect
    logged: Logged

    @property
    def name(self) -> str:
        """The line's name in its own files."""
        return f"{self.kind.replace('_', ' ')} {self.diameter_mm}"

    @property
    def starve_fed(self) -> bool:
        """Whether feeders set the rate."""
        return self.kind in STARVE_FED

    def part(self, index: int) -> float:
        """Part of the whole a feeder gives."""
        return self.feeders[index].share_pct / 100

    @property
    def throat_part(self) -> float:
        """Part of the feed that enters at the throat."""
        if not self.feeders:
            return 1.0
        return sum(f.share_pct for f in self.feeders if not f.side and not f.liquid) / 100

    @property
    def rich(self) -> bool:
        """Whether more than the plain set is logged."""
        return self.logged.outputs or self.logged.drives or self.logged.weights
