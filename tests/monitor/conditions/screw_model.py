"""A small drawn model of a starve-fed twin screw: what torque, pressure and rates do when feed, intake or melt change.

Power-law melt through a die (pressure with rate to the power n), net torque with throughput to a power near 1 and with
viscosity, plug flow and mixing of the melt, a no-load part, a motor current with its magnetising part in quadrature.
All parameters are drawn from ranges of common practice, no source. It knows nothing of any threshold.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from monitor.line import Line
from monitor.recipe import Recipe
from tests.monitor.scripted_world import Script

SECONDS, EVENT = 3600, 1800


@dataclass(frozen=True)
class Machine:
    """One drawn line. shares of the feeders; load: 'torque' or 'motor_current'."""

    n: float
    torque_power: float
    torque_viscosity: float
    no_load: float
    stated_no_load: bool
    net_torque: float
    torque_noise: float
    pressure: float
    pressure_noise: float
    residence_s: float
    rate: float
    main_share: float
    load: str
    field: float
    stated_field: bool
    drives: bool
    throat: bool
    has_pressure: bool


def machine(rng: np.random.Generator) -> Machine:
    """Draw a line."""
    return Machine(
        n=rng.uniform(0.25, 0.6),
        torque_power=rng.uniform(0.7, 1.0),
        torque_viscosity=rng.uniform(0.6, 0.95),
        no_load=rng.uniform(4, 13),
        stated_no_load=bool(rng.random() < 0.5),
        net_torque=rng.uniform(28, 68),
        torque_noise=rng.uniform(0.2, 1.2),
        pressure=rng.uniform(30, 110),
        pressure_noise=rng.uniform(0.002, 0.01),
        residence_s=rng.uniform(10, 60),
        rate=float(rng.choice([40, 150, 400, 1200])),
        main_share=rng.uniform(0.5, 0.95),
        load="torque" if rng.random() < 0.6 else "motor_current",
        field=rng.uniform(0.22, 0.45),
        stated_field=bool(rng.random() < 0.5),
        drives=bool(rng.random() < 0.7),
        throat=bool(rng.random() < 0.4),
        has_pressure=bool(rng.random() < 0.85),
    )


def line_of(m: Machine) -> Line:
    """Its line file."""
    sensors = [{"tag": role, "role": role} for role in ("screw_speed", "screw_speed_setpoint", m.load)]
    for feeder in ("F1", "F2"):
        roles = ["feeder_rate", "feeder_setpoint", *(["feeder_drive"] if m.drives else [])]
        sensors += [{"tag": f"{role}.{feeder}", "role": role, "at": feeder} for role in roles]
    if m.has_pressure:
        sensors.append({"tag": "P1", "role": "melt_pressure", "at": "P1"})
    if m.throat:
        sensors.append({"tag": "throat", "role": "throat_temperature"})
    drive: dict[str, float] = {"rated_power_kw": 75, "rated_speed_rpm": 600}
    if m.stated_no_load:
        drive["no_load_torque_pct"] = m.no_load
    if m.load == "motor_current":
        drive["rated_current_a"] = 100
        if m.stated_field:
            drive["magnetising_current_a"] = 100 * m.field
    return Line.model_validate(
        {
            "format": 1,
            "line": {"name": "drawn", "kind": "twin-screw"},
            "drive": drive,
            "feeder": [{"name": "F1"}, {"name": "F2"}],
            "sensor": sensors,
        }
    )


RECIPE = Recipe.model_validate({"format": 1, "recipe": {"name": "drawn"}, "version": "drawn"})


class Run:
    """One run of a drawn line, ended by one event at `EVENT`.

    wanted: rate set, shares of `rate`. taken: share of the rate wanted at first that goes into the screws. speed:
    ratio. viscosity: ratio. reported: by feeder, of set. drive: of the main feeder, ratio. throat_c: added.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng, self.m = rng, machine(rng)
        one = np.ones(SECONDS)
        self.wanted, self.taken, self.speed, self.viscosity = one.copy(), one.copy(), one.copy(), one.copy()
        self.reported = {"F1": one.copy(), "F2": one.copy()}
        self.drive, self.throat_c = one.copy(), np.zeros(SECONDS)

    def ramp(self, at_s: float, over_s: float, to: float) -> np.ndarray:
        """From 1 to `to`."""
        return np.interp(np.arange(SECONDS), [at_s, at_s + max(over_s, 0.5)], [1.0, to])

    def noise(self, size: float) -> np.ndarray:
        white = self.rng.normal(0, size, SECONDS + 1)
        return 0.8 * white[1:] + 0.6 * white[:-1]

    def script(self) -> tuple[Script, Line]:
        """Its log."""
        m, line = self.m, line_of(self.m)
        s = Script.__new__(Script)
        s.line, s.cadence, s.n, s.rng, s.notes, s.x = line, 1.0, SECONDS, self.rng, [], {}
        inside = mixed(self.taken, 0.3 * m.residence_s)
        out = mixed(delayed(self.taken, 0.4 * m.residence_s), 0.4 * m.residence_s)
        # Fill goes with rate over speed, shear stress with speed to the power n.
        net = m.net_torque * (inside / self.speed) ** m.torque_power * self.speed**m.n
        net = net * self.viscosity**m.torque_viscosity
        gross = np.maximum(net + m.no_load + self.noise(m.torque_noise), 0.0)
        s.x["torque"] = np.minimum(gross, 104.0)
        share = s.x["torque"] / 100
        s.x["motor_current"] = 100 * np.sqrt(m.field**2 + (1 - m.field**2) * share**2)
        s.x["melt_pressure:P1"] = m.pressure * out**m.n * self.viscosity * (1 + self.noise(m.pressure_noise))
        s.x["screw_speed_setpoint"] = 300 * self.speed
        s.x["screw_speed"] = 300 * self.speed + self.noise(0.3)
        for feeder, part in (("F1", m.main_share), ("F2", 1 - m.main_share)):
            wanted = m.rate * part * self.wanted
            s.x[f"feeder_setpoint:{feeder}"] = wanted
            s.x[f"feeder_rate:{feeder}"] = wanted * self.reported[feeder] * (1 + self.noise(0.008))
            turns = self.drive if feeder == "F1" else np.ones(SECONDS)
            s.x[f"feeder_drive:{feeder}"] = 40 * self.wanted * turns * (1 + self.noise(0.008))
        s.x["throat_temperature"] = 35 + self.throat_c + self.noise(0.1)
        return s, line


