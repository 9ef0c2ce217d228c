"""What one line of the second plant is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Melt:
    """Power-law melt. Values from memory of Osswald, International Plastics Handbook, rounded.

    n: flow index. b_per_c: relative fall of viscosity per C (Arrhenius, made linear in ln). melting_c, latent_j_kg:
    0 latent for amorphous. cp_*: J/kg K.
    """

    n: float
    b_per_c: float
    melting_c: float
    latent_j_kg: float
    cp_solid: float
    cp_melt: float

    def enthalpy(self, t_c: float) -> float:
        """J/kg over 0 C."""
        if t_c <= self.melting_c:
            return self.cp_solid * t_c
        return self.cp_solid * self.melting_c + self.latent_j_kg + self.cp_melt * (t_c - self.melting_c)

    def temperature(self, h: float) -> float:
        """C at an enthalpy, with the plateau while crystals melt."""
        solid = self.cp_solid * self.melting_c
        if h <= solid:
            return h / self.cp_solid
        over = h - solid - self.latent_j_kg
        return self.melting_c if over <= 0 else self.melting_c + over / self.cp_melt


@dataclass(frozen=True)
class FeederSpec:
    """A loss-in-weight feeder. ln_visc: what a kilogram of it in a kilogram of melt adds to ln(viscosity).

    refill_kg_s: speed of refilling; by hand where `hand`. tank: where along the screw it enters, 0 the throat.
    """

    name: str
    share_pct: float
    ln_visc: float = 0.0
    hopper_kg: float = 40.0
    refill_kg_s: float = 1.2
    hand: bool = False
    noise_kg: float = 0.010
    step_kg: float = 0.01
    wander: float = 0.015
    tank: int = 0
    liquid: bool = False
    drive_pct: float = 45.0


@dataclass(frozen=True)
class ZoneSpec:
    """A heated zone. shear: its part of the drive's heat. steel_j_k: heat it stores per C."""

    name: str
    set_c: float
    shear: float
    kind: Literal["feed", "barrel", "adapter", "screen", "die"] = "barrel"
    heater_w: float = 4000.0
    cool_w: float = 7000.0
    steel_j_k: float = 30000.0
    wall_w_k: float = 16.0


@dataclass(frozen=True)
class LineSpec:
    """A line. Nominal figures (rate, rpm, pressures, torque) hold at its recipe with a clean screen.

    screw: twin (starve-fed), grooved or smooth (flood-fed). die_bar, screen_bar: nominal drops. transit_s: residence in
    the part-filled stretch. filled_kg: melt held ahead of the die. vent_room: filled length over nominal at which it
    reaches the vent. intake: what the throat can take over nominal. drag: conveying over nominal of the filled length.
    """

    name: str
    screw: Literal["twin", "grooved", "smooth"]
    rate_kg_h: float
    rpm: float
    rpm_max: float
    rated_kw: float
    torque_pct: float
    melt: Melt
    die_bar: float
    screen_bar: float
    transit_s: float
    filled_kg: float
    zones: tuple[ZoneSpec, ...]
    feeders: tuple[FeederSpec, ...] = ()
    vent: bool = False
    vent_room: float = 2.2
    intake: float = 1.7
    drag: float = 2.5
    pump: bool = False
    pump_suction_bar: float = 45.0
    hopper_kg: float = 120.0
    cadence_s: int = 1
    cake_bar_h: float = 0.6
    second_recipe: bool = False
    stop_min: tuple[float, float] = (25, 45)
