"""What the line is doing, cell by cell on the 10 s grid.

A phase is an input to every condition, known at the end of its cell. It follows what people asked for
(set-points) before what the machine does (readings): a feed that is wanted and does not come is a fault,
not an idle screw. While the screw speed is not known for a moment, the last phase stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.roles import channel_key
from monitor.contract import Context, State
from monitor.exact import Floats
from monitor.view import Readings

PHASES = (
    "unknown",
    "stopped",
    "heating",
    "soaking",
    "ready",
    "idle",
    "starting",
    "settling",
    "steady",
    "changing",
    "purging",
    "stopping",
)
"""Every phase, in the order of their numbers. 'purging' is only ever said by a note."""

RUNNING = ("starting", "settling", "steady", "changing")
"""Phases in which product is being made or aimed at."""

TURNING_SHARE = 0.02
FED_SHARE = 0.05
CHANGE_SHARE = 0.05
COLD_BY_C = 25.0
"""A standing line with a zone this far under its set-point is heating up; a zone that dips less after a stop is not."""

UNDER_BY_C = 8.0
"""A line that heats up does so until every zone is this near its set-point."""

HOT_SETPOINT_C = 60.0
WANTED_FOR_S = 300.0
HELD_FOR_S = 300.0
JOG_S = 60.0
NEVER = 1e9
AGES = ("turning", "still", "running", "started", "unchanged", "soaked")


@dataclass(frozen=True)
class PhaseRun:
    """Phases of a run of cells and how long things have held, seconds, at the end of each cell.

    phase: int8 [n]. ages: 'turning' (screw), 'still' (screw), 'running' (feed wanted and screw turning, as seen),
    'started' (the same, very long where the log begins on a running line), 'unchanged' (speed and rate wanted),
    'soaked' (all zones at temperature since heat-up), each [n]; 'zones' [zone, n] since a zone's set-point moved.
    """

    phase: NDArray[np.int8]
    ages: dict[str, Floats]


def settling_s(ctx: Context) -> float:
    """How long torque and pressure are given after a change of speed or rate: 120 s on a twin screw, 240 s on a single.

    Common practice, no source: some mean residence times of usual lines; geometry is not used.
    """
    return 120.0 if ctx.line.line.kind == "twin-screw" else 240.0


def turning_limit_rpm(ctx: Context) -> float:
    """Speed above which the screw counts as turning."""
    wanted = ctx.recipe.recipe.screw_speed_rpm if ctx.recipe else None
    usual = wanted or ctx.line.drive.rated_speed_rpm or 50.0
    return max(0.3, TURNING_SHARE * usual)


def start(ctx: Context) -> State:
    """Nothing seen yet."""
    zones = len(ctx.subjects_of("zone_temperature"))
    return {
        "phase": 0,
        "turning": NEVER,
        "still": NEVER,
        "running": 0.0,
        "started": 0.0,
        "unchanged": 0.0,
        "seen": 0.0,
        "blind": 0.0,
        "speed_ref": None,
        "rate_ref": None,
        "rate_peak": None,
        "lost": 0.0,
        "soaked": NEVER,
        "heated": False,
        "zone_ref": np.full(zones, np.nan),
        "zone_age": np.full(zones, NEVER),
    }


def recipe_changed(state: State) -> State:
    """Another recipe is another product, even at the same speed and rate: what runs counts as changing."""
    return {**state, "speed_ref": None, "rate_ref": None}


def advance(state: State, readings: Readings, ctx: Context) -> tuple[State, PhaseRun]:
    """Phases of whole 10 s cells; one step of a small machine per cell."""
    n, step_s = readings.n, readings.step / 1e9
    zones = ctx.subjects_of("zone_temperature")
    inputs = _Inputs(readings, zones, ctx)
    machine = _Machine(dict(state), ctx, step_s)
    phase = np.zeros(n, np.int8)
    ages = {name: np.zeros(n) for name in AGES}
    zone_ages = np.zeros((len(zones), n))
    for i in range(n):
        phase[i] = machine.cell(inputs, i)
        for name, values in ages.items():
            values[i] = machine.s[name]
        zone_ages[:, i] = machine.s["zone_age"]
    return machine.s, PhaseRun(phase, {**ages, "zones": zone_ages})


class _Inputs:
    """The few signals phases are made of, for a run of cells."""

    def __init__(self, readings: Readings, zones: tuple[str, ...], ctx: Context) -> None:
        self.speed = readings.get("screw_speed").tolist()
        self.speed_set = readings.get("screw_speed_setpoint").tolist()
        feeders = ctx.subjects_of("feeder_rate")
        self.rate = self._total(readings.rows("feeder_rate", feeders), readings.get("line_rate"))
        self.rate_set = self._total(
            readings.rows("feeder_setpoint", ctx.subjects_of("feeder_setpoint")),
            readings.get("line_rate_setpoint"),
        )
        self.zone = readings.rows("zone_temperature", zones)
        self.zone_set = readings.rows("zone_setpoint", zones)
        wanted = np.array([ctx.recipe.zones.get(z, np.nan) if ctx.recipe else np.nan for z in zones])
        aim = np.where(np.isnan(self.zone_set), wanted[:, None] if len(zones) else self.zone_set, self.zone_set)
        hot = aim > HOT_SETPOINT_C
        self.any_hot = _any(hot)
        self.any_under = _any(hot & (self.zone < aim - UNDER_BY_C))
        self.any_cold = _any(hot & (self.zone < aim - COLD_BY_C))
        self.zones_known = bool(channel_key("zone_temperature", zones[0]) in readings.index) if zones else False

    @staticmethod
    def _total(rows: Floats, whole: Floats) -> list[float]:
        """Sum of the feeders in order, or the line's own figure where no feeder is known."""
        total, known = np.zeros(rows.shape[1]), np.zeros(rows.shape[1], bool)
        for row in rows:
            seen = np.isfinite(row)
            total += np.where(seen, row, 0.0)
            known |= seen
        return np.where(known, total, whole).tolist()


