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
from monitor import purge
from monitor.contract import Context, State
from monitor.exact import Floats
from monitor.phase_cells import CHANGE_SHARE, add_up, any_of, stays
from monitor.phase_cells import first as first_of
from monitor.phase_names import PHASES
from monitor.quantities import asked_rate, feed_off
from monitor.quantities.screw import melt_held_kg
from monitor.view import Readings

RUNNING = ("starting", "settling", "steady", "changing", "purging")
"""Phases in which product is being made or aimed at, or the line emptied of one for the next."""

TURNING_SHARE = 0.02
FED_SHARE = 0.05
COLD_BY_C = 25.0
"""A standing line with a zone this far under its set-point is heating up; a zone that dips less after a stop is not."""

DIPS_FOR_S = 900.0
"""A zone that the melt's heat and open cooling held at set dips after a stop, deeply, until its heater has caught up:
the metal around it is hot and needs no new soak. Common practice, no source."""

UNDER_BY_C = 8.0
"""A line that heats up does so until every zone is this near its set-point."""

HOT_SETPOINT_C = 60.0
NO_HEAT_PCT = 0.5
"""Zones far under their set-points with no more output than this are not being heated: the line is off."""

WANTED_FOR_S = 300.0
HELD_FOR_S = 300.0
JOG_S = 60.0
NEVER = 1e9
LOOK_AHEAD_CELLS = 360
NOTHING_WANTED = {"speed_ref": None, "rate_ref": None, "asked_ref": None}
"""Speed and rate wanted that the line settled on, where it runs on none."""

AGES = ("turning", "still", "running", "started", "unchanged", "soaked")


@dataclass(frozen=True)
class PhaseRun:
    """Phases of a run of cells and how long things have held, seconds, at the end of each cell.

    phase: int8 [n]. ages: 'turning' (screw), 'still' (screw), 'running' (feed wanted and screw turning, as seen),
    'started' (the same, very long where the log begins on a running line), 'unchanged' (speed and rate wanted),
    'soaked' (all zones at temperature since heat-up), each [n]; 'zones' [zone, n] since a zone's set-point moved.
    asked: of the feeders, where no set-point is logged.
    """

    phase: NDArray[np.int8]
    ages: dict[str, Floats]
    asked: asked_rate.Asked


SETTLING_RESIDENCE_TIMES = 4.0
"""Torque and pressure settle in 3 to 5 mean residence times after a change; common practice, no source."""

LEAST_SETTLING_S = {"twin-screw": 120.0, "single-screw": 240.0}
"""However fast the screw: feeders, drives and controllers take this long to come to rest; common practice."""

LONGEST_SETTLING_S = 1800.0


def settling_s(ctx: Context, rate_kg_h: float | None = None) -> float:
    """How long torque and pressure are given after a change of speed or rate: 4 mean residence times.

    rate_kg_h: wanted, else the recipe's is taken. Never less than 120 s on a twin screw and 240 s on a single, and
    just that where geometry or rate is not known; half an hour at most.
    """
    least = LEAST_SETTLING_S[ctx.line.line.kind]
    rate = rate_kg_h or ctx.recipe_rate_kg_h
    held_kg = melt_held_kg(ctx)
    if not rate or held_kg is None:
        return least
    return min(max(least, SETTLING_RESIDENCE_TIMES * 3600 * held_kg / rate), LONGEST_SETTLING_S)


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
        **NOTHING_WANTED,
        "rate_peak": None,
        "settle": settling_s(ctx),
        "lost": 0.0,
        "soaked": NEVER,
        "heated": False,
        "zone_ref": np.full(zones, np.nan),
        "zone_age": np.full(zones, NEVER),
        "off": feed_off.start(ctx),
        "purge": purge.start(ctx),
        "asked": asked_rate.start(ctx),
    }


def recipe_changed(state: State) -> State:
    """Another recipe is another product, even at the same speed and rate: what runs counts as changing."""
    purging = purge.product_changed(state["purge"])
    return {**state, **NOTHING_WANTED, "purge": purging}


def advance(state: State, readings: Readings, ctx: Context) -> tuple[State, PhaseRun]:
    """Phases of whole 10 s cells: one step of a small machine per cell, stretches without a change at once."""
    n, step_s = readings.n, readings.step / 1e9
    off, off_state = feed_off.advance(state["off"], readings, ctx)
    purging, purge_state = purge.advance(state["purge"], readings, ctx)
    asked_state, asked = asked_rate.advance(state["asked"], readings, ctx)
    inputs = _Inputs(readings, off, purging, asked.total, ctx)
    machine = _Machine({**state, "off": off_state, "purge": purge_state, "asked": asked_state}, ctx, step_s)
    zone_ages, i = machine.zone_ages(inputs.zone_set), 0
    phase, ages = np.zeros(n, np.int8), np.zeros((len(AGES), n))
    while i < n:
        until = machine.undisturbed_until(inputs, i)
        if until > i:
            phase[i:until], ages[:, i:until] = machine.run_on(until - i)
            i = until
        else:
            phase[i] = machine.cell(inputs, i)
            ages[:, i] = [machine.s[name] for name in AGES]
            i += 1
    return machine.s, PhaseRun(phase, {**dict(zip(AGES, ages, strict=True)), "zones": zone_ages}, asked)


