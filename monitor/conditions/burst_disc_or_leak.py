"""Melt pressure is gone within seconds while feeds and screw go on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, pressure_path, read_twice
from monitor.conditions import melt_leaves
from monitor.contract import Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import (
    Bools,
    Floats,
    blank,
    last_known,
    run_length,
    trailing_extremes,
    trailing_greatest,
    two_threshold,
    with_past,
)
from monitor.levels import rule
from monitor.phases import turning_limit_rpm
from monitor.quantities.feed import feed_off_together
from monitor.quantities.load import gross_torque_known, gross_torque_of
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.statistics.robust import median
from monitor.view import Readings

VALVE_S = 10.0
VALVES = ("melt_pump_speed", "diverter_to_product")

CALM_S = 8.0
"""For so long, two readings at least, pressure is known before it falls."""

SLOW_WITHIN_S, SLOW_FOR_S, DRIVE_S = 60.0, 10.0, 180.0
"""A disc that opens in part, a flange that gives way, a line of melt that empties: pressure is gone within half a
minute, and has been for so long. Loss of feed takes the load first, over as long as is looked back for it."""

KEEPS_LOAD, KEEPS_RAW_LOAD = 0.5, 0.75
"""Of the highest load lately: flow as P^(1/0.35) leaves half a percent of it at a seventh of the pressure, so a screw
that gets no melt any more is at no load; of an unrated current that is 35 to 60 %. Common practice, no source."""

STANDS_SHARE, UNLOADED_SHARE, UNLOADED_S = 0.8, 0.85, 10.0
"""Of what they were: a pressure that stands, and a load that is less already, for so long. What comes out takes the
pressure, then the load; a screw that gets no melt loses its load while the pressure still stands. Common practice, no
source."""

STOOD_SHARE = 0.9
"""Of its middle of the minute before: what was less had been sinking, and is not gone at once."""

RUNS_SHORT_SHARE = 0.8
"""The suction of a pump that takes more than comes sinks for a minute and is gone in the last seconds: so much less
than in the minute before, it had been sinking. Common practice, no source."""

MOST_SUNK = 2.0
"""A pressure that was more than so many times as high just before has been falling already."""

FOLLOWS_SHARE, FOLLOWS_S = 0.9, 10.0
"""A pressure further down that stands at more than this share of what it was, and above the one that is gone, for so
long: melt does not flow uphill, and what drives it down there is still behind it. Where melt really comes out, all
pressures beyond the place are down within a few seconds. Common practice, no source."""


@dataclass(frozen=True)
class BurstDiscOrLeak(RuleDefaults):
    """Melt pressure falls to nearly zero in seconds, feeds and torque on.

    An operator would say: "bang, and the pressure was gone". From at least `least_bar`, known for 8 s, pressure
    falls within `within_s` (two cells at least) to under `left_share` of it and stays there for `on_s`, two readings at
    least, while the screw keeps its speed and torque keeps at least half of what it was; or it does so within a minute
    and stays there for 10 s, and the load is known and keeps what it was in the last 3 min. A torn screen leaves
    the pressure of the die, a feed that is lost takes the load. Two sensors that both fall are
    two witnesses; one alone may be its own wire, and that is said, but it is never taken as harmless. A pressure
    further down that stays where it was says that this one is wrong: ten seconds are waited for it to follow, then it
    is said with the sensor first. Look-alikes: stop (speed falls), feed switched off (all rates gone) or lost (silent:
    the load is down 10 s before the pressure, as ahead of a melt pump whose screw races empty, unless pressure is gone
    in seconds from where it stood; or pressure sinks for more than a minute), diverter or start valve thrown (logged:
    silent), melt pump stopped (logged: silent) or turning fast (it draws its suction down while the pressure behind it
    stands: silent), a single odd reading, a controller that restarts and writes zeros (a temperature jumps to exactly
    zero with it: silent for `restart_s`).
    A leak through which most of the melt goes leaves some pressure: what falls within half a minute to under half of
    where it stood for a minute, and stays there for half a minute more, with speed and load as they were and with the
    pressure behind the screen, is said as well; without a pressure behind it to under 30 %, and a torn screen is named.
    Missing readings neither start nor end it. Priority 1, never folded. Memory: 3 min. Burst disc and cut-outs
    protect, not this. Common practice, no source.
    """

    least_bar: float = setting(15, 3, 200, "bar before")
    left_share: float = setting(0.15, 0.02, 0.5, "of the pressure before")
    within_s: float = setting(4, 1, 10, "s: a transmitter damped by 2 s shows a seventh after as long")
    restart_s: float = setting(30, 5, 300, "s for which zeros are taken for a restart")
    on_s: float = setting(2, 1, 10, "s")
    off_s: float = setting(10, 1, 600, "s")

    name: ClassVar[str] = "burst_disc_or_leak"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "pressure gone: burst disc or leak"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure", "screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every pressure ahead of the die; in barrel and vent low pressure is usual."""
        if not ctx.has("screw_speed"):
            return ()
        return tuple(pressure_path.groups(ctx, "before_screen", "after_screen", "pump_suction", "pump_discharge"))

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """At most a few seconds, or two readings."""
        return Timing(read_twice.on_delay_s(self.on_s, ctx), self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        k = len(subjects)
        return {
            "past": blank(k, 2 * self._slow(ctx) + self._calm(ctx)),
            "drive": blank(4, self._drive(ctx)),
            "valve": blank(2, max(ctx.cells(VALVE_S), self._slow(ctx))),
            "slow": np.zeros(k, np.int64),
            "leak": np.zeros(k, np.int64),
            "left": np.full(k, np.nan),
            "zero": blank(1, 1),
            "restart": np.zeros(1, np.int64),
            "gone": np.zeros(k, bool),
            "was": np.full(k, np.nan),
            "were": np.full(k, np.nan),
            "twice": read_twice.start(k),
            "gone_for": np.zeros(k, np.int64),
        }

    @staticmethod
    def _calm(ctx: Context) -> int:
        return max(2, ctx.cells(CALM_S))

    def _lag(self, ctx: Context) -> int:
        return max(2, ctx.cells(self.within_s))

    def _slow(self, ctx: Context) -> int:
        return max(self._lag(ctx), ctx.cells(SLOW_WITHIN_S))

    def _drive(self, ctx: Context) -> int:
        return max(self._slow(ctx) + self._calm(ctx), ctx.cells(DRIVE_S))

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a pressure."""
        calm, n = self._calm(ctx), view.n
        bar = pressure_path.pressures(view, {s: pressure_path.groups(ctx)[s] for s in subjects})
        joined, past = with_past(state["past"], bar)
        speed, load = view.get("screw_speed"), self._load(view, ctx)
        drive, drive_past = with_past(state["drive"], np.array([speed, load, *melt_leaves.pump(view, ctx)]))
        valve, valve_past = with_past(state["valve"], np.array([view.get(key) for key in VALVES]))
        restart, restart_state, zero = self._restart(state, view, ctx)
        after = {"past": past, "drive": drive_past, "valve": valve_past, "zero": zero, "restart": restart_state}
        with np.errstate(invalid="ignore"):
            highest = np.fmax.reduce(joined, axis=1, initial=-np.inf)[:, None]
            most_left = max(self.left_share, melt_leaves.LEAK_SHARE)
            if not state["gone"].any() and not np.count_nonzero(bar <= most_left * highest):
                level = rule(np.zeros(bar.shape, bool), np.isfinite(bar), np.ones((1, n), bool))
                kept = {name: state[name] for name in ("gone", "was", "were", "left")}
                fresh = {"twice": read_twice.start(len(subjects))}
                fresh |= {name: np.zeros(len(subjects), np.int64) for name in ("gone_for", "slow", "leak")}
                return after | kept | (fresh if n else {k: state[k] for k in fresh}), no_facts(level)
            turns = speed > turning_limit_rpm(ctx)
            quiet = restart | feed_off_together(view, ctx.subjects_of("feeder_rate"), ctx) | ~turns
            low, drops = self._drops(joined, bar, self._lag(ctx) + calm, calm, self.left_share)
            ago = drive[:, drive.shape[1] - n - self._lag(ctx) - calm :][:, :n]
            kept = (ago[0] > turning_limit_rpm(ctx)) & (speed >= 0.9 * ago[0]) & ~(load < 0.5 * ago[1])
            falls = drops & kept & ~self._thrown(valve, n, ctx.cells(VALVE_S)) & ~quiet
            slow_low, slow_drops = self._drops(joined, bar, self._slow(ctx) + calm, calm, self.left_share)
            most, _ = trailing_greatest(drive[:2, : drive.shape[1] - n], np.array([speed, load]))
            ago = drive[:, drive.shape[1] - n - self._slow(ctx) - calm :][:, :n]
            kept = (ago[0] > turning_limit_rpm(ctx)) & (speed >= 0.9 * most[0]) & (load >= self._keeps(ctx) * most[1])
            slow = slow_drops & kept & (load > 0) & ~self._thrown(valve, n, self._slow(ctx)) & ~quiet
            slow_for, slow_state = run_length(state["slow"], slow)
            first = slow_for == ctx.cells(SLOW_FOR_S)
            leaves = melt_leaves.shares(subjects, ctx)
            _, leaks = self._drops(joined, bar, self._slow(ctx) + calm, calm, leaves)
            least = self._keeps(ctx, melt_leaves.LEAK_LOAD, melt_leaves.LEAK_RAW_LOAD)
            leaks &= kept & (load >= least * most[1]) & (load > 0) & ~self._thrown(valve, n, self._slow(ctx)) & ~quiet
            # More work or speed than a minute ago, as in a start, is another matter.
            leaks &= (ago[1] >= least * load) & (ago[0] >= 0.9 * speed)
            leaks &= melt_leaves.falls_too(bar <= melt_leaves.LEAK_BACK * slow_low, subjects, ctx)
            leak_for, leak_state = run_length(state["leak"], leaks)
            leak = (
                (leak_for == ctx.cells(melt_leaves.LEAK_FOR_S)) & (bar > self.left_share * slow_low) & ~falls & ~first
            )
            late = first | leak
            low = np.where(late & ~falls, slow_low, low)
            falls |= late
            falls &= ~self._starves(falls, joined, drive, low, late, np.where(leak, leaves, np.inf), ctx)
            was, was_state = last_known(state["was"], np.where(falls, low, np.nan))
            until = np.where(leak, melt_leaves.LEAK_BACK, 2 * self.left_share)
            left, left_state = last_known(state["left"], np.where(falls, until, np.nan))
            back = (bar > left * was) | ~turns | restart
        gone, gone_state = two_threshold(state["gone"], falls, back)
        came = np.array([self._came(view, members) for members in self._members(subjects, ctx)]).reshape(bar.shape)
        twice_state, waits = read_twice.advance(state["twice"], gone, came, ctx)
        length, gone_for = run_length(state["gone_for"], gone)
        other, limit = self._partner(bar, was, subjects, ctx)
        then = np.nan_to_num(self._partner(low, low, subjects, ctx)[0])
        were, were_state = last_known(state["were"], np.where(length == 1, then, np.nan))
        with np.errstate(invalid="ignore"):
            stands = (other >= FOLLOWS_SHARE * were) & (were >= self.least_bar) & (other > limit)
            # What it is told by: once the other pressure has had its time to follow.
            score = (was - bar) / was + np.fmin(length * ctx.step_s / FOLLOWS_S, 1.0)
        stood = stands & (length * ctx.step_s > FOLLOWS_S)
        # The first reading counts; what follows it does where it is one, and where nothing says otherwise so soon.
        waits = waits | ((length > 1) & stands & ~stood)
        level = rule(gone, np.isfinite(bar) & ~waits, np.ones((1, n), bool))
        facts = {
            "bar": bar, "was": was, "both": np.broadcast_to(np.count_nonzero(gone, axis=0).astype(float), bar.shape),
            "load": np.broadcast_to(load, bar.shape), "stands": np.where(stood, other, np.nan), "stood": were,
            "leaks": left == melt_leaves.LEAK_BACK,
        }  # fmt: skip
        after |= {"gone": gone_state, "was": was_state, "were": were_state, "twice": twice_state, "gone_for": gone_for}
        after |= {"slow": slow_state, "leak": leak_state, "left": left_state}
        return after, Judged(level, score, facts)

    def _drops(self, joined: Floats, bar: Floats, ago: int, calm: int, left: float | Floats) -> tuple[Floats, Bools]:
        """What pressure was, calm over `calm` cells that end so many cells ago but `calm`, and whether it is gone.

        left: of it, for all or by pressure [k, 1], at which it is gone.
        """
        n = bar.shape[1]
        then = joined[:, joined.shape[1] - n - ago :]
        low, high, _ = trailing_extremes(then[:, : calm - 1], then[:, calm - 1 : calm - 1 + n])
        return low, (low >= self.least_bar) & (bar <= left * low) & (high <= MOST_SUNK * low)

    def _starves(
        self, falls: Bools, joined: Floats, drive: Floats, low: Floats, first: Bools, most: Floats, ctx: Context
    ) -> Bools:
        """Of pressures that are gone, [k, n], those that had sunk before and those which the load went ahead of.

        joined, drive: to the end of `falls`, with what was before. low: what they fell from. first: within a minute.
        most: of the least they were the minute before that.
        """
        n, slow, calm, few = falls.shape[1], self._slow(ctx), self._calm(ctx), max(2, ctx.cells(UNLOADED_S))
        out = np.zeros(falls.shape, bool)
        places = [pressure_path.place(subject, ctx) for subject in self.subjects(ctx)]
        for row, cell in np.argwhere(falls):
            bar, loads, pump, behind = (line[: line.size - n + 1 + cell] for line in (joined[row], *drive[1:]))
            from_bar, back = low[row, cell], slow if first[row, cell] else self._lag(ctx)
            least = STOOD_SHARE if first[row, cell] else 1 / MOST_SUNK if ctx.step_s > self.within_s else 0.0
            if places[row] == "pump_suction":
                least = max(least, RUNS_SHORT_SHARE)
            minute = bar[-back - calm - slow : -back - calm]
            out[row, cell] = from_bar < least * median(minute)
            # A passing high, as of a start, comes down by itself to where it had been.
            out[row, cell] |= bar[-1] > most[row, cell] * np.fmin.reduce(minute, initial=np.inf)
            if places[row] == "pump_suction":
                out[row, cell] |= melt_leaves.draws(pump, behind, slow, few if first[row, cell] else 2)
            if bar[-1 - ctx.cells(self.within_s)] >= STANDS_SHARE * median(bar[-slow - calm :]):
                # Gone in seconds from where it stood, whatever the load did before.
                continue
            stands = (bar[-slow - calm :] >= STANDS_SHARE * from_bar) & np.isfinite(loads[-slow - calm :])
            still, before = loads[-slow - calm :][stands][-few:], loads[-self._drive(ctx) : -slow]
            if still.size >= few and np.count_nonzero(np.isfinite(before)) >= few:
                out[row, cell] |= still.max() <= UNLOADED_SHARE * median(before)
        return out

    @staticmethod
    def _keeps(ctx: Context, known: float = KEEPS_LOAD, raw: float = KEEPS_RAW_LOAD) -> float:
        return known if gross_torque_known(ctx) or ctx.has("torque") else raw

    @staticmethod
    def _members(subjects: tuple[str, ...], ctx: Context) -> list[tuple[str, ...]]:
        of = pressure_path.groups(ctx)
        return [of[subject] for subject in subjects]

    @staticmethod
    def _came(view: Readings, members: tuple[str, ...]) -> Bools:
        return read_twice.arrived(view, [channel_key("melt_pressure", member) for member in members])

    def _partner(self, rows: Floats, was: Floats, subjects: tuple[str, ...], ctx: Context) -> tuple[Floats, Floats]:
        """Row of the other side for each pressure, NaN where there is none, and above what it contradicts, [k, n].

        Beyond the screen it does if it is higher than the one that is gone; ahead of it, if that one was a good part of
        what it works against.
        """
        other, limit = np.full(rows.shape, np.nan), np.full(rows.shape, np.inf)
        for row, subject in enumerate(subjects):
            name = melt_leaves.partner(subject, subjects, ctx)
            if name is None:
                continue
            other[row] = rows[subjects.index(name)]
            beyond = pressure_path.place(name, ctx) == "after_screen"
            with np.errstate(invalid="ignore"):
                limit[row] = rows[row] if beyond else np.where(was[row] >= 0.3 * other[row], 0.0, np.inf)
        return other, limit

    @staticmethod
    def _load(view: Readings, ctx: Context) -> np.ndarray:
        """Net of the no-load part where that is known: an idling motor draws half of its current."""
        if gross_torque_known(ctx):
            return gross_torque_of(view, ctx) - ctx.line.drive.no_load_torque_pct
        for role in ("torque", "motor_current", "drive_power"):
            if ctx.has(role):
                return view.get(role)
        return np.full(view.n, np.nan)

    def _restart(self, state: State, view: Readings, ctx: Context) -> tuple[Bools, np.ndarray, np.ndarray]:
        """For a while after a temperature jumped to exactly zero, as no temperature can."""
        rows = ctx.once("temperature rows", lambda: _temperature_rows(view))
        # Row by row: a copy of them all takes longer than to look at them.
        if view.n and not any(np.count_nonzero(view.values[row] == 0.0) for row in rows):
            return np.zeros(view.n, bool), state["restart"] + view.n, np.zeros((1, 1))
        zero = np.add.reduce(view.values[rows] == 0.0, axis=0, dtype=np.float64)
        joined, past = with_past(state["zero"], zero[None, :])
        jumps = joined[0, 1:] > joined[0, : view.n]
        since, since_state = run_length(state["restart"], ~jumps[None, :])
        lately = since[0] < ctx.cells(self.restart_s)
        return jumps | (lately & (zero > 0)), since_state, past

    @staticmethod
    def _thrown(valve: np.ndarray, n: int, over: int) -> Bools:
        """Whether diverter or melt pump explain it: thrown or slowed within so many cells."""
        before = valve.shape[1] - n
        high, _ = trailing_greatest(valve[:, before - over : before], valve[:, before:])
        with np.errstate(invalid="ignore"):
            return (valve[0, before:] < 0.5 * high[0]) | (valve[1, before:] < high[1] - 0.5)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """From where to where."""
        alone, stands = facts["both"] < 2, facts["stands"] > 0
        other = melt_leaves.partner(subject, self.subjects(ctx), ctx)
        against = f"pressure {other} on the other side of the screen stands at {facts['stands']:.0f} bar, as before"
        wire = Cause(
            "sensor or its wire",
            (against,) if stands else ("no second pressure sensor fell with it",) if alone else (),
            () if alone else ("two pressures fell together",),
        )
        out = (
            Cause("burst disc opened", (), (against,) if stands else ()),
            Cause("leak at die, adapter, screen changer or a sensor port", (), (against,) if stands else ()),
        )
        if facts["leaks"]:
            ahead = pressure_path.place(subject, ctx) == "before_screen" and other is None
            torn = Cause("screen torn or blown through", (), ("it leaves what the die needs",))
            out = (*reversed(out), *((torn,) if ahead else ()))
        said = ", load and speed unchanged" if facts["leaks"] else " while the screw turns"
        drawn = ()
        if pressure_path.place(subject, ctx) == "pump_suction" and ctx.has("melt_pump_speed"):
            drawn = (Cause("extruder starved: the pump has drawn its suction empty", (), (), ("melt_pump_starved",)),)
        return Explanation(
            f"melt pressure {subject} fell from {facts['was']:.0f} to {facts['bar']:.0f} bar{said}: treat it as melt "
            "coming out",
            1,
            "low" if stands else "medium" if alone else "high",
            (
                Evidence(f"melt pressure {subject}", facts["bar"], "bar", facts["was"], None, self.channel(subject)),
                *([Evidence(f"melt pressure {other}", facts["stands"], "bar", facts["stood"])] if stands else []),
                Evidence("load", facts["load"], "", None, None, ""),
            ),
            (
                *((wire, *out) if stands else (*out, *drawn, wire)),
                Cause("start valve or die bypass opened without being logged"),
            ),
            (
                "stop feed and screw by site procedure",
                "look from a safe place: disc outlet, die, flanges",
                "why the pressure rose before, if a disc opened; fit the same rating",
            ),
            cautions.PRESSURE,
            moved={"pressure": float(np.log(facts["bar"] / facts["was"])) if facts["leaks"] else -3.0},
        )


def _temperature_rows(view: Readings) -> list[int]:
    return [row for key, row in view.index.items() if key.startswith(("melt_temperature", "zone_temperature"))]
