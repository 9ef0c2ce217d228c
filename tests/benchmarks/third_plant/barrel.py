"""Zones: band, steel, couple and controller, with shear heat and what the neighbours give.

Lumped heat balance over the hall temperature in units of C at full effect; control is PI with clamping.
"""

from __future__ import annotations

import numpy as np

from tests.benchmarks.third_plant.knobs import Knobs
from tests.benchmarks.third_plant.machine import Machine

NEIGHBOUR = 0.15
COOL_C = 700.0
"""Fall at full cooling, C, of a wall 150 C over the water."""
TOP_OF_RANGE_C = 400.0
STEAM_S = 140.0
DRAUGHT_C, DRAUGHT_S = 5.0, 600.0
"""What air and mains take and give at a zone, in C of steady rise, and how long it lasts."""


class Barrel:
    """State of all zones."""

    def __init__(self, machine: Machine, rng: np.random.Generator, start: str) -> None:
        zones = machine.zones
        pick = lambda name: np.array([float(getattr(z, name)) for z in zones])  # noqa: E731
        self.gain, self.shear, self.tau = pick("gain_c"), pick("shear_c"), pick("tau_s")
        self.band_s, self.kp, self.reset_s, self.set_c = pick("band_s"), pick("kp"), pick("reset_s"), pick("set_c")
        self.cooled = np.array([z.cooled for z in zones])
        self.limit, self.melt_c, self.rng = machine.output_limit, machine.melt_c, rng
        self.steel = self.set_c.copy() if start != "cold" else np.full(len(zones), 24.0)
        row = np.concatenate((self.steel[:1], self.steel, self.steel[-1:]))
        needs = self.steel - 24.0 - NEIGHBOUR * (row[:-2] + row[2:] - 2 * self.steel)
        needs = (needs - (self.shear if start == "steady" else 0.0)) / self.gain * 100
        cooling = needs * self.gain / COOL_C / np.clip((self.steel - 23) / 150, 0.05, 1.3)
        needs = np.where(needs < 0, cooling, needs) if start != "cold" else np.zeros(len(zones))
        self.integral, self.heat = needs, np.maximum(needs, 0)
        self.output = needs.copy()
        self.deep, self.couple, self.read = self.steel.copy(), self.steel.copy(), self.steel.copy()
        self.draught = np.zeros(len(zones))
        self.shown, self.current = self.steel.copy(), np.zeros(len(zones))

    def step(self, dt: float, second: float, knobs: Knobs, work: float, flow: float, melt_c: float) -> None:
        """Advance by dt. work: shaft power over nominal. flow: over nominal. melt_c: melt at the tip."""
        line, many = knobs.line, {name: np.array(values) for name, values in knobs.many.items() if len(values)}
        mode, hall = many["couple"], line["hall_c"]
        noise = self.rng.standard_normal(self.steel.size) * 0.06
        fixed = np.where(
            mode == 1, TOP_OF_RANGE_C, np.where(mode == 2, hall + 3 + 0.02 * (self.steel - hall), self.read)
        )
        self.read = np.where(mode == 0, self.couple, fixed)
        seen = np.where(mode == 0, self.read + noise, self.read)
        self.shown = seen[many["reads"].astype(int)]
        error = many["set"] - self.shown
        kp = self.kp * many["gain"]
        output = kp * error + self.integral
        reset = self.reset_s * many["reset"]
        pinned = ((output > self.limit) & (error > 0)) | ((output < np.where(self.cooled, -100, 0)) & (error < 0))
        held = pinned | (mode == 1)
        self.integral = np.clip(
            np.where(held, self.integral, self.integral + kp * error * dt / reset), -100, self.limit
        )
        output = np.clip(output, np.where(self.cooled, -100.0, 0.0), self.limit)
        output = np.where(mode == 1, 0.0, output)
        self.output = np.where(many["manual"] > -900, many["manual"], output)
        heating = np.maximum(np.maximum(self.output, 0), many["stuck_pct"]) * many["heater"] * line["mains"] ** 2
        cooling = np.maximum(np.maximum(-self.output, 0) * many["cool"], many["cool_leak"])
        self.current = heating * 0.16 / line["mains"]
        self.heat += (heating - self.heat) * np.minimum(1, dt / self.band_s)
        row = np.concatenate((self.steel[:1], self.steel, self.steel[-1:]))
        rise = self.gain * self.heat / 100 - COOL_C * cooling / 100 * np.clip(
            (self.steel - line["water_c"] - 5) / 150, 0, 1.3
        )
        rise += hall - self.steel + NEIGHBOUR * (row[:-2] + row[2:] - 2 * self.steel)
        rise += self.shear * min(max(work, 0.0), 2.0) * line["shear"]
        rise += 0.10 * min(1.0, flow) * (melt_c - self.steel - (self.melt_c - self.set_c))
        keep = float(np.exp(-dt / DRAUGHT_S))
        shock = self.rng.standard_normal(self.steel.size) * (1 - keep * keep) ** 0.5
        self.draught = self.draught * keep + DRAUGHT_C * shock
        rise += self.draught
        flash = many["steam"] * (1.0 if second % STEAM_S < 30 else -0.27)
        self.steel += dt * (rise / self.tau - flash / 60)
        self.deep += (self.steel - self.deep) * min(1.0, dt / 12)
        part = many["couple_part"]
        slow = np.where(part < 1, 90.0, 6.0)
        self.couple += (hall + part * (self.deep - hall) - self.couple) * np.minimum(1, dt / slow)