class _Inputs:
    """The few signals phases are made of, for a run of cells."""

    def __init__(
        self, readings: Readings, off: NDArray[np.bool_], purging: NDArray[np.bool_], asked: Floats, ctx: Context
    ) -> None:
        zones, self.asked_row, self.asked = ctx.subjects_of("zone_temperature"), asked, asked.tolist()
        self.speed_row, self.speed_set_row = readings.get("screw_speed"), readings.get("screw_speed_setpoint")
        feeders = ctx.subjects_of("feeder_rate")
        self.rate_row = self._total(readings.rows("feeder_rate", feeders), readings.get("line_rate"))
        self.rate_set_row = self._total(
            readings.rows("feeder_setpoint", ctx.subjects_of("feeder_setpoint")),
            readings.get("line_rate_setpoint"),
        )
        if not ctx.starve_fed:
            # What is over a flood-fed screw refills what it takes: those set-points follow, nobody asks by them.
            self.rate_set_row = np.full(readings.n, np.nan)
        running = readings.rows("feeder_running", ctx.subjects_of("feeder_running"))
        if len(running) > 0 and len(running) == len(feeders):
            off = off | np.logical_and.reduce(running <= 0.5, axis=0)
        self.all_off, self.purging = off.tolist(), purging.tolist()
        self.speed, self.speed_set = self.speed_row.tolist(), self.speed_set_row.tolist()
        self.rate, self.rate_set = self.rate_row.tolist(), self.rate_set_row.tolist()
        self.zone = readings.rows("zone_temperature", zones)
        self.zone_set = readings.rows("zone_setpoint", zones)
        wanted = np.array([ctx.recipe.zones.get(z, np.nan) if ctx.recipe else np.nan for z in zones])
        aim = np.where(np.isnan(self.zone_set), wanted[:, None] if len(zones) else self.zone_set, self.zone_set)
        hot = aim > HOT_SETPOINT_C
        self.any_hot = any_of(hot)
        self.any_under = any_of(hot & (self.zone < aim - UNDER_BY_C))
        self.any_cold = any_of(hot & (self.zone < aim - COLD_BY_C))
        output = readings.rows("zone_output", zones)
        asking = hot & (self.zone < aim - UNDER_BY_C) & np.isfinite(output)
        self.heat_off = (
            np.logical_or.reduce(asking, axis=0) & ~np.logical_or.reduce(asking & (output > NO_HEAT_PCT), axis=0)
        ).tolist()
        self.zones_known = bool(channel_key("zone_temperature", zones[0]) in readings.index) if zones else False

    @staticmethod
    def _total(rows: Floats, whole: Floats) -> Floats:
        """Sum of the feeders in order, or the line's own figure where no feeder is known."""
        total, known = np.zeros(rows.shape[1]), np.zeros(rows.shape[1], bool)
        for row in rows:
            seen = np.isfinite(row)
            total += np.where(seen, row, 0.0)
            known |= seen
        return np.where(known, total, whole)


