"""One controller's channels are missing or stand still while the others live."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from ingest.roles import ROLES, channel_key, split_key
from monitor import display_steps
from monitor.conditions.group_rest import LIVELY_CHANNELS, cells_needed
from monitor.conditions.held_unwritten import HELD_FOR_S, ON_SET, held_unwritten
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Bools, Floats, blank, last_known, run_length, with_past
from monitor.levels import rule
from monitor.phases import RUNNING
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import COMES_BACK_S, RuleDefaults
from monitor.view import CoarseView

GROUPS = {
    "zone controller": ("zone_temperature", "zone_output", "zone_current", "zone_cooling"),
    "drive": ("screw_speed", "torque", "motor_current", "drive_power"),
    "melt sensors": ("melt_pressure", "melt_temperature"),
    "vacuum": ("vacuum",),
    "downstream": ("haul_off_speed", "haul_off_load", "cutter_speed", "melt_pump_speed", "melt_pump_load"),
    "feeder": ("feeder_rate", "feeder_drive", "feeder_weight", "stuffer_load", "injection_pressure"),
}
"""Roles that usually come from one controller; every feeder has its own."""

REGULAR_S = 300.0
"""A channel that has been there so long without a break is logged regularly: then its silence is news."""

LEAST_HOLD_S = 30.0
"""Who lets a reading stand for longer has a log that is written on change, or seldom."""

DELIVERS_NOTHING = 0.05
"""Share of its set-point under which a feeder is empty, bridged or off: nothing in it moves any more."""

AT_ONCE = 6
"""Cells: who moves in half of them has moved in one of so many, but once in 64."""

TOGETHER_S = 120.0
"""A controller is lost for a minute and a half now and then; common practice, no source."""

SETTLES_S = 2400.0
"""Zones take 20 to 40 min to come to rest after a stop, another speed, rate or set-point: what they move by then tells
nothing of how seldom they do at rest, where whole degrees stand for half an hour. Common practice, no source."""

ALONE_S = 1200.0
"""A feeder of which only the rate is logged: so long it must stand, longer than a refill by hand holds it. Common
practice, no source."""

USUAL_AFTER_S = 1800.0
"""How often a channel moves is known after so long: what flickers between two digits for ten minutes does so by chance,
as long as it stands near the edge between them. Common practice, no source."""


def groups(ctx: Context) -> dict[str, tuple[str, ...]]:
    """Channels by group, each group by its first channel."""
    return ctx.once("controllers", lambda: _groups(ctx))


def on_change(ctx: Context) -> frozenset[str]:
    """Channels whose readings stand for longer than their role's usually do: they are logged on change."""
    return ctx.once("on change", lambda: _on_change(ctx))


def _on_change(ctx: Context) -> frozenset[str]:
    return frozenset(
        channel_key(sensor.role, sensor.at)
        for sensor in ctx.line.sensor
        if sensor.hold_s is not None and sensor.hold_s > max(ROLES[sensor.role].hold_s, LEAST_HOLD_S)
    )


def _groups(ctx: Context) -> dict[str, tuple[str, ...]]:
    found: dict[tuple[str, str], list[str]] = {}
    for key in ctx.line.channels:
        role, at = split_key(key)
        for name, roles in GROUPS.items():
            if role in roles:
                found.setdefault((name, at if name == "feeder" else ""), []).append(key)
    return {keys[0]: tuple(keys) for keys in found.values()}


def _alone(of: dict[str, tuple[str, ...]]) -> list[tuple[int, int]]:
    """Feeders that log their rate alone: number of the group, row of the channel."""
    found, row = [], 0
    for group, keys in enumerate(of.values()):
        if len(keys) == 1 and keys[0].startswith("feeder_rate:"):
            found.append((group, row))
        row += len(keys)
    return found


def label(subject: str) -> str:
    """What a group is called."""
    role, at = split_key(subject)
    name = next(name for name, roles in GROUPS.items() if role in roles)
    return f"{name} {at}" if name == "feeder" else name


