"""A loss-in-weight feeder with a controller that adapts its feed factor.

Mass flow is feed factor times drive; the factor depends on hopper fill and wanders with bulk density. The controller
sees the scale only: an alpha-beta tracker (Brookner, Tracking and Kalman Filtering Made Easy, ch. 1) gives the slope,
the slope over the drive gives the factor, the set-point over the factor gives the drive. While refilling it holds.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.benchmarks.second_plant.noise import coloured
from tests.benchmarks.second_plant.spec import FeederSpec

ALPHA, BETA = 0.15, 0.012
FACTOR_S = 25.0


@dataclass
class Feeder:
    """State of one feeder. What faults change: outlet (0 bridged .. 1), bulk, span, scale_kg, motor, refill_ok, rush.

    rate, drive, weight: as its controller shows them, kg/s, %, kg. flow: what really falls, kg/s.
    """

    spec: FeederSpec
    nominal_kg_s: float
    seconds: int
    rng: np.random.Generator
    outlet: float = 1.0
    bulk: float = 1.0
    span: float = 1.0
    scale_kg: float = 0.0
    motor: bool = True
    refill_ok: bool = True
    rush: float = 0.0
    leak_kg_s: float = 0.0
    frozen_rate: bool = False
    rate: float = 0.0
    drive: float = 0.0
    flow: float = 0.0
    weight: float = 0.0
    refilling: bool = False
    hopper: float = field(default=0.0)

    def __post_init__(self) -> None:
        spec = self.spec
        self.hopper = spec.hopper_kg * self.rng.uniform(0.45, 0.85)
        self.at_full = self.nominal_kg_s / (spec.drive_pct / 100)
        self.factor = self.at_full * 0.97
        self._noise = coloured(self.rng, self.seconds, spec.noise_kg, 1.5)
        self._wander = (
            1 + coloured(self.rng, self.seconds, spec.wander, 900) + coloured(self.rng, self.seconds, 0.01, 4)
        )
        self.tracked, self.slope = self.hopper, -self.nominal_kg_s
        self.drive = spec.drive_pct
        self._wait = 0.0
        self._goal = spec.hopper_kg * 0.85
        self._since_refill = 1e9
        self.rate = self.nominal_kg_s

    def step(self, k: int, want_kg_s: float) -> float:
        """One second: what falls out, kg/s. want_kg_s: its set-point, 0 = off."""
        spec = self.spec
        on = want_kg_s > 0 and self.motor
        fill = self.hopper / spec.hopper_kg
        true_factor = self.at_full * self.bulk * (0.93 + 0.07 * fill**0.5) * float(self._wander[k]) * self.outlet
        flow = true_factor * self.drive / 100 if on else 0.0
        if self.rush and (self.refilling or (self._since_refill < 60 and on)):
            flow *= 1 + self.rush
        flow = min(flow, self.hopper)
        self.flow = flow
        self.hopper += self.leak_kg_s - flow
        self._refill()
        shown = self.hopper * self.span + self.scale_kg + float(self._noise[k])
        self.weight = round(shown / spec.step_kg) * spec.step_kg
        ahead = self.tracked + self.slope
        off = self.weight - ahead
        if self.refilling or self._since_refill < 15:
            self.tracked = self.weight
            self.rate = self.factor * self.drive / 100 if want_kg_s > 0 else 0.0
        else:
            self.tracked, self.slope = ahead + ALPHA * off, self.slope + BETA * off
            self.rate = max(0.0, -self.slope)
            if on and self.drive > 1:
                self.factor += (self.rate * 100 / self.drive - self.factor) / FACTOR_S
                self.factor = max(self.factor, self.at_full * 0.02)
        if want_kg_s <= 0:
            self.drive, self.slope, self.rate = 0.0, 0.0, 0.0
        elif self.motor:
            goal = min(100.0, 100 * want_kg_s / self.factor)
            if self.drive < 1:
                self.drive, self.slope = goal, -want_kg_s
            self.drive += max(-3.0, min(3.0, goal - self.drive))
        else:
            self.drive = 0.0
        if self.frozen_rate and want_kg_s > 0:
            self.rate = want_kg_s
        return flow

    def _refill(self) -> None:
        spec = self.spec
        if self.refilling:
            self.hopper += spec.refill_kg_s
            self._since_refill = 0.0
            if self.hopper >= self._goal:
                self.refilling = False
        else:
            self._since_refill += 1
            if self.hopper * self.span < 0.3 * spec.hopper_kg and self.refill_ok:
                if self._wait <= 0:
                    self._wait = float(self.rng.uniform(60, 420)) if spec.hand else float(self.rng.uniform(3, 10))
                self._wait -= 1
                if self._wait <= 0:
                    self.refilling = True
                    self._goal = spec.hopper_kg * float(self.rng.uniform(0.75, 0.92))
                    self.slope = -self.rate
