"""Output swings to and fro."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key, split_key
from monitor import cautions
from monitor.conditions.machine_load import has_melt_pump, judging_sensors, place_of
from monitor.conditions.swing import FACTS, swing_of
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, last_known, trailing_extremes, two_threshold, with_past
from monitor.levels import rule
from monitor.records import Cause, Confidence, Evidence, Family
from monitor.view import CoarseView

WINDOW_S, ASKED_EVERY_S = 1200.0, 60.0
EARLY_S, EARLY_FACTOR = 420.0, 2.0
"""What swings by twice the limits is said as soon as the end of the window shows its cycles."""

OUTPUT_LOST = 0.15
"""Swing of the output either way that no sheet, pipe or strand bears: soon, not this shift. Common practice, no
source."""

EMPTY_SHARE = 0.3
"""A flood-fed screw with less of its usual net torque or pressure runs empty, it does not surge."""

FLOW_EXPONENT = 0.35
"""dQ/Q = (1/n) dP/P: a swing of pressure hides a larger one of output."""

REPEATS = 1.35
"""Part of a small swing that is there again one period later, at least, times the root of the cycles seen: of wander
that is random about one root is by chance. Common practice, no source."""

SMALL_FACTOR = 2.0
"""A swing of less than so many times the limits is small: a larger one counts however uneven its dips are."""

FOLLOWS_S = 10.0
"""A load that comes so late is late by the filter of its display, a clock or one cell: no cause is turned by it."""


@dataclass(frozen=True)
class Surging:
    """Output swings to and fro (flood-fed screws).

    An operator would say: "it is surging". Pressure ahead of the die swings regularly by more than 5 % either way, or
    the rate of the line does where it is measured, four times or more in 20 min, or in 7 min by twice that; without
    either the load is looked at, by the same measure (a screw that fills and empties draws torque with its fill). Half
    as much is enough where the load swings in the same rhythm: a sensor alone does not move the drive, and good lines
    hold 1 %. A swing of less than twice that has to repeat itself one period later, by more than wander does by chance.
    What swings with it tells the cause: a feed surge only dips, so the wave is lopsided, and load leads output by 5 to
    60 s; with a melting plug load is up while output is down; a hunting speed goes in step with it; zone cycling is
    locked to a zone's output. Look-alikes: flight ripple caught at too slow a sampling rate (its period moves with
    screw speed: where the period is what speed and cadence give, and neither load nor speed nor a zone swings too,
    nothing is said), a step, a spike, a slow trend, a planned change, a hopper that is filled every few minutes (the
    rate told by its weight swings, the load does not). Only periods of 40 s to 5 min are seen. Missing readings: more
    than a tenth of the window and nothing is asked. Memory: 20 min of the signals looked at, load, speed and zone
    outputs. A melt pump makes the output of its line: there the pressure behind it is looked at, its speed and the
    rate. What the pressure ahead of it does is its control's work, and no output while pump and die stand still; one
    that goes to nothing is said as the pump running short. Swing of 5 %: value from memory; the rest common practice,
    no source.
    """

    swing: float = setting(0.05, 0.01, 0.5, "of the pressure, either way")
    with_load: float = setting(0.025, 0.01, 0.5, "of the pressure, either way, where the load swings with it")
    irregular: float = setting(0.4, 0.1, 1.0, "of the period, scatter")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "surging"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "output surging"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure|line_rate|torque|motor_current|drive_power",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "melt_pressure",
        "line_rate",
        "melt_pump_speed",
        "screw_speed",
        "zone_output",
    )
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """What stands for output, on lines that are flood-fed: the pressure that judges the extruder, else the rate,
        else the load; with a melt pump the pressure behind it, else its speed, else the rate."""
        return self._signals(ctx)[:1] if ctx.line.flood_fed else ()

    def _signals(self, ctx: Context) -> tuple[str, ...]:
        """Channels whose swing is looked at, best first."""
        rate = ("line_rate",) if ctx.has("line_rate") else ()
        if has_melt_pump(ctx):
            speed = ("melt_pump_speed",) if ctx.has("melt_pump_speed") else ()
            return (*_behind_pump(ctx)[:1], *speed, *rate)
        groups = judging_sensors(ctx)
        found = (channel_key("melt_pressure", groups[0][0]),) if groups else ()
        found += rate
        load = any(ctx.has(role) for role in ("torque", "motor_current", "drive_power"))
        return found or (("net_torque",) if load else ())

    def channel(self, subject: str) -> str:
        """The pressure, rate or load itself."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A minute in: the window has been long enough."""
        return Timing(self.on_s, self.off_s, 600.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not seen swinging."""
        signals = len(self._signals(ctx)) if subjects else 0
        rows = signals + 3 + len(ctx.subjects_of("zone_output")) if subjects else 0
        return {
            "past": blank(rows, ctx.cells(WINDOW_S) - 1),
            "range": blank(signals, ctx.cells(WINDOW_S) - 1),
            "on": np.zeros(1, bool),
            "facts": np.full(len(FACTS) + 1, np.nan),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects:
            empty = np.zeros((0, view.n))
            return state, Judged(empty.astype(np.int8), empty, {})
        running, signals = view.in_phase("steady") & (not ctx.starve_fed), self._signals(ctx)
        waves = np.array([view.quantity(key) if key == "net_torque" else view.get(key) for key in signals])
        waves = np.where(running & ~self._runs_empty(view, signals), waves, np.nan)
        # The load that is judged is no witness of its own.
        load = np.full(view.n, np.nan) if "net_torque" in signals else view.quantity("net_torque")
        beside = np.array([load, view.get("screw_speed"), running.astype(float)])
        outputs = view.rows("zone_output", ctx.subjects_of("zone_output"))
        joined, past = with_past(state["past"], np.concatenate((waves, beside, outputs)))
        low, high, range_state = trailing_extremes(state["range"], waves)
        with np.errstate(invalid="ignore"):
            wide: Bools = np.asarray(high - low >= 1.6 * min(self.with_load, self.swing) * np.abs(high + low) / 2)
        every = ctx.cells(ASKED_EVERY_S)
        index = view.t0 // view.step + np.arange(view.n)
        asked = (index + 1) % every == 0
        found = np.full((len(FACTS) + 1, view.n), np.nan)
        swings, goes_on = np.zeros(view.n, bool), np.zeros(view.n, bool)
        width = past.shape[1] + 1
        for i in np.flatnonzero(asked & np.any(wide, axis=0) & running).tolist():
            for place in np.flatnonzero(wide[:, i]).tolist():
                rows = np.concatenate((joined[place : place + 1], joined[len(signals) :]))[:, i : i + width]
                facts = self._seen(rows, signals[place], ctx)
                if facts is not None:
                    found[:, i], goes_on[i] = [*(facts[name] for name in FACTS), float(place)], True
                    swings[i] = self._repeats(facts)
                    break
        on, on_state = two_threshold(state["on"], swings[None, :], ((asked & ~goes_on) | ~running)[None, :])
        told, facts_state = last_known(state["facts"], found)
        level = rule(on, np.any(np.isfinite(waves), axis=0)[None, :], running[None, :])
        score = np.where(np.isnan(told[0]), 0.0, told[0])
        after: State = {"past": past, "range": range_state, "on": on_state, "facts": facts_state}
        return after, Judged(level, score[None, :], dict(zip((*FACTS, "of"), told, strict=True)))

    @staticmethod
    def _runs_empty(view: CoarseView, signals: tuple[str, ...]) -> Bools:
        """Per signal: a load or pressure that is nearly gone. Its noise is much of what is left, and no wave."""
        out = np.zeros((len(signals), view.n), bool)
        for row, key in enumerate(signals):
            usual, _ = view.expectation(key)
            with np.errstate(invalid="ignore"):
                out[row] = (view.quantity(key) if key == "net_torque" else view.get(key)) < EMPTY_SHARE * usual
        return out

    def _seen(self, rows: Floats, signal: str, ctx: Context) -> dict[str, float] | None:
        """Facts of a surge in the window; of one that has only just begun, if it is large, in the end of it."""
        for window, factor in ((rows, 1.0), (rows[:, -ctx.cells(EARLY_S) :], EARLY_FACTOR)):
            facts = swing_of(window, ctx.step_s, ctx.line.line.cadence_s)
            if facts is not None and self._regular(facts, signal, factor):
                return facts
        return None

    def _regular(self, facts: dict[str, float], signal: str, factor: float) -> bool:
        with_load = _with_load(facts)
        if signal == "line_rate" and not with_load:
            return False
        # Ripple that is caught too slowly moves neither load, nor a zone, nor a speed; and no load by so much.
        witness = (
            facts["load_swing"] >= 0.02
            or _locked(facts)
            or _in_step(facts)
            or signal in ("net_torque", "melt_pump_speed")
        )
        large = facts["swing"] >= factor * (self.with_load if with_load else self.swing)
        real = facts["alias"] == 0 or witness
        return large and facts["cycles"] >= 4 and facts["scatter"] <= self.irregular and real

    def _repeats(self, facts: dict[str, float]) -> bool:
        """Whether it is large, comes again a period later, or goes with a zone or the speed; asked as it begins."""
        large = facts["swing"] >= SMALL_FACTOR * (self.with_load if _with_load(facts) else self.swing)
        again = facts["again"] >= REPEATS / math.sqrt(facts["cycles"])
        return large or again or _locked(facts) or _in_step(facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How large and slow the swing is, and what goes with it."""
        zones = ctx.subjects_of("zone_output")
        zone = zones[int(facts["zone"])] if facts["zone"] == facts["zone"] else ""
        causes = _causes(facts, zone, has_melt_pump(ctx))
        clear = bool(causes[0].speaks_for) and not any(cause.speaks_for for cause in causes[1:])
        sure: Confidence = "medium" if clear else "low"
        swing, channel = 100 * facts["swing"], self._signals(ctx)[int(facts["of"])]
        role = split_key(channel)[0]
        output = facts["swing"] / (FLOW_EXPONENT if role == "melt_pressure" else 1.0)
        what = {
            "line_rate": "rate of the line",
            "net_torque": "load",
            "melt_pump_speed": "speed of the melt pump",
        }.get(role, "pressure behind the melt pump" if has_melt_pump(ctx) else "pressure")
        stands_for = (
            (Evidence("swing of output that stands for, at a flow exponent of 0.35", swing / FLOW_EXPONENT, "%"),)
            if role == "melt_pressure"
            else ()
        )
        return Explanation(
            f"surging: {what} swings by {swing:.0f} % either way every {facts['period']:.0f} s: {causes[0].text}",
            2 if output >= OUTPUT_LOST else 3,
            sure,
            (
                Evidence(f"swing of {what} either way", swing, "%", None, None, channel),
                Evidence("period", facts["period"], "s"),
                *stands_for,
                *(() if role == "net_torque" else (_lead(facts["lead"], what),)),
            ),
            tuple(causes),
            ("throat and hopper", "throat and feed zone temperatures", "speed control", "zone outputs"),
            cautions.PRESSURE if role == "melt_pressure" and swing > 20 else "",
            moved={"swing": math.log1p(output)},
        )


def _lead(lead_s: float, what: str) -> Evidence:
    return Evidence(f"load {'leads' if lead_s >= 0 else 'follows'} {what} by", abs(lead_s), "s")


def _behind_pump(ctx: Context) -> tuple[str, ...]:
    """Pressures that the melt pump makes."""
    sensors = [sensor for sensor in ctx.line.sensor if sensor.role == "melt_pressure"]
    return tuple(s.key for s in sensors if place_of(s.position, s.at, ctx) == "pump_discharge")


def _causes(facts: dict[str, float], zone: str, pump: bool) -> list[Cause]:
    """The four, and the melt pump where there is one, in an order that follows what was seen."""
    dips = facts["skew"] <= -0.4
    against = facts["now_corr"] <= -0.4
    # Half a period before is against, not ahead.
    furthest = min(60.0, facts["period"] / 3)
    leads = 5.0 <= facts["lead"] <= furthest and facts["lead_corr"] >= 0.5 and not against
    in_step, locked = _in_step(facts), _locked(facts)
    feed = Cause(
        "feed surge: bridging, throat, uneven feed",
        tuple(
            text
            for text, holds in (
                ("output only dips: the wave is lopsided", dips),
                (f"load leads output by {facts['lead']:.0f} s", leads),
            )
            if holds
        ),
        ("the wave is not lopsided",) if facts["skew"] >= 0 else (),
    )
    plug = Cause("melting unstable: a plug of solids", ("load is up while output is down",) if against else ())
    speed = Cause(
        "screw speed hunting",
        ("speed swings in step with it",) if in_step else (),
        () if in_step else _steady(facts),
    )
    cycling = Cause(
        f"zone {zone} cycling" if zone else "a zone cycling",
        (f"it is locked to the output of {zone}",) if locked else (),
    )
    ranked = [(in_step, speed), (locked, cycling), (against, plug), (dips and leads, feed)]
    first = [cause for holds, cause in ranked if holds]
    # A feed surge reaches the load first: where the load follows, it is the likeliest no more.
    follows = facts["lead"] < -FOLLOWS_S and facts["lead_corr"] >= 0.5
    order = (plug, cycling, speed, feed) if follows else (feed, plug, cycling, speed)
    rest = [cause for cause in order if cause not in first]
    pumping = (Cause("melt pump hunting, or short of melt at times", shown_by=("melt_pump_starved",)),) if pump else ()
    return [*first, *pumping, *rest]


def _with_load(facts: dict[str, float]) -> bool:
    """A rate told by a hopper's weight swings with every filling of the hopper, the machine does not."""
    return facts["load_swing"] >= 0.02 and max(facts["lead_corr"], -facts["now_corr"]) >= 0.5


def _in_step(facts: dict[str, float]) -> bool:
    return facts["speed_corr"] >= 0.6 and facts["speed_swing"] >= 0.005


def _locked(facts: dict[str, float]) -> bool:
    return facts["zone_corr"] >= 0.7 and facts["period"] >= 90


def _steady(facts: dict[str, float]) -> tuple[str, ...]:
    return ("speed is steady",) if facts["speed_swing"] < 0.005 else ()
