"""A feeder: hopper, dosing screw, loss-in-weight control, refill with its held rate, and what it reports."""

from __future__ import annotations

import math

import numpy as np

from tests.benchmarks.third_plant.knobs import Knobs
from tests.benchmarks.third_plant.machine import Feeder

LOW, FULL = 0.35, 0.93
HELD_S = 18.0
HAND_S = 240.0
REFILL_S = 16.0
WANDER_S = 900.0


class Dosing:
    """One feeder's state. true_kg_h: what falls. shown_kg_h, weight_kg, drive_pct, refilling, gravimetric: reported."""

    def __init__(self, spec: Feeder, index: int, rate_kg_h: float, rng: np.random.Generator, running: bool) -> None:
        self.spec, self.index, self.rng = spec, index, rng
        self.nominal = rate_kg_h * spec.share_pct / 100
        self.factor = self.nominal / spec.drive_pct
        self.drive_pct = spec.drive_pct if running else 0.0
        self.weight = spec.hopper_kg * float(rng.uniform(0.42, 0.9))
        self.measured = self.nominal if running else 0.0
        self.wander, self.left_s, self.hold_s, self.set_before = 0.0, 0.0, 0.0, self.measured
        self.true_kg_h = self.shown_kg_h = self.measured
        self.weight_kg, self.refilling, self.gravimetric, self.set_kg_h = self.weight, False, True, self.measured

    def step(self, dt: float, knobs: Knobs) -> None:
        """Advance by dt."""
        k, i, spec = knobs.many, self.index, self.spec
        wanted = knobs.line["rate"] * k["share"][i] * k["wrong_set"][i]
        noise = self.rng.standard_normal(3).tolist()
        keep = math.exp(-dt / WANDER_S)
        self.wander = self.wander * keep + math.sqrt(1 - keep * keep) * noise[0] * spec.wander * k["noise"][i]
        level = self.weight / spec.hopper_kg
        press = 0.93 + 0.14 * level if spec.weighed and not spec.liquid else 0.99 + 0.02 * level
        factor = self.factor * k["density"][i] * (1 + self.wander) * press * (1 - 0.04 * k["material"][i])
        self._drive(dt, wanted, k["tripped"][i] > 0, k["volumetric"][i] > 0)
        empty = level < 0.02
        self.true_kg_h = 0.0 if empty else factor * self.drive_pct * k["flow"][i]
        self.true_kg_h += k["flush"][i] * wanted if not empty else 0.0
        self.weight += (k["leak_in"][i] - self.true_kg_h) * dt / 3600
        # A controller asks for a refill by what its scale shows.
        shows = self.weight * k["span"][i] + k["lean_kg"][i]
        self._refill(dt, shows, k["no_refill"][i] > 0, k["by_hand"][i] > 0)
        seen = (self.true_kg_h - k["leak_in"][i]) * k["span"][i]
        if self.hold_s <= 0:
            self.measured += (seen - self.measured) * min(1.0, dt / 12)
        self._report(wanted, noise, k, i)

    def _drive(self, dt: float, wanted: float, tripped: bool, volumetric: bool) -> None:
        if wanted <= 1e-9 or tripped:
            self.drive_pct = 0.0
        elif abs(wanted - self.set_before) > 1e-9 or self.drive_pct == 0.0:
            known = self.drive_pct * self.factor / max(self.measured, 1e-6) if self.drive_pct > 1 else 1.0
            self.drive_pct = min(100.0, wanted / self.factor * min(max(known if self.spec.weighed else 1.0, 0.6), 1.6))
        elif self.spec.weighed and self.hold_s <= 0 and not volumetric:
            self.drive_pct += (wanted - self.measured) / self.factor * dt / 25
            self.drive_pct = min(max(self.drive_pct, 0.5), 100.0)
        self.set_before = wanted

    def _refill(self, dt: float, shows: float, unheard: bool, by_hand: bool) -> None:
        takes = HAND_S if by_hand else REFILL_S
        if self.left_s <= 0 and shows < LOW * self.spec.hopper_kg and not unheard:
            self.left_s = takes
        self.refilling = self.left_s > 0
        if self.refilling:
            self.weight += (FULL - LOW) * self.spec.hopper_kg * min(dt, self.left_s) / takes
            self.left_s -= dt
            self.hold_s = HELD_S
        else:
            self.hold_s = max(0.0, self.hold_s - dt)
        self.weight = min(max(self.weight, 0.0), self.spec.hopper_kg)

    def _report(self, wanted: float, noise: list[float], k: dict[str, list[float]], i: int) -> None:
        shown = self.measured * (1 + 0.012 * k["noise"][i] * noise[1])
        if not self.spec.weighed:
            # Reckoned from the turning of its screw, not weighed.
            shown = self.factor * self.drive_pct * (1 + 0.003 * noise[1])
        elif self.hold_s > 0:
            shown = wanted if k["tripped"][i] == 0 else 0.0
        if k["echo"][i] > 0:
            shown = wanted
        if wanted < 1e-9 and self.true_kg_h < 1e-9:
            shown = self.measured = 0.0
        self.shown_kg_h = max(0.0, shown)
        self.gravimetric = self.hold_s <= 0 and k["volumetric"][i] == 0
        self.set_kg_h = wanted
        self.weight_kg = self.weight * k["span"][i] + k["lean_kg"][i] + 0.0008 * self.spec.hopper_kg * noise[2]
