"""The whole line, second by second: crew's set-points, drive, feeders, screw, barrel, vent, pump, gearbox."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.second_plant.barrel import STEP_S, Barrel
from tests.benchmarks.second_plant.crew import Plan
from tests.benchmarks.second_plant.feeder import Feeder
from tests.benchmarks.second_plant.noise import coloured
from tests.benchmarks.second_plant.screw import Screw
from tests.benchmarks.second_plant.spec import LineSpec

Floats = NDArray[np.float64]
Apply = Callable[["Plant", float, float], None]
BURN_IN_S = 3600


@dataclass(frozen=True)
class Upset:
    """A fault: what it does (plant, seconds since it began, size), when it begins, how large."""

    apply: Apply
    at: int
    size: float


@dataclass
class Plant:
    """What a fault can reach, beside the parts: path (per feeder, what part arrives), and the line's other organs."""

    spec: LineSpec
    barrel: Barrel
    screw: Screw
    feeders: list[Feeder]
    path: list[float]
    wrong_set: list[float]
    vent_leak: float = 0.0
    vent_flood: bool = False
    vent_gas: float = 1.0
    speed_cap: float = 9.9
    force_stop: bool = False
    interlock: bool = True
    spike: float = 0.0
    surge: tuple[float, float] = (0.0, 60.0)
    pump_slip: float = 0.0
    water_c: float = 0.0
    oil_c: float = 0.0
    stuffer: float = 0.0
    sensor: dict[str, tuple[str, float]] = field(default_factory=dict)
    hopper_refill: bool = True
    throat_c: float = 0.0
    screen_add: float = 0.0
    screen_gain: float = 1.0

    def feeder(self, name: str) -> int:
        """Place of a feeder by name."""
        return next(i for i, feeder in enumerate(self.feeders) if feeder.spec.name == name)

    def zone(self, name: str) -> int:
        """Place of a zone by name."""
        return next(i for i, zone in enumerate(self.spec.zones) if zone.name == name)


@dataclass(frozen=True)
class Raw:
    """Truth as the signals would be without scatter, one value a second, by channel key. faults: of sensors."""

    values: dict[str, Floats]
    sensor: dict[str, tuple[str, float, int]]