def _any(rows: NDArray[np.bool_]) -> list[bool]:
    """Whether it holds for any zone, cell by cell."""
    return np.logical_or.reduce(rows, axis=0).tolist()


class _Machine:
    """One step a cell. `s` is replaced key by key and becomes the next state."""

    def __init__(self, state: State, ctx: Context, step_s: float) -> None:
        self.s, self.ctx, self.step_s = state, ctx, step_s
        self.limit = turning_limit_rpm(ctx)
        self.settle = settling_s(ctx)
        self.soak = 60.0 * (ctx.recipe.recipe.soak_min if ctx.recipe else 20.0)
        self.target_rate = (ctx.recipe.recipe.rate_kg_h if ctx.recipe else None) or 0.0

    def cell(self, x: _Inputs, i: int) -> int:
        s, dt = self.s, self.step_s
        speed = x.speed[i]
        self._zone_ages(x, i)
        if speed != speed:
            return self._blind()
        s["blind"] = 0.0
        turning = speed > self.limit
        first = s["seen"] == 0.0
        s["seen"] = 1.0
        if turning:
            s["turning"] = NEVER if first else (s["turning"] + dt if s["still"] == 0.0 else dt)
            s["still"] = 0.0
        else:
            s["still"] = NEVER if first else s["still"] + dt
            s["turning"] = 0.0
        name = self._turning(x, i, first) if turning else self._standing(x, i)
        s["phase"] = PHASES.index(name)
        return s["phase"]

    def _blind(self) -> int:
        """A short gap is no news: what was known holds. After a longer one nothing is known."""
        s = self.s
        s["blind"] = s["blind"] + self.step_s
        if s["blind"] > HELD_FOR_S:
            s["phase"], s["running"], s["unchanged"] = 0, 0.0, 0.0
        return s["phase"]

    def _zone_ages(self, x: _Inputs, i: int) -> None:
        if not x.zone_set.shape[0]:
            return
        now, ref = x.zone_set[:, i], self.s["zone_ref"]
        moved = np.isfinite(now) & ~(np.abs(now - ref) <= 2.0)
        first = moved & np.isnan(ref)
        age = np.where(moved & ~first, 0.0, self.s["zone_age"] + self.step_s)
        self.s["zone_ref"], self.s["zone_age"] = np.where(moved, now, ref), np.minimum(age, NEVER)

    def _standing(self, x: _Inputs, i: int) -> str:
        s = self.s
        s["running"], s["started"], s["unchanged"], s["lost"] = 0.0, 0.0, 0.0, 0.0
        s["speed_ref"], s["rate_ref"], s["rate_peak"] = None, None, None
        if not x.any_hot[i]:
            s["heated"] = False
            return "stopped"
        if x.any_under[i] if s["heated"] else x.any_cold[i]:
            s["heated"], s["soaked"] = True, 0.0
            return "heating"
        if not s["heated"]:
            return "stopped"
        s["soaked"] = s["soaked"] + self.step_s
        return "ready" if s["soaked"] >= self.soak else "soaking"

    def _wanted(self, x: _Inputs, i: int) -> bool:
        """Whether product is aimed at: by set-point, else by rate with patience for a rate that is lost."""
        s = self.s
        if not self.ctx.starve_fed:
            return True
        wanted, rate = x.rate_set[i], x.rate[i]
        if wanted == wanted:
            usual = self.target_rate or s["rate_peak"] or 0.0
            s["rate_peak"] = max(s["rate_peak"] or 0.0, wanted)
            return wanted > max(FED_SHARE * usual, 1e-9)
        if rate != rate:
            return True
        s["rate_peak"] = max(s["rate_peak"] or 0.0, rate)
        fed = rate > FED_SHARE * (self.target_rate or s["rate_peak"]) and rate > 0
        s["lost"] = 0.0 if fed else s["lost"] + self.step_s
        return fed or (s["running"] > 0 and s["lost"] < WANTED_FOR_S)

    def _turning(self, x: _Inputs, i: int, first: bool) -> str:
        s, dt = self.s, self.step_s
        if s["turning"] >= JOG_S:
            s["heated"] = False
        if not self._wanted(x, i):
            stopping = s["running"] > 0
            s["running"], s["started"], s["unchanged"] = 0.0, 0.0, 0.0
            s["speed_ref"], s["rate_ref"] = None, None
            return "stopping" if stopping else "idle"
        s["running"] = s["running"] + dt
        s["started"] = NEVER if first else s["started"] + dt
        speed = x.speed_set[i] if x.speed_set[i] == x.speed_set[i] else x.speed[i]
        rate = x.rate_set[i]
        changed = self._moved("speed_ref", speed) | self._moved("rate_ref", rate)
        s["unchanged"] = 0.0 if changed and not first else s["unchanged"] + dt
        if changed and s["running"] > self.settle:
            return "changing"
        if s["unchanged"] >= self.settle:
            return "steady"
        return "starting" if s["running"] < 60.0 else "settling"

    def _moved(self, name: str, now: float) -> bool:
        """Whether a wanted value has left the one it settled on by more than 5 %; then it settles anew."""
        before = self.s[name]
        if now != now:
            return False
        if before is None or abs(now - before) > CHANGE_SHARE * max(abs(before), 1e-9):
            self.s[name] = now
            return True
        return False