def delayed(x: np.ndarray, seconds: float) -> np.ndarray:
    """Plug flow."""
    steps = round(seconds)
    return x if not steps else np.concatenate((np.full(steps, x[0]), x[:-steps]))


def mixed(x: np.ndarray, seconds: float) -> np.ndarray:
    """One mixed volume."""
    out, weight = np.empty(len(x)), 1 / max(seconds, 1.0)
    z = x[0]
    for i, value in enumerate(x.tolist()):
        z += weight * (value - z)
        out[i] = z
    return out


Event = Callable[[Run], None]


def path_blocked(run: Run) -> None:
    """The chute blocks within seconds, wholly or partly; every feeder reads on set."""
    left = run.rng.choice([0.02, run.rng.uniform(0.02, 0.6)])
    run.taken = run.ramp(EVENT, run.rng.uniform(1, 8), left)


def fluffy_lot(run: Run) -> None:
    """Bulk density falls: the main feeder turns faster, and the intake takes less than is fed."""
    density = run.rng.uniform(0.7, 0.88)
    run.drive = run.ramp(EVENT, run.rng.uniform(10, 120), 1 / density)
    run.taken = run.ramp(EVENT + run.rng.uniform(20, 120), run.rng.uniform(20, 300), run.rng.uniform(0.65, 0.9))


def throat_grows_hot(run: Run) -> None:
    """The throat warms and the intake takes less and less."""
    run.throat_c = 12 * (run.ramp(EVENT - 900, 900, 2.0) - 1)
    run.taken = run.ramp(EVENT, run.rng.uniform(60, 300), run.rng.uniform(0.6, 0.85))


def raise_floods(run: Run) -> None:
    """The rate is raised, and minutes later the intake backs up and takes less than before."""
    up = run.rng.uniform(1.07, 1.2)
    run.wanted = run.ramp(EVENT - 900, 0, up)
    late = run.rng.uniform(0, 700)
    over = run.ramp(EVENT - 900 + late, run.rng.uniform(20, 200), run.rng.uniform(0.75, 0.9) / up)
    run.taken = run.wanted * over


def feeder_fails(run: Run) -> None:
    """The main feeder delivers less and says so."""
    left = run.rng.uniform(0.0, 0.75)
    run.reported["F1"] = run.ramp(EVENT, 5, left)
    run.taken = 1 - run.m.main_share * (1 - run.reported["F1"])


def powder_flushes(run: Run) -> None:
    """More comes in than the feeder says, for some minutes."""
    more = run.rng.uniform(1.25, 1.5)
    end = EVENT + run.rng.uniform(120, 600)
    run.taken = np.interp(np.arange(SECONDS), [EVENT, EVENT + 5, end, end + 5], [1, more, more, 1])


def thin_lot(run: Run) -> None:
    run.viscosity = run.ramp(EVENT, run.rng.uniform(20, 300), run.rng.uniform(0.7, 0.95))


def thick_lot(run: Run) -> None:
    run.viscosity = run.ramp(EVENT, run.rng.uniform(20, 300), run.rng.uniform(1.05, 1.25))


def speed_raised(run: Run) -> None:
    run.speed = run.ramp(EVENT, run.rng.uniform(0, 60), run.rng.uniform(1.03, 1.3))


def speed_lowered(run: Run) -> None:
    run.speed = run.ramp(EVENT, run.rng.uniform(0, 60), run.rng.uniform(0.75, 0.97))


def rate_raised_and_taken(run: Run) -> None:
    run.wanted = run.taken = run.ramp(EVENT, run.rng.uniform(0, 60), run.rng.uniform(1.03, 1.3))


def rate_cut(run: Run) -> None:
    run.wanted = run.taken = run.ramp(EVENT, run.rng.uniform(0, 60), run.rng.uniform(0.6, 0.97))


def nothing(run: Run) -> None:
    """Undisturbed."""


STARVED: tuple[Event, ...] = (path_blocked, feeder_fails)
FLOODED: tuple[Event, ...] = (fluffy_lot, throat_grows_hot, raise_floods, powder_flushes)
NUISANCE: tuple[Event, ...] = (
    thin_lot, thick_lot, speed_raised, speed_lowered, rate_raised_and_taken, rate_cut, nothing,
)  # fmt: skip