def run(spec: LineSpec, plan: Plan, upset: Upset | None, seed: int) -> Raw:
    """One log of the line; the same seed gives the same log."""
    rng = np.random.default_rng(seed)
    total = plan.seconds + BURN_IN_S
    feeders = [Feeder(f, spec.rate_kg_h / 3600 * f.share_pct / 100, total, rng) for f in spec.feeders]
    barrel, screw = Barrel(spec, total, rng, None), Screw(spec)
    plant = Plant(spec, barrel, screw, feeders, [1.0] * len(feeders), [1.0] * len(feeders))
    bulk = 1 + coloured(rng, total, 0.008, 700) + coloured(rng, total, 0.006, 8)
    fast: dict[str, Floats] = {}
    columns = _columns(spec)
    record = np.zeros((plan.seconds, len(columns)))
    steps = plan.seconds // int(STEP_S)
    slow = np.zeros((steps, 4, len(spec.zones)))
    melt_end = np.zeros(steps)
    rpm, vacuum, oil, level, water = spec.rpm, 60.0, 55.0, 70.0, 58.0
    loading, integral = False, 0.0
    shares = [f.share_pct / 100 for f in spec.feeders]
    lns = [f.ln_visc for f in spec.feeders]
    screen0, heat_on, fed = 1.0, True, BURN_IN_S
    hall0 = float(np.mean(barrel.hall))
    for k in range(total):
        t = k - BURN_IN_S
        speed, rate = (float(plan.speed[t]), float(plan.rate[t])) if t >= 0 else (1.0, 1.0)
        if t == 0 and plan.start_c is not None:
            plant.barrel = barrel = Barrel(spec, total, rng, plan.start_c)
            barrel.set_c[:] = 20.0
            screw.mass *= 0.02
            screw.ln_mass *= 0.02
            rpm, heat_on = 0.0, False
        if t >= 0:
            screen0 = 1.0 if t in plan.screens else screen0 + spec.cake_bar_h / spec.screen_bar / 3600 * (rpm > 5)
            screw.screen = screen0 * plant.screen_gain + plant.screen_add
            if not heat_on and t >= plan.heat_at:
                heat_on = True
                barrel.set_c = np.array([float(zone.set_c) for zone in spec.zones])
            for at, zone, move in plan.zone_moves:
                if at == t:
                    barrel.set_c[zone] += move
            if plan.change and t == plan.change:
                shares = [s * (1.25 if i else 1.0) for i, s in enumerate(shares)]
                shares = [s / sum(shares) for s in shares]
                screw.thick += 0.12
                barrel.set_c[3:] += 6.0
            if upset is not None and t >= upset.at and t % 5 == 0:
                upset.apply(plant, float(t - upset.at), upset.size)
        throttle = min(speed, plant.speed_cap)
        if spec.pump:
            off = (spec.pump_suction_bar - screw.suction) / spec.pump_suction_bar
            integral = max(-0.3, min(0.3, integral + 0.004 * off)) if speed > 0.05 else 0.0
            throttle = min(plant.speed_cap, speed * (1 + 0.5 * off + integral)) if speed > 0.05 else 0.0
        goal = 0.0 if plant.force_stop else throttle * spec.rpm
        rpm += max(-150.0 if plant.force_stop else -8.0, min(5.0, goal - rpm))
        no_load = 8.0 * (0.6 + 0.4 * rpm / spec.rpm) if rpm > 1 else 0.0
        torque = screw.net + no_load + plant.spike
        if torque > 104 and rpm > 1:
            rpm *= 0.985
            torque = 104.0
        q_in, entering = 0.0, []
        fed = fed + 1 if rate > 0 and rpm > 15 else 0
        for i, feeder in enumerate(feeders):
            paused = any(n == feeder.spec.name and a <= t < b for n, a, b in plan.pauses)
            allowed = rpm > 15 or not plant.interlock
            # Fillers wait until melt is through after a start.
            allowed = allowed and (feeder.spec.tank < 2 or t < 0 or fed > 90)
            want = rate * shares[i] * spec.rate_kg_h / 3600 * plant.wrong_set[i] if allowed and not paused else 0.0
            flow = feeder.step(k, want) * plant.path[i]
            entering.append((feeder.spec.tank, flow, lns[i]))
            q_in += flow
            if t >= 0:
                base = 9 + 5 * i
                shown = want * 3600
                record[t, base : base + 5] = (feeder.rate * 3600, shown, feeder.drive, feeder.weight, feeder.refilling)
        if not feeders:
            depth, period = plant.surge
            swing = max(0.0, np.sin(2 * np.pi * k / period)) if depth else 0.0
            keep_bulk = screw.bulk
            screw.bulk = keep_bulk * float(bulk[k]) * (1 - depth * swing)
        pump_q = 0.0
        if spec.pump:
            pump_q = screw.q0 * speed * (1 - plant.pump_slip - 0.02 * (screw.drop_die / spec.die_bar - 1))
            pump_q = min(pump_q, screw.q + 0.002 * screw.q0) if screw.suction < 1 else pump_q
        mid, end = float(barrel.melt_c[len(spec.zones) // 2]), float(barrel.melt_c[-1])
        screw.step(entering, rpm, mid, end, pump_q)
        if not feeders:
            screw.bulk = keep_bulk
            level += (0.9 if loading else 0.0) - 100 * screw.q / spec.hopper_kg
            loading = plant.hopper_refill and (level < 55 or (loading and level < 80))
            if level <= 2:
                level, screw.supply = 2.0, 0.05
        if t < 0:
            screw.t_base = (mid, end)
            screw.ln_base = screw.ln_filled / max(screw.filled, 1e-6)
        if k % int(STEP_S) == 0:
            power = spec.rated_kw * 1000 * max(screw.net, 0) / 100 * rpm / spec.rpm_max
            melting = power * screw.melt_part
            barrel.step(k // int(STEP_S), [*screw.flows, screw.q], melting, power - melting, rpm > 1)
            if t >= 0 and t // int(STEP_S) < steps:
                s = t // int(STEP_S)
                slow[s, 0], slow[s, 1], slow[s, 2] = barrel.read, barrel.set_c, barrel.output
                slow[s, 3] = np.clip(barrel.output, 0, 100) / 100 * barrel.heater_w * barrel.heater / 230.0
                melt_end[s] = barrel.melt_c[-1]
        open_vent = any(a <= t < b for a, b in plan.vents)
        flooded = plant.vent_flood or screw.filled > spec.vent_room * spec.filled_kg
        gas = 60 * plant.vent_gas * (0.4 + 0.6 * screw.q / screw.q0)
        calm = 420.0 if flooded else min(900.0, gas + plant.vent_leak)
        calm = 1000.0 if open_vent or rpm < 1 or fed < 300 else calm
        vacuum += (calm - vacuum) / (8.0 if open_vent else 25.0 if not flooded else 90.0)
        oil += (38 + hall0 * 0.3 + 16 * torque / 70 * rpm / spec.rpm + plant.oil_c - oil) / 1500
        if t >= 0:
            load = (
                0.0 if not spec.pump else (12 + 40 * (screw.drop_die - screw.suction) / spec.die_bar) * (speed > 0.02)
            )
            record[t, :9] = (rpm, torque, screw.drop_die, screw.drop_screen, screw.suction, speed, vacuum, oil, level)
            side = sum(feeder.flow for feeder in feeders if feeder.spec.tank > 1)
            water += (58 + plant.water_c - water) / 40
            side_load = 12 + 300 * side + plant.stuffer if side else 8 * (rpm > 15) + plant.stuffer
            record[t, -4:] = (side_load, water, load, screw.q * 3600)
        plant.spike *= 0.6
    for i, name in enumerate(columns):
        fast[name] = record[:, i]
    fast |= _zones(spec, slow, melt_end, plan.seconds)
    fast["set:speed"] = plan.speed * spec.rpm
    fast["hall"] = np.repeat(barrel.hall, int(STEP_S))[BURN_IN_S : BURN_IN_S + plan.seconds]
    _derive(spec, fast)
    onset = upset.at if upset else 0
    return Raw(fast, {key: (kind, value, onset) for key, (kind, value) in plant.sensor.items()})


def _columns(spec: LineSpec) -> list[str]:
    names = ["rpm", "torque", "die", "screen", "suction", "pump", "vacuum", "oil", "level"]
    for feeder in spec.feeders:
        names += [f"{part}:{feeder.name}" for part in ("rate", "set", "drive", "weight", "refill")]
    return [*names, "stuffer", "water", "pump_load", "out"]


def _derive(spec: LineSpec, fast: dict[str, Floats]) -> None:
    """What follows from the rest: pressure ahead of the screen, power and current of the drive, the cutter."""
    fast["before"] = fast["screen"] + fast["suction" if spec.pump else "die"]
    fast["kw"] = spec.rated_kw * fast["torque"] / 100 * fast["rpm"] / spec.rpm_max
    # A third of the rated current magnetises; the two add in quadrature.
    rated = 1.9 * spec.rated_kw
    turning = fast["rpm"] > 1
    fast["amps"] = rated * np.sqrt((0.33 * turning) ** 2 + (0.944 * fast["torque"] / 100) ** 2)
    fast["cutter"] = 1900.0 * np.clip(fast["rpm"] / spec.rpm, 0, 1)


def _zones(spec: LineSpec, slow: Floats, melt_end: Floats, seconds: int) -> dict[str, Floats]:
    found = {"melt": np.repeat(melt_end, int(STEP_S))[:seconds]}
    for i, zone in enumerate(spec.zones):
        for j, part in enumerate(("t", "sp", "out", "amp")):
            found[f"{part}:{zone.name}"] = np.repeat(slow[:, j, i], int(STEP_S))[:seconds]
    return found