@dataclass(frozen=True)
class ControllerStale(RuleDefaults):
    """Channels of one controller give no readings, or all stand still to the last digit, while others live.

    An operator would say: "the feeder values have frozen on the screen". Channels are taken together that usually
    come from one controller: zones, drive, melt sensors, vacuum, downstream, each feeder. Missing: a channel that
    has been seen gives nothing for `missing_s`. Standing still: at least two channels of the group that moved in
    half of the 10 s cells of the hour before, half an hour at least, and until a minute before the last of the group
    did, do not move for `still_s`, none of them zero, nor any other of the group, while the line runs and another
    group moves; where each of them rests for long, with a deadband, the group as a whole, three times as long as in
    that hour, for twenty of its usual moves and two minutes: of zones only what they moved at rest counts, 40 min and
    more after a stop or change. What is missing is 'no data', never zero, and what it would have shown was not watched.
    Look-alikes: a channel that is logged now and then or on change (a `hold_s` of its own: only all of a group, on a
    running line), coarse resolution (did not move before: left out), zones that come to rest in whole degrees (one
    after the other), a feeder that stands (zero: left out) or has run empty (its drive at its end, rate and weight near
    zero: nothing is left to move), a feeder in volumetric or refilling (its rate stands on its set-point and its drive
    is held by design; where that is written on change, nothing comes: ten minutes are waited for), the whole log silent
    (data stopped), one frozen sensor (its own finding).
    Missing readings are the matter itself. Memory: an hour of marks. Numbers are common practice, no source.
    """

    missing_s: float = setting(60, 10, 3600, "s without readings")
    still_s: float = setting(180, 30, 3600, "s without any difference")
    on_s: float = setting(10, 10, 3600, "s")
    off_s: float = setting(20, 10, 3600, "s")

    name: ClassVar[str] = "controller_stale"
    family: ClassVar[Family] = "data"
    title: ClassVar[str] = "one controller silent"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    again_s: ClassVar[float] = COMES_BACK_S
    needs: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Groups of channels."""
        return tuple(groups(ctx))

    def channel(self, subject: str) -> str:
        """The first channel of the group."""
        return subject

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        k = sum(len(keys) for keys in groups(ctx).values())
        return {
            "last": blank(k, 1),
            "seen": np.zeros(k, bool),
            "there": np.zeros(k, np.int64),
            "missing": np.zeros(k, np.int64),
            "latest": np.full(k, np.nan),
            "still": np.zeros(k, np.int64),
            "marks": np.zeros((k, ctx.cells(3600)), bool),
            "runs": np.zeros((k, ctx.cells(3600)), bool),
            "rested": np.zeros(ctx.cells(3600), bool),
            "calm": np.full(1, ctx.cells(SETTLES_S), np.int64),
            "usual": np.full(k, np.nan),
            "rest": np.zeros(len(subjects), np.int64),
            "needed": np.full(len(subjects), np.nan),
            "display": display_steps.start(len(_alone(groups(ctx))), ctx.cells(display_steps.WITHIN_S)),
            "digits": np.full(len(_alone(groups(ctx))), np.nan),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a group."""
        of, n = groups(ctx), view.n
        keys = [key for members in of.values() for key in members]
        x = view.values[[view.index[key] for key in keys]] if keys else np.zeros((0, n))
        known = np.isfinite(x) | self._jumped(view, keys)
        there, there_state = run_length(state["there"], known)
        regular = there >= ctx.cells(REGULAR_S)
        seen = np.logical_or.accumulate(np.concatenate((state["seen"][:, None], regular), axis=1), axis=1)[:, 1:]
        missing, missing_state = run_length(state["missing"], ~known & seen)
        joined, last = with_past(state["last"], x)
        differs = (joined[:, 1:] != joined[:, :n]) & known
        still, still_state = run_length(state["still"], ~differs & known)
        running = view.in_phase(*RUNNING)
        judged, width = known & running, ctx.cells(self.still_s)
        hour = {
            name: np.concatenate((state[name], now), axis=1) for name, now in (("marks", differs), ("runs", judged))
        }
        at_rest, calm_state = self._at_rest(state["calm"], view, ctx)
        hour["rested"] = np.concatenate((state["rested"], at_rest))
        least = ctx.cells(USUAL_AFTER_S)
        usual = self._usual(state["usual"], still, hour["marks"] & hour["runs"], hour["runs"], width, least)
        by_design = self._by_design(view, keys)
        frozen = (usual >= 0.5) & (x != 0.0) & (still >= width) & ~by_design
        rows = list(self._rows(of))
        alone, alone_state = self._alone(state, view, of, differs & known, frozen & (still >= ctx.cells(ALONE_S)))
        there = known & ~by_design & (x != 0.0)
        together, kept = self._silent_together(
            state, of, differs & known, there, hour, ctx.cells(min(TOGETHER_S, self.still_s)), least
        )
        # What comes to rest by itself does so one after the other; a controller that falls silent takes all at once.
        for part in rows:
            frozen[part] &= still[part] <= np.min(np.where(known[part], still[part], still.max() + 1), axis=0) + AT_ONCE
        moved = known & (still < width)
        moving = known & (still < ctx.cells(60)) & (x != 0.0)
        latest, latest_state = last_known(state["latest"], x)
        gone = missing >= ctx.cells(self.missing_s)
        if gone.any():
            gone &= ~held_unwritten(view, keys, latest) | (missing >= ctx.cells(HELD_FOR_S))
        gone = self._together_on_change(gone, of, running, ctx)
        after = {
            "last": last, "seen": seen[:, -1].copy() if n else state["seen"], "missing": missing_state,
            "there": there_state, "latest": latest_state,
            "still": still_state, "usual": usual[:, -1].copy() if n else state["usual"],
            "marks": hour["marks"][:, n:].copy(), "runs": hour["runs"][:, n:].copy(),
            "rested": hour["rested"][n:].copy(), "calm": calm_state, **kept, **alone_state,
        }  # fmt: skip
        if not gone.any() and not frozen.any() and not together.any():
            calm = np.zeros((len(of), n))
            facts: dict[str, Floats] = dict.fromkeys(("missing", "of", "first", "stale"), calm)
            return after, Judged(calm.astype(np.int8), calm, facts)
        count = [np.count_nonzero(gone[part], axis=0) for part in rows]
        stale = [
            (((np.count_nonzero(frozen[part], axis=0) >= 2) & ~moved[part].any(axis=0)) | together[row] | alone[row])
            & running
            for row, part in enumerate(rows)
        ]
        alive = [known[part].any(axis=0) for part in rows]
        moves = [moving[part].any(axis=0) for part in rows]
        holds, facts = self._judge(count, stale, alive, moves, n)
        for row, part in enumerate(rows):
            facts["first"][row] = np.argmax(gone[part], axis=0)
            facts["of"][row] = len(gone[part])
        level = rule(holds, np.ones(holds.shape, bool), np.ones(holds.shape, bool))
        facts["stale"] = np.array(stale).reshape(holds.shape).astype(float)
        return after, Judged(level, facts["missing"] + facts["stale"], facts)

    def _together_on_change(self, gone: Bools, of: dict[str, tuple[str, ...]], running: Bools, ctx: Context) -> Bools:
        """Silence of what is logged on change says that nothing changes: of a single channel, of a feeder that is
        refilled, of a line that stands. Only all of such channels of a controller, on a running line, are silent."""
        longer = on_change(ctx)
        if not longer or not gone.any():
            return gone
        out, first = gone.copy(), 0
        for members in of.values():
            rows = [first + place for place, key in enumerate(members) if key in longer]
            if rows:
                out[rows] &= gone[rows].all(axis=0) & running & (len(rows) > 1)
            first += len(members)
        return out

    @staticmethod
    def _jumped(view: CoarseView, keys: list[str]) -> Bools:
        """Temperatures that are there but cannot be (monitor.jump_guard): a couple's matter, not missing."""
        out = np.zeros((len(keys), view.n), bool)
        for row, key in enumerate(keys):
            if key.startswith(("zone_temperature", "melt_temperature")):
                out[row] = np.isfinite(view.raw[view.index[key]])
        return out

    @staticmethod
    def _by_design(view: CoarseView, keys: list[str]) -> Bools:
        """Channels of feeders whose rate is held and shown as the set-point, in volumetric or while refilling, and of
        feeders that deliver nothing."""
        out = np.zeros((len(keys), view.n), bool)
        for row, key in enumerate(keys):
            role, at = split_key(key)
            if role in GROUPS["feeder"]:
                held = (view.get(f"feeder_gravimetric:{at}") < 0.5) | (view.get(f"feeder_refill:{at}") > 0.5)
                wanted, rate = view.get(f"feeder_setpoint:{at}"), view.get(f"feeder_rate:{at}")
                still = (np.abs(rate - wanted) <= ON_SET * np.abs(wanted)) | (rate <= DELIVERS_NOTHING * wanted)
                out[row] = held | still
        return out

    @staticmethod
    def _rows(of: dict[str, tuple[str, ...]]):
        first = 0
        for members in of.values():
            yield slice(first, first + len(members))
            first += len(members)

    @staticmethod
    def _at_rest(before: NDArray[np.int64], view: CoarseView, ctx: Context) -> tuple[Bools, NDArray[np.int64]]:
        """Whether the zones have had time to settle, [n]. A line that runs as its log begins has run before."""
        moved = ~view.in_phase(*RUNNING) | (view.ages["unchanged"] <= 0.0)
        calm, after = run_length(before, ~moved[None, :])
        settled = calm[0] >= ctx.cells(SETTLES_S)
        return settled & (view.ages["zones"] >= SETTLES_S).all(axis=0), after

    def _silent_together(
        self,
        state: State,
        of: dict[str, tuple[str, ...]],
        moves: Bools,
        there: Bools,
        hour: dict[str, Bools],
        width: int,
        least: int,
    ) -> tuple[Bools, State]:
        """Whether a whole group has rested for far longer than it did in the hour before, [group, n].

        moves, there: [k, n], of each channel. width: cells at rest after which that hour is looked at. least: cells of
        it that must have been seen.
        """
        n, rows, zones = moves.shape[1], list(self._rows(of)), [label(subject) == "zone controller" for subject in of]
        rest = np.zeros((len(rows), n), bool)
        for row, part in enumerate(rows):
            rest[row] = ~moves[part].any(axis=0) & (np.count_nonzero(there[part], axis=0) >= LIVELY_CHANNELS)
        cells, rest_state = run_length(state["rest"], rest)
        needed = np.full(cells.shape, np.nan)
        for group, cell in zip(*np.nonzero(cells == width), strict=True):
            past = slice(cell, cell + hour["marks"].shape[1] - n - width + 1)
            marks = hour["marks"][rows[group], past] & hour["runs"][rows[group], past]
            runs = np.logical_or.reduce(hour["runs"][rows[group], past], axis=0)
            if zones[group]:
                marks, runs = marks & hour["rested"][past], runs & hour["rested"][past]
            needed[group, cell] = cells_needed(marks, runs, least)
        needed, needed_state = last_known(state["needed"], needed)
        return cells >= needed, {"rest": rest_state, "needed": needed_state}

    def _alone(
        self, state: State, view: CoarseView, of: dict[str, tuple[str, ...]], moves: Bools, frozen: Bools
    ) -> tuple[Bools, State]:
        """Where the one channel of a feeder stands, [group, n]. moves, frozen: [k, n], of each channel."""
        out, single = np.zeros((len(of), view.n), bool), _alone(of)
        if not single:
            return out, {"display": state["display"], "digits": state["digits"]}
        groups_of, rows = zip(*single, strict=True)
        low, high = view.low_high("feeder_rate", [split_key(list(of)[group])[1] for group in groups_of])
        values, display = display_steps.advance(state["display"], low, high)
        values, digits = last_known(state["digits"], np.where(moves[list(rows)], values, np.nan))
        with np.errstate(invalid="ignore"):
            out[list(groups_of)] = frozen[list(rows)] & (values >= display_steps.FEWEST)
        return out, {"display": display, "digits": digits}

    @staticmethod
    def _usual(before: Floats, still: NDArray[np.int64], marks: Bools, runs: Bools, width: int, least: int) -> Floats:
        """Share of cells that moved in the hour before a channel came to rest, from when that is noticed; [k, n].

        width: cells at rest after which it is. least: cells of that hour that must have been seen.
        """
        noticed = still == width
        if not noticed.any():
            return np.broadcast_to(before[:, None], still.shape)
        out = np.full(still.shape, np.nan)
        for row, cell in zip(*np.nonzero(noticed), strict=True):
            past = slice(cell, cell + marks.shape[1] - still.shape[1] - width + 1)
            count = np.count_nonzero(runs[row, past])
            out[row, cell] = np.count_nonzero(marks[row, past]) / count if count >= least else 0.0
        return last_known(before, out)[0]

    @staticmethod
    def _judge(count, stale, alive, moves, n: int):
        groups_n = len(count)
        holds = np.zeros((groups_n, n), bool)
        facts = {name: np.zeros((groups_n, n)) for name in ("missing", "of", "first")}
        for row in range(groups_n):
            rest = [other for other in range(groups_n) if other != row]
            others_alive = np.logical_or.reduce([alive[other] for other in rest], axis=0) if rest else np.zeros(n, bool)
            others_move = np.logical_or.reduce([moves[other] for other in rest], axis=0) if rest else np.zeros(n, bool)
            here = alive[row] | others_alive
            holds[row] = ((count[row] > 0) & here) | (stale[row] & others_move)
            facts["missing"][row] = count[row]
        return holds, facts

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which, and how many."""
        keys, name = groups(ctx)[subject], label(subject)
        missing, of = int(facts["missing"]), int(facts["of"])
        if missing == 0:
            what = f"{name}: all readings stand still while others move: stale"
        elif missing < of:
            one = " ".join(split_key(keys[int(facts["first"])])).replace("_", " ").strip()
            what = f"{name}: no readings from {missing} of {of} channels, {one} among them"
        else:
            what = f"{name}: no readings, while others come"
        return Explanation(
            f"{what}; nothing is known there",
            3,
            "high",
            (Evidence(f"channels of the {name} without readings, of {of}", float(missing), ""),),
            (
                Cause("controller off, restarting or off the network"),
                Cause(
                    "one card, cable or tag", (), ("all channels together",) if missing in (0, of) and of > 1 else ()
                ),
                Cause("tag renamed or logging stopped"),
            ),
            ("the controller's own display", "its network and the logger", "set aside what depended on it"),
        )
