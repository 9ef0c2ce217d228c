"""Melt comes up a vent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions.load_evidence import load_evidence, load_facts, moved
from monitor.conditions.machine_load import Load, load
from monitor.conditions.vacuum_off import MOVES, MOVES_MBAR, MOVES_S, NO_VACUUM_MBAR
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import (
    Bools,
    Floats,
    blank,
    run_length,
    trailing_extremes,
    trailing_mean,
    two_threshold,
    with_past,
)
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

USUAL_OVER_S, QUIET_OVER_S = 600.0, 120.0
MOVED_MBAR, SHUT_MBAR = 10.0, 900.0
"""A wanted vacuum that moved by more than this within ten minutes, or is given up."""

MINUTE_S = 60.0
TOGETHER_S = 600.0
"""Screws fill back to a port within some mean residence times, and the load settles in three to five of them: what the
gauge shows for so long while the screws show nothing is no melt, whatever they do later. Common practice, no source."""


@dataclass(frozen=True)
class VentFlooded:
    """Melt comes up a vent.

    An operator would say: "the vent is flooding". With the gauge on the dome vacuum is lost; with the gauge on the pump
    side the plugged line reads deeper and quieter; so it is where the gauge reads a quarter deeper, wherever the line
    file says it is. Never from the gauge alone: torque or specific energy must have gone
    up by then, as the screws fill back to the port, or pressure down with all feeders on set, as less comes out than is
    fed: by the mean of a minute, clear of their own scatter, for as long as the on-delay, and within ten minutes of the
    gauge; after that it stands while the gauge does. Look-alikes: a leak, a failing pump or a valve (vacuum lost,
    screws unmoved, or moved by more feed only, or much later), vent cleaning (the dome fills to the air's pressure and
    empties again: melt shuts a port, it does not open it), planned changes of vacuum (set-point moved), condensate, a
    change of rate or speed (phase). Missing readings neither start nor end it. Memory: two switches, two counts and 131
    cells a vent, a minute of load and pressure. Thresholds: common practice, no source.
    """

    lost_mbar: float = setting(30, 5, 500, "mbar over usual, gauge on the dome")
    deeper_share: float = setting(0.05, 0.01, 0.9, "of the usual absolute pressure, gauge on the pump side")
    far_deeper_share: float = setting(0.25, 0.05, 0.9, "of the usual absolute pressure, wherever the gauge is")
    quieter_share: float = setting(0.6, 0.1, 1.0, "of the usual unrest, gauge on the pump side")
    load_rise: float = setting(0.04, 0.01, 0.5, "in ln torque or specific energy")
    pressure_fall: float = setting(0.04, 0.01, 0.5, "in ln pressure, feeders on set")
    on_s: float = setting(60, 10, 600, "s")
    off_s: float = setting(120, 10, 3600, "s")

    name: ClassVar[str] = "vent_flooded"
    family: ClassVar[Family] = "vacuum"
    title: ClassVar[str] = "melt in a vent"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("vacuum", "torque|motor_current|drive_power|melt_pressure")
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "torque|motor_current|drive_power",
        "melt_pressure",
        "feeder_rate|line_rate",
        "vacuum_setpoint",
    )
    quantities: ClassVar[tuple[str, ...]] = ("net_torque", "sme", "total_feed", "total_setpoint", "specific_throughput")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every vent with a gauge, where load or pressure is logged too."""
        machine = ("torque", "motor_current", "drive_power", "melt_pressure")
        return ctx.subjects_of("vacuum") if any(ctx.has(role) for role in machine) else ()

    def channel(self, subject: str) -> str:
        """The gauge."""
        return channel_key("vacuum", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A minute in."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not flooded."""
        count = len(subjects)
        return {
            "moving": np.zeros(count, bool),
            "shown": np.zeros(count, bool),
            "for": np.zeros(count, np.int64),
            "lost": np.zeros(count, np.int64),
            "minute": blank(4, ctx.cells(MINUTE_S) - 1),
            "ago": blank(count, ctx.cells(MOVES_S)),
            "wanted": blank(count, ctx.cells(USUAL_OVER_S)),
            "unrest": blank(count, ctx.cells(QUIET_OVER_S) - 1),
            "usual": blank(count, ctx.cells(USUAL_OVER_S) - 1),
            "mean": blank(count, ctx.cells(QUIET_OVER_S) - 1),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a vent."""
        if not subjects:
            empty = np.zeros((0, view.n))
            return state, Judged(empty.astype(np.int8), empty, {})
        found = load(view, ctx)
        gauge = view.rows("vacuum", subjects)
        low, high = view.low_high("vacuum", subjects)
        kept: State = {}
        wanted = view.rows("vacuum_setpoint", subjects)
        least, most, kept["wanted"] = trailing_extremes(state["wanted"], wanted)
        unrest, kept["unrest"] = trailing_mean(state["unrest"], high - low, 3)
        before, kept["usual"] = trailing_mean(state["usual"], high - low, 12)
        usual = np.array([view.expectation(channel_key("vacuum", vent))[0] for vent in subjects]).reshape(-1, view.n)
        scatter = np.array([view.expectation(channel_key("vacuum", vent))[1] for vent in subjects]).reshape(-1, view.n)
        by_pump = np.array([self._gauge(vent, ctx) == "pump" for vent in subjects], bool).reshape(-1, 1)
        # A vacuum that is wanted otherwise than it was learned is no fault; unknown stays unknown.
        deepest = np.fmin(usual, wanted) + 0.0 * usual
        usual = np.where(by_pump, deepest, np.fmax(usual, wanted) + 0.0 * usual)
        minute, kept["minute"] = trailing_mean(
            state["minute"], np.array([found.torque, found.pressure, found.sme, found.rate]), ctx.cells(MINUTE_S) // 2
        )
        loaded, sagging, witness = self._screws(found, minute, 1.0)
        mean, kept["mean"] = trailing_mean(state["mean"], gauge, 3)
        slow = np.where(by_pump, mean, gauge)
        rises, stays = (
            self._gauge_says(slow, usual, scatter, unrest, before, by_pump, share)
            | self._far_deeper(mean, deepest, scatter, share)
            for share in (1.0, 0.6)
        )
        with np.errstate(invalid="ignore"):
            other_wanted = (most - least > MOVED_MBAR) | (wanted > SHUT_MBAR)
            joined, kept["ago"] = with_past(state["ago"], gauge)
            # Where it comes to rest is not known yet, or that is the air: somebody has opened the vent.
            moves = np.abs(gauge - joined[:, : view.n]) >= np.fmax(MOVES * (gauge - usual), MOVES_MBAR)
            aired = ~by_pump & (moves | (gauge >= NO_VACUUM_MBAR))
        armed = view.in_phase("steady", "settling") & (view.ages["unchanged"] >= 60.0) & ~other_wanted & ~aired
        known = np.isfinite(gauge) & np.isfinite(usual)
        back = (known & ~stays) | ~armed
        lost_for, kept["lost"] = run_length(state["lost"], stays | ~known)
        begins = rises & witness & armed & (lost_for <= ctx.cells(TOGETHER_S))
        moving, kept["moving"] = two_threshold(state["moving"], begins, back | ~self._screws(found, minute, 0.6)[2])
        moving_for, kept["for"] = run_length(state["for"], moving)
        shown, kept["shown"] = two_threshold(state["shown"], moving_for >= ctx.cells(self.on_s), back)
        on = moving | shown
        level = rule(on, known, armed)
        facts = {
            **load_facts(found, view),
            "gauge": gauge,
            "deeper": (mean < deepest).astype(float),
            "usual": usual,
            "loaded": loaded.astype(float),
            "sagging": sagging.astype(float),
            "sme": found.sme,
        }
        return kept, Judged(level, np.abs(gauge - usual), facts)

    def _gauge_says(
        self,
        gauge: Floats,
        usual: Floats,
        scatter: Floats,
        unrest: Floats,
        before: Floats,
        by_pump: Bools,
        share: float,
    ) -> Bools:
        with np.errstate(invalid="ignore"):
            lost = gauge - usual >= share * np.fmax(self.lost_mbar, 4 * scatter)
            deeper = usual - gauge >= share * np.fmax(self.deeper_share * usual, scatter)
            quieter = unrest <= (self.quieter_share if share == 1.0 else 1.0) * before
        return np.where(by_pump, deeper & quieter, lost)

    def _far_deeper(self, gauge: Floats, deepest: Floats, scatter: Floats, share: float) -> Bools:
        """No dome gets so much deeper than it was wanted: wherever the gauge stands, its line is plugged."""
        with np.errstate(invalid="ignore"):
            return deepest - gauge >= share * np.fmax(self.far_deeper_share * deepest, 4 * scatter)

    def _screws(self, found: Load, minute: Floats, share: float) -> tuple[Bools, Bools, Bools]:
        """Whether the load is up, the pressure down, and whether the two bear witness, [n] each.

        minute: means of torque, pressure, specific energy and rate, [4, n]. What goes up with the feed is the feed's,
        and a mean of six cells that lies within three times (pressure, which moves only with the third of what comes
        out: twice) the scatter of one is nothing; a rate that is reported wrong moves specific energy alone.
        """
        torque, pressure, sme, rate = minute
        least = share * self.load_rise * found.wider
        with np.errstate(invalid="ignore"):
            own = torque - np.fmax(np.nan_to_num(rate), 0.0)
            more = (own >= least) & (torque >= 3 * share * found.torque_scatter)
            loaded = more | ((sme >= least) & (own >= least / 2))
            sagging = (pressure <= -share * self.pressure_fall) & (pressure <= -2 * share * found.pressure_scatter)
            # Where load falls with pressure the melt is thinner, or less comes in: screws that fill back work more.
            lighter = torque <= -self.load_rise * found.wider
            witness = loaded | (sagging & found.feeds_on_set & ~(rate < -0.04) & ~lighter)
        return loaded, sagging, witness

    @staticmethod
    def _gauge(vent: str, ctx: Context) -> str:
        return next((one.gauge for one in ctx.line.vent if one.name == vent), "dome")

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What the gauge and the screws say together."""
        pump = self._gauge(subject, ctx) == "pump" or facts["deeper"] == 1
        seen = "vacuum deeper than usual at the pump" if pump else "vacuum lost at the dome"
        loaded, sagging = facts["loaded"] == 1, facts["sagging"] == 1
        machine = tuple(
            text
            for text, holds in (
                ("torque or specific energy is up: the screws fill back", loaded),
                ("pressure is down with all feeders on set: less comes out than is fed", sagging),
            )
            if holds
        )
        causes = (
            Cause("too much rate for this speed, the melt seal or the screws", machine),
            Cause(
                "screen or die restricted: the screws fill back",
                ("pressure before the die is up",) if facts["pressure"] >= 0.05 else (),
                ("pressure before the die is not up",) if facts["pressure"] < 0.02 else (),
                shown_by=("restricted", "backed_up"),
            ),
            Cause("melt too cold or viscous, zones below set", shown_by=("zone_under_temperature", "viscous_lot")),
            *(() if pump else (Cause("leak or pump failure beside another upset", (), machine),)),
        )
        return Explanation(
            f"melt in vent {subject}: {seen}, and the screws {'show' if machine else 'showed'} it",
            2,
            "high" if loaded and sagging else "medium",
            (
                Evidence(f"absolute pressure at vent {subject}", facts["gauge"], "mbar", facts["usual"], None),
                *load_evidence(facts, ctx),
            ),
            causes,
            ("cut the feed first, by site procedure", "look into the vent from outside", "screen and die pressure"),
            cautions.MOVING,
            moved(facts),
        )
