"""Output swings to and fro."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions.machine_load import judging_sensors
from monitor.conditions.swing import FACTS, swing_of
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import blank, last_known, trailing_extremes, two_threshold, with_past
from monitor.levels import rule
from monitor.records import Cause, Confidence, Evidence, Family
from monitor.view import CoarseView

WINDOW_S, ASKED_EVERY_S = 1200.0, 60.0
FLOW_EXPONENT = 0.35
"""dQ/Q = (1/n) dP/P: a swing of pressure hides a larger one of output."""

FEED, PLUG, SPEED, ZONE, UNCLEAR = 1.0, 2.0, 3.0, 4.0, 0.0


@dataclass(frozen=True)
class Surging:
    """Output swings to and fro (flood-fed screws).

    An operator would say: "it is surging". Pressure ahead of the die swings regularly by more than 5 % either way,
    four times or more in 20 min. What swings with it tells the cause: a feed surge only dips, so the wave is
    lopsided, and load leads pressure by 5 to 60 s; with a melting plug load is up while pressure is down; a hunting
    speed goes in step with pressure; zone cycling is locked to a zone's output. Look-alikes: flight ripple caught at
    too slow a sampling rate (its period moves with screw speed: where the period is what speed and cadence give, and
    neither load nor speed nor a zone swings too, nothing is said), a step, a spike, a slow trend, a planned change.
    Only periods of 40 s to 5 min are seen. Missing readings: more than a tenth of the window and nothing is asked.
    Memory: 20 min of pressure, load, speed and zone outputs. Swing of 5 %: value from memory; the rest common practice,
    no source.
    """

    swing: float = setting(0.05, 0.01, 0.5, "of the pressure, either way")
    irregular: float = setting(0.4, 0.1, 1.0, "of the period, scatter")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "surging"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "output surging"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power", "screw_speed", "zone_output")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The pressure that judges the extruder, on lines that are flood-fed."""
        flood = (ctx.line.line.feed or ("flooded" if ctx.line.line.kind == "single-screw" else "starved")) == "flooded"
        groups = judging_sensors(ctx)
        return (groups[0][0],) if flood and groups else ()

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A minute in: the window has been long enough."""
        return Timing(self.on_s, self.off_s, 600.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not seen swinging."""
        rows = 4 + len(ctx.subjects_of("zone_output")) if subjects else 0
        return {
            "past": blank(rows, ctx.cells(WINDOW_S) - 1),
            "range": blank(1, ctx.cells(WINDOW_S) - 1),
            "on": np.zeros(1, bool),
            "facts": np.full(len(FACTS), np.nan),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects:
            empty = np.zeros((0, view.n))
            return state, Judged(empty.astype(np.int8), empty, {})
        running = view.in_phase("steady") & (not ctx.starve_fed)
        pressure = np.where(running, view.get(self.channel(subjects[0])), np.nan)
        outputs = view.rows("zone_output", ctx.subjects_of("zone_output"))
        clock = running.astype(float)
        rows = np.concatenate(
            (np.array([pressure, view.quantity("net_torque"), view.get("screw_speed"), clock]), outputs)
        )
        joined, past = with_past(state["past"], rows)
        low, high, range_state = trailing_extremes(state["range"], pressure[None, :])
        with np.errstate(invalid="ignore"):
            wide = high[0] - low[0] >= 1.6 * self.swing * (high[0] + low[0]) / 2
        every = ctx.cells(ASKED_EVERY_S)
        index = view.t0 // view.step + np.arange(view.n)
        asked = (index + 1) % every == 0
        found = np.full((len(FACTS), view.n), np.nan)
        swings = np.zeros(view.n, bool)
        width = past.shape[1] + 1
        for i in np.flatnonzero(asked & wide & running).tolist():
            facts = swing_of(joined[:, i : i + width].copy(), ctx.step_s, ctx.line.line.cadence_s)
            if facts is not None and self._regular(facts):
                found[:, i], swings[i] = [facts[name] for name in FACTS], True
        on, on_state = two_threshold(state["on"], swings[None, :], ((asked & ~swings) | ~running)[None, :])
        told, facts_state = last_known(state["facts"], found)
        level = rule(on, np.isfinite(pressure)[None, :], running[None, :])
        score = np.where(np.isnan(told[0]), 0.0, told[0])
        after: State = {"past": past, "range": range_state, "on": on_state, "facts": facts_state}
        return after, Judged(level, score[None, :], dict(zip(FACTS, told, strict=True)))

    def _regular(self, facts: dict[str, float]) -> bool:
        # Ripple that is caught too slowly moves neither load, nor a zone, nor the speed.
        witness = facts["load_swing"] >= 0.02 or _locked(facts) or _in_step(facts)
        real = facts["alias"] == 0 or witness
        return facts["swing"] >= self.swing and facts["cycles"] >= 4 and facts["scatter"] <= self.irregular and real

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How large and slow the swing is, and what goes with it."""
        zones = ctx.subjects_of("zone_output")
        zone = zones[int(facts["zone"])] if facts["zone"] == facts["zone"] else ""
        causes = _causes(facts, zone)
        clear = bool(causes[0].speaks_for) and not any(cause.speaks_for for cause in causes[1:])
        sure: Confidence = "medium" if clear else "low"
        swing = 100 * facts["swing"]
        out = swing / FLOW_EXPONENT
        return Explanation(
            f"surging: pressure swings by {swing:.0f} % either way every {facts['period']:.0f} s: {causes[0].text}",
            3,
            sure,
            (
                Evidence("swing of melt pressure either way", swing, "%", None, None, self.channel(subject)),
                Evidence("period", facts["period"], "s"),
                Evidence("swing of output that stands for, at a flow exponent of 0.35", out, "%"),
                Evidence("load leads pressure by", facts["lead"], "s"),
            ),
            tuple(causes),
            ("throat and hopper", "throat and feed zone temperatures", "speed control", "zone outputs"),
            cautions.PRESSURE if swing > 20 else "",
        )


def _causes(facts: dict[str, float], zone: str) -> list[Cause]:
    """The four in an order that follows what was seen."""
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
                ("pressure only dips: the wave is lopsided", dips),
                (f"load leads pressure by {facts['lead']:.0f} s", leads),
            )
            if holds
        ),
        ("the wave is not lopsided",) if facts["skew"] >= 0 else (),
    )
    plug = Cause("melting unstable: a plug of solids", ("load is up while pressure is down",) if against else ())
    speed = Cause(
        "screw speed hunting",
        ("speed swings in step with pressure",) if in_step else (),
        () if in_step else _steady(facts),
    )
    cycling = Cause(
        f"zone {zone} cycling" if zone else "a zone cycling",
        (f"pressure is locked to the output of {zone}",) if locked else (),
    )
    ranked = [(in_step, speed), (locked, cycling), (against, plug), (dips and leads, feed)]
    first = [cause for holds, cause in ranked if holds]
    rest = [cause for cause in (feed, plug, cycling, speed) if cause not in first]
    return [*first, *rest]


def _in_step(facts: dict[str, float]) -> bool:
    return facts["speed_corr"] >= 0.6 and facts["speed_swing"] >= 0.005


def _locked(facts: dict[str, float]) -> bool:
    return facts["zone_corr"] >= 0.7 and facts["period"] >= 90


def _steady(facts: dict[str, float]) -> tuple[str, ...]:
    return ("speed is steady",) if facts["speed_swing"] < 0.005 else ()
