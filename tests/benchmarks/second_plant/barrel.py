"""Barrel, adapter and die as a row of zones: heater band, steel, couple, and the melt that passes them.

Wall: lumped heat balance of band and steel with loss to the hall and conduction to the neighbours. Melt: enthalpy
balance marched upwind through the zones (Tadmor & Gogos, Principles of Polymer Processing, energy balance of a
well-mixed slice). Control: PI in velocity form, derivative on the measurement (Astrom & Hagglund, PID Controllers).
"""

from __future__ import annotations

import numpy as np

from tests.benchmarks.second_plant.noise import coloured
from tests.benchmarks.second_plant.spec import LineSpec

STEP_S = 5.0
COUPLE_S = 20.0
NEIGHBOUR_W_K = 9.0
LOSS_W_K = 3.5
COOL_SPLIT = 0.45
"""Cooling bites harder than heating: what is asked below zero is cut by this."""


class Barrel:
    """State of all zones. What faults change: heater (part alive), stuck_w, cool (gain), cool_leak, couple_off,
    couple_gain, couple_fixed (NaN = works), gain and reset_s of the controllers, manual (NaN = automatic).
    """

    def __init__(self, spec: LineSpec, seconds: int, rng: np.random.Generator, start_c: float | None) -> None:
        zones, count = spec.zones, len(spec.zones)
        self.melt = spec.melt
        self.set_c = np.array([float(zone.set_c) for zone in zones])
        begin = self.set_c.copy() if start_c is None else np.full(count, float(start_c))
        self.wall, self.band, self.couple, self.depth = begin.copy(), begin + 8.0, begin.copy(), begin.copy()
        self.before, self.before2 = begin.copy(), begin.copy()
        self.error = self.set_c - begin
        self.cool_w = np.array([float(zone.cool_w) for zone in zones])
        self.output = np.full(count, 15.0)
        self.asked = self.output.copy()
        self.least = np.where(self.cool_w > 0, -100 / COOL_SPLIT, 0.0)
        self.heater_w = np.array([float(zone.heater_w) for zone in zones])
        self.steel = np.array([float(zone.steel_j_k) for zone in zones])
        self.wall_w_k = np.array([float(zone.wall_w_k) for zone in zones])
        self.shear = np.array([zone.shear for zone in zones]) / sum(zone.shear for zone in zones)
        # Melting work goes in where the first half of the screw kneads, viscous work everywhere.
        first = np.arange(count) < (count + 1) // 2
        self.melts = self.shear * first / float((self.shear * first).sum())
        self.enthalpy = [spec.melt.enthalpy(t) for t in begin]
        self.melt_c = begin.copy()
        self.heater = np.ones(count)
        self.stuck_w = np.zeros(count)
        self.cool = np.ones(count)
        self.cool_leak = np.zeros(count)
        self.couple_off = np.zeros(count)
        self.couple_gain = np.ones(count)
        self.couple_fixed = np.full(count, np.nan)
        self.manual = np.full(count, np.nan)
        self.gain = rng.uniform(3.5, 5.5, count)
        self.reset_s = rng.uniform(350, 500, count)
        self.rate_s = np.full(count, 20.0)
        steps = int(seconds / STEP_S) + 2
        day = np.arange(steps) * STEP_S / 86400
        self.hall = 22 + 3 * np.sin(2 * np.pi * (day + rng.uniform())) + coloured(rng, steps, 0.6, 200)
        self.mains = 1 + coloured(rng, steps, 0.012, 120)
        self._draught = np.stack([coloured(rng, steps, 0.05, 60) for _ in zones])
        self._noise = np.stack([coloured(rng, steps, 0.04, 1.5) for _ in zones])
        self._hold = 0.3 * spec.rate_kg_h / 300

    def step(self, k: int, flows: list[float], melting_w: float, viscous_w: float, running: bool) -> None:
        """Five seconds. flows: kg/s along the screw; melting_w, viscous_w: heat from the drive; running: turning."""
        hall = float(self.hall[k])
        heat = np.clip(self.output, 0, 100) / 100 * self.heater_w * self.heater * float(self.mains[k]) ** 2
        heat = np.maximum(heat, self.stuck_w)
        cold = np.clip(-self.output, 0, 100) / 100 * self.cool
        cold = np.maximum(cold, self.cool_leak) * self.cool_w * np.clip((self.wall - 18) / 180, 0, 1.4)
        to_steel = 90.0 * (self.band - self.wall)
        self.band += STEP_S / 4500 * (heat - to_steel)
        row = np.concatenate((self.wall[:1], self.wall, self.wall[-1:]))
        neighbours = NEIGHBOUR_W_K * (row[:-2] + row[2:] - 2 * self.wall)
        loss = LOSS_W_K * (1 + self._draught[:, k]) * (self.wall - hall)
        contact = self.wall_w_k * (self.wall - self.melt_c) * (1.0 if running else 0.4)
        self.wall += STEP_S / self.steel * (to_steel + neighbours - loss - contact - cold)
        at = np.linspace(0, len(flows) - 1, self.wall.size)
        passing = np.interp(at, np.arange(len(flows)), flows)
        self._march(passing, melting_w * self.melts + viscous_w * self.shear, contact, hall)
        closer = 1 - np.exp(-STEP_S / COUPLE_S)
        self.depth += closer * (self.wall - self.depth)
        self.couple += closer * (self.depth - self.couple)
        read = hall + (self.couple - hall) * self.couple_gain + self.couple_off + self._noise[:, k]
        self._control(np.where(np.isnan(self.couple_fixed), read, self.couple_fixed))

    def _march(self, passing: np.ndarray, drive_w: np.ndarray, contact: np.ndarray, hall: float) -> None:
        ahead = self.melt.enthalpy(hall)
        store = self._hold / STEP_S
        heat_w = (contact + drive_w).tolist()
        for zone, (kg_s, gained_w) in enumerate(zip(passing.tolist(), heat_w, strict=True)):
            held = (store * self.enthalpy[zone] + kg_s * ahead + gained_w) / (store + kg_s)
            self.enthalpy[zone] = ahead = held
            self.melt_c[zone] = self.melt.temperature(held)

    def _control(self, read: np.ndarray) -> None:
        error = self.set_c - read
        change = self.gain * (error - self.error) + self.gain * STEP_S / self.reset_s * error
        change -= self.gain * self.rate_s / STEP_S * (read - 2 * self.before + self.before2)
        self.asked = np.clip(self.asked + change, self.least, 100)
        both = np.where(self.asked < 0, COOL_SPLIT * self.asked, self.asked)
        self.output = np.where(np.isnan(self.manual), both, self.manual)
        self.error, self.before2, self.before = error, self.before, read
        self.read = read