class _Machine:
    """One step a cell. `s` is replaced key by key and becomes the next state."""

    def __init__(self, state: State, ctx: Context, step_s: float) -> None:
        self.s, self.ctx, self.step_s = state, ctx, step_s
        self.limit = turning_limit_rpm(ctx)
        self.soak = 60.0 * (ctx.recipe.recipe.soak_min if ctx.recipe else 20.0)
        self.target_rate = ctx.recipe_rate_kg_h or 0.0

    def cell(self, x: _Inputs, i: int) -> int:
        s, dt = self.s, self.step_s
        speed = x.speed[i]
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

    def zone_ages(self, wanted: Floats) -> Floats:
        """Since when each zone's set-point has stood, [zone, n]."""
        rows, n = wanted.shape
        out = np.zeros((rows, n))
        if not rows or not n:
            return out
        ref, age = self.s["zone_ref"], self.s["zone_age"]
        if not (np.isfinite(wanted) & ~(np.abs(wanted - ref[:, None]) <= 2.0)).any():
            out[:] = np.minimum(add_up(age, self.step_s, n), NEVER)
            self.s["zone_age"] = out[:, -1].copy()
            return out
        refs, ages = ref.copy(), age.copy()
        for row in range(rows):
            refs[row], ages[row] = self._one_zone(wanted[row], float(ref[row]), float(age[row]), out[row])
        self.s["zone_ref"], self.s["zone_age"] = refs, ages
        return out

    def _one_zone(self, wanted: Floats, ref: float, age: float, out: Floats) -> tuple[float, float]:
        """Fills in the ages of one zone, from move to move of its set-point; set-point and age at the end."""
        done, n = 0, len(wanted)
        while done < n:
            rest = wanted[done:]
            moves = done + first_of(np.isfinite(rest) & ~(np.abs(rest - ref) <= 2.0))
            out[done:moves] = np.minimum(add_up(np.array([age]), self.step_s, moves - done)[0], NEVER)
            if moves == n:
                return ref, float(out[-1])
            before = float(out[moves - 1]) if moves > done else age
            age = min(before + self.step_s, NEVER) if ref != ref else 0.0
            ref, out[moves], done = float(wanted[moves]), age, moves + 1
        return ref, age

    def undisturbed_until(self, x: _Inputs, first: int) -> int:
        """Up to where the screw turns and product is wanted at the same speed and rate as before; `first` if nowhere.

        Looked for an hour ahead, and only from a cell in which nothing changed.
        """
        s = self.s
        if s["seen"] == 0.0 or s["still"] != 0.0 or s["blind"] != 0.0:
            return first
        if s["unchanged"] == 0.0 or s["speed_ref"] is None:
            return first
        part = slice(first, first + LOOK_AHEAD_CELLS)
        speed, wanted, rate = x.speed_row[part], x.rate_set_row[part], x.rate_row[part]
        aim = np.where(np.isnan(x.speed_set_row[part]), speed, x.speed_set_row[part])
        holds = (
            (speed > self.limit) & ~np.array(x.all_off[part]) & ~np.array(x.purging[part]) & stays(aim, s["speed_ref"])
        )
        set_known = wanted[0] == wanted[0]
        if set_known and s["rate_ref"] is None:
            return first
        holds &= stays(wanted, s["rate_ref"]) if set_known else np.isnan(wanted)
        holds &= np.isnan(x.asked_row[part]) | stays(x.asked_row[part], s["asked_ref"] or np.nan)
        if not self.ctx.starve_fed:
            return first + first_of(~holds)
        fed = wanted if set_known else rate
        peaks = np.fmax.accumulate(np.append(s["rate_peak"] or 0.0, fed))[1:]
        holds &= fed > np.fmax(FED_SHARE * (self.target_rate or peaks), 1e-9)
        cells = first_of(~holds)
        if cells:
            s["rate_peak"] = float(peaks[cells - 1])
            s["lost"] = s["lost"] if set_known else 0.0
        return first + cells

    def run_on(self, n: int) -> tuple[NDArray[np.int8], Floats]:
        """Phases and `AGES` of an undisturbed run, all at once: the same additions in the same order as by cell."""
        s, ages = self.s, {}
        for name in AGES:
            moves = name in ("turning", "running", "started", "unchanged")
            start = np.array([s[name]], float)
            ages[name] = add_up(start, self.step_s, n)[0] if moves else np.repeat(start, n)
        if ages["turning"][-1] >= JOG_S:
            s["heated"] = False
        for name in ("turning", "running", "started", "unchanged"):
            s[name] = float(ages[name][-1])
        code = PHASES.index
        early = np.where(ages["running"] < 60.0, code("starting"), code("settling"))
        phase = np.where(ages["unchanged"] >= s["settle"], code("steady"), early).astype(np.int8)
        s["phase"] = int(phase[-1])
        return phase, np.array([ages[name] for name in AGES])

    def _standing(self, x: _Inputs, i: int) -> str:
        s = self.s
        s["running"], s["started"], s["unchanged"], s["lost"] = 0.0, 0.0, 0.0, 0.0
        s.update(NOTHING_WANTED, rate_peak=None)
        if not x.any_hot[i] or (x.heat_off[i] and s["still"] > DIPS_FOR_S):
            s["heated"] = False
            return "stopped"
        if x.any_under[i] if s["heated"] else x.any_cold[i] and s["still"] > DIPS_FOR_S:
            s["heated"], s["soaked"] = True, 0.0
            return "heating"
        if not s["heated"]:
            return "stopped"
        s["soaked"] = s["soaked"] + self.step_s
        return "ready" if s["soaked"] >= self.soak else "soaking"

    def _wanted(self, x: _Inputs, i: int) -> bool:
        """Whether product is aimed at: by set-point, else by rate with patience for a rate that is lost.

        Feeders that are all switched off, or all lose their rate together, aim at nothing, whatever their set-points
        still say.
        """
        s = self.s
        if not self.ctx.starve_fed:
            return True
        if x.all_off[i]:
            return False
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
            s.update(NOTHING_WANTED)
            return "stopping" if stopping else "idle"
        s["running"] = s["running"] + dt
        s["started"] = NEVER if first else s["started"] + dt
        if x.purging[i]:
            s.update(NOTHING_WANTED, unchanged=0.0)
            return "purging"
        speed = x.speed_set[i] if x.speed_set[i] == x.speed_set[i] else x.speed[i]
        rate, asked = x.rate_set[i], x.asked[i]
        before = s["settle"]
        changed = self._moved("speed_ref", speed) | self._moved("rate_ref", rate)
        if s["asked_ref"] is None and asked == asked:  # read from the rates it is known some time after the start
            s["asked_ref"] = asked
        changed |= self._moved("asked_ref", asked)
        s["unchanged"] = 0.0 if changed and not first else s["unchanged"] + dt
        if changed:
            s["settle"] = settling_s(self.ctx, rate if rate == rate else asked if asked == asked else None)
        if changed and s["running"] > before:
            return "changing"
        if s["unchanged"] >= s["settle"]:
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
