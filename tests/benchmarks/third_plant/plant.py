"""The plant as a whole over time: knobs, feeders, screw, barrel, and what its sensors show."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.third_plant.barrel import Barrel
from tests.benchmarks.third_plant.feeding import Dosing
from tests.benchmarks.third_plant.knobs import Change, Knobs
from tests.benchmarks.third_plant.machine import Machine
from tests.benchmarks.third_plant.screw import Screw

Floats = NDArray[np.float64]
BARREL_S = 4.0
SWING_S, SWELL_S = 23.0, 71.0
LINE_KEYS = (
    "speed", "speed_set", "load", "bar", "before_pump", "suction", "after_screen", "melt", "vacuum", "oil",
    "throat_c", "hall", "bath", "cutter", "product", "pump", "rate", "stuffer", "injection", "hopper",
)  # fmt: skip
ZONE_KEYS = ("zone", "output", "set", "amps", "steel")
FEEDER_KEYS = ("fed", "fed_set", "drive", "weight", "refill", "gravimetric", "true")


@dataclass(frozen=True)
class Course:
    """What happened. step_s: of all arrays. values: by key, [time] or [time, zone or feeder]; steel, true: hidden."""

    step_s: float
    values: dict[str, Floats]


def step_of(machine: Machine) -> float:
    """Step of the simulation: the cadence in whole parts of at most two and a half seconds."""
    return machine.cadence_s / math.ceil(machine.cadence_s / 2.5)


def simulate(machine: Machine, changes: list[Change], minutes: float, seed: int, start: str = "steady") -> Course:
    """Run a machine. start: steady at its nominal point, hot and stopped, or cold. One seed gives one noise."""
    dt = step_of(machine)
    n = int(minutes * 60 / dt)
    streams = np.random.SeedSequence(seed).spawn(3 + len(machine.feeders))
    rng, running = np.random.default_rng(streams[0]), start == "steady"
    knobs = Knobs.of(machine, changes, running)
    barrel = Barrel(machine, np.random.default_rng(streams[1]), start)
    feeders = [
        Dosing(f, i, machine.rate_kg_h, np.random.default_rng(streams[3 + i]), running)
        for i, f in enumerate(machine.feeders)
    ]
    screw = Screw(machine, dt, running)
    every = max(1, round(BARREL_S / dt))
    slow = [_wander(np.random.default_rng(s), n, dt) for s in streams[2].spawn(4)]
    quick = rng.standard_normal((n, 6))
    out = {key: np.zeros(n) for key in LINE_KEYS}
    out |= {key: np.zeros((n, len(machine.zones))) for key in ZONE_KEYS}
    out |= {key: np.zeros((n, len(feeders))) for key in FEEDER_KEYS}
    sensing = _Sensing(machine, dt)
    for k in range(n):
        second = k * dt
        knobs.move_to(second)
        throat = side = thickens = 0.0
        for feeder in feeders:
            feeder.step(dt, knobs)
            if feeder.spec.side or feeder.spec.liquid:
                side += feeder.true_kg_h
            else:
                throat += feeder.true_kg_h
        total = throat + side
        for i, feeder in enumerate(feeders):
            if total > 0.02 * machine.rate_kg_h:
                over = feeder.true_kg_h / total / machine.part(i) - 1
                thickens += min(max(feeder.spec.torque * over, -0.3), 0.3)
            thickens += knobs.many["material"][i] * 0.1 * (machine.part(i) > 0.3)
        wave = math.sin(2 * math.pi * second / knobs.line["surge_s"])
        swing = math.sin(2 * math.pi * second / SWING_S) * (0.5 + 0.5 * math.sin(2 * math.pi * second / SWELL_S))
        screw.step(knobs, throat, side, thickens, barrel.steel.tolist(), [slow[0][k], slow[1][k], wave, swing])
        if k % every == 0:
            barrel.step(dt * every, second, knobs, screw.work, screw.out, screw.melt_c)
        sensing.read(out, k, knobs, screw, barrel, feeders, slow, quick[k])
    return Course(dt, out)


def _wander(rng: np.random.Generator, n: int, dt: float) -> Floats:
    """Noise of unit size, a tenth of it slow (half an hour), the rest quick (12 s)."""
    from scipy.signal import lfilter

    shown = np.zeros(n)
    for slow_s, size in ((12.0, 0.8), (1500.0, 0.6)):
        keep = math.exp(-dt / slow_s)
        shown += size * np.asarray(lfilter([math.sqrt(1 - keep * keep)], [1, -keep], rng.standard_normal(n)))
    return shown


class _Sensing:
    """From the state to what the instruments show."""

    def __init__(self, machine: Machine, dt: float) -> None:
        self.m, self.dt = machine, dt
        self.held = self.tapped = self.probe = math.nan
        self.rate = machine.rate_kg_h

    def read(
        self, out: dict[str, Floats], k: int, knobs: Knobs, screw: Screw, barrel: Barrel, feeders: list[Dosing],
        slow: list[Floats], quick: Floats,
    ) -> None:  # fmt: skip
        """Fill row k."""
        m, line, dt = self.m, knobs.line, self.dt
        turning = screw.speed > 0.02 * m.speed_rpm
        noisy = 1 + m.scatter * line["pressure_noise"] * (0.006 * slow[2][k] + 0.003 * quick[0])
        shown = screw.bar * noisy + 0.15 * quick[1] + line["zero_bar"]
        if line["pressure_frozen"] > 0 and not math.isnan(self.held):
            shown = self.held
        self.held = shown
        if line["tap_s"] > 0 and not math.isnan(self.tapped):
            shown = self.tapped + (shown - self.tapped) * min(1.0, dt / line["tap_s"])
        self.tapped = shown
        load = m.idle_pct * (0.7 + 0.3 * screw.speed / m.speed_rpm) + screw.net * (1 + 0.009 * m.scatter * slow[3][k])
        load = load + 0.006 * m.net_pct * m.scatter * quick[2] if turning else abs(0.15 * quick[2])
        goal = screw.melt_c + line["probe_c"] + 0.25 * slow[1][k]
        self.probe = goal if math.isnan(self.probe) else self.probe + (goal - self.probe) * min(1.0, dt / 45)
        self.rate += (screw.delivered * m.rate_kg_h - self.rate) * min(1.0, dt / 15)
        row = {
            "speed": max(0.0, screw.speed * (1 + 0.0006 * quick[3])), "speed_set": screw.asked,
            "load": max(0.0, load), "bar": shown, "before_pump": screw.before_pump * noisy,
            "suction": screw.suction * (1 + 0.01 * m.scatter * quick[4]), "after_screen": screw.after_screen * noisy,
            "melt": self.probe + 0.05 * quick[4], "vacuum": line["vacuum"] * (1 + 0.02 * slow[0][k]),
            "oil": 52 + 0.3 * line["hall_c"] + line["oil_c"] + 0.1 * quick[5],
            "throat_c": line["water_c"] + 12 + line["throat_c"] + 0.2 * slow[0][k],
            "hall": line["hall_c"] + 0.1 * slow[1][k], "bath": line["bath_c"] + 0.2 * slow[2][k],
            "cutter": 2200.0 * (screw.out > 0.1) + 3 * quick[5], "product": line["product"], "pump": screw.pump,
            "rate": self.rate * (1 + 0.004 * quick[5]), "hopper": screw.hopper_kg + 0.001 * m.hopper_kg * quick[5],
        }  # fmt: skip
        side = max(1e-6, 1 - m.throat_part)
        row["stuffer"] = (38 * (0.3 + 0.7 * screw.side_in / side) + line["stuffer"]) * (1 + 0.02 * quick[4])
        for key, value in row.items():
            out[key][k] = value
        out["zone"][k], out["output"][k], out["set"][k] = barrel.shown, barrel.output, knobs.many["set"]
        out["amps"][k], out["steel"][k] = barrel.current, barrel.steel
        for i, feeder in enumerate(feeders):
            out["fed"][k, i], out["fed_set"][k, i] = feeder.shown_kg_h, feeder.set_kg_h
            out["drive"][k, i], out["weight"][k, i] = feeder.drive_pct * (1 + 0.003 * quick[i % 6]), feeder.weight_kg
            out["refill"][k, i], out["gravimetric"][k, i] = feeder.refilling, feeder.gravimetric
            out["true"][k, i] = feeder.true_kg_h
            if feeder.spec.liquid:
                usual = 12 * feeder.true_kg_h / max(feeder.nominal, 1e-6)
                out["injection"][k] = max(0.0, usual * knobs.many["injection"][i] + 0.2 * quick[2])
