"""The melt is thicker than it was."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor.conditions.die_plugging import BEHIND_PUMP_SHARE, LEAST_LOAD
from monitor.conditions.die_side import (
    AFTER_CHANGE_S,
    LEAST_DROP_BAR,
    OWN_PART,
    DieSide,
    both_fit,
    thicker_cause,
    way_out_cause,
)
from monitor.conditions.load_evidence import load_evidence, load_facts, moved
from monitor.conditions.machine_load import gross_torque_pct, load, log_ratio, place_of
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Floats, trailing_mean, two_threshold
from monitor.levels import rule
from monitor.records import Confidence, Family
from monitor.view import CoarseView


@dataclass(frozen=True)
class ViscousLot(DieSide):
    """The melt is more viscous, or colder, than it was.

    An operator would say: "this lot runs stiff". Pressure and torque are up together against what they should be at
    this speed and rate, and rate over speed holds: flow hardly depends on viscosity when screw and die share it.
    Where a melt pump makes the die's pressure, that pressure and the load of the screws are up together (the load by a
    fifth as much: a die behind a pump asks nothing of the screws), and so is the drop through the screen where it is
    logged; the suction is held by the pump's control and tells nothing.
    Look-alikes: a restriction (torque hardly moves: said as restricted), over-feeding (torque up more than pressure,
    sudden: said as flooded), a new lot with a small shift (below the limit), the slide after a start (torque and
    pressure fall). A look this shift; soon where torque is near its limit. Missing readings neither start nor end it.
    Memory: a switch and 15 cells. Thresholds: common practice, no source.
    """

    pressure_rise: float = setting(0.08, 0.02, 1.0, "in ln pressure; the same in restricted and viscous_lot")
    sigmas: float = setting(5, 2, 20, "sigma")
    on_s: float = setting(120, 10, 1800, "s")
    off_s: float = setting(180, 10, 3600, "s")

    name: ClassVar[str] = "viscous_lot"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "melt thicker than it was"

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Behind a melt pump the pressure it works against, if the load of the screws is known; else as `DieSide`."""
        known = ctx.has("torque") or ctx.has("motor_current") or ctx.has("drive_power")
        behind = _at(ctx, "pump_discharge")
        return (behind,) if behind and known else super().subjects(ctx)

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        if subjects and subjects[0] == _at(ctx, "pump_discharge"):
            return self._behind_pump(state, view, subjects[0], ctx)
        return self.judged(state, view, ctx, thicker=True)

    def _behind_pump(self, state: State, view: CoarseView, subject: str, ctx: Context) -> tuple[State, Judged]:
        """The pump keeps screws and die apart: what moves the load of the one and the pressure of the other is melt."""
        found, key = load(view, ctx), channel_key("melt_pressure", subject)
        ratio, scatter = log_ratio(view, key, view.get(key))
        smooth, past = trailing_mean(
            state["past"], np.array([found.torque, ratio, found.specific_rate]), max(1, ctx.cells(60) // 2)
        )
        torque, pressure, specific = smooth
        drop = _screen_drop(view, ctx)
        on = {}
        with np.errstate(invalid="ignore", divide="ignore"):
            per = torque / np.where(pressure > 0, pressure, np.nan)
            least = np.fmax(self.pressure_rise, self.sigmas * scatter)
            more_fed = (found.rate >= 0.05) | (specific >= 0.08)
            own = (drop <= OWN_PART * pressure) | ~(torque >= np.fmax(BEHIND_PUMP_SHARE * pressure, LEAST_LOAD))
            for name, share in (("rises", 1.0), ("stays", 0.6)):
                on[name] = (pressure >= share * least) & (ratio >= 0.6 * share * least) & ~more_fed
        known = np.isfinite(pressure) & np.isfinite(torque)
        armed = view.in_phase("steady") & (view.ages["unchanged"] >= AFTER_CHANGE_S)
        rises = on["rises"] & ~own & armed
        level, on_state = two_threshold(state["on"], rises[None, :], ((known & ~on["stays"]) | ~armed)[None, :])
        facts = {
            **load_facts(found, view),
            "pressure": ratio, "pressure_sigma": ratio / scatter, "per": per,
            "before": ratio, "after": ratio, "drop": drop, "gross": gross_torque_pct(view, ctx),
            "zones_below": np.zeros(view.n), "zones_known": np.zeros(view.n),
        }  # fmt: skip
        after = {**state, "on": on_state, "past": past}
        score = np.where(np.isnan(pressure), 0.0, pressure)[None, :]
        return after, Judged(rule(level, known[None, :], armed[None, :]), score, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far pressure is up, and what torque, melt temperature and rate say of it."""
        first, second = thicker_cause(facts), way_out_cause(facts)
        if facts["drop"] > 2 * OWN_PART * facts["pressure"] and facts["after"] > 2 * OWN_PART * facts["pressure"]:
            # Screen and die rose alike: a screen that fills beside, or a trend at the die, is no witness against it.
            second = replace(second, shown_by=())
        sure: Confidence = "low" if both_fit(facts) else "medium"
        where = first.text if not both_fit(facts) else f"{first.text} or {second.text}, both fit"
        rise = f"pressure up {100 * (np.exp(facts['pressure']) - 1):.0f} %"
        if facts["torque"] == facts["torque"]:
            up = 100 * (np.exp(facts["torque"]) - 1)
            rise += f", torque {'up' if up > -0.5 else 'down'} {abs(up):.0f} %"
        summary = f"{rise} at the same rate: {where}"
        checks = ("which lot runs", "melt temperature and zones", "moisture and melt flow of the lot")
        near = facts["gross"] >= 0.9 * ctx.line.drive.torque_limit_pct
        caution, priority = "", 2 if near else 3
        return Explanation(
            summary, priority, sure, load_evidence(facts, ctx), (first, second), checks, caution, moved(facts)
        )


def _at(ctx: Context, place: str) -> str:
    """The first melt pressure at a place; '' if none is logged there."""
    sensors = (s for s in ctx.line.sensor if s.role == "melt_pressure")
    return next((s.at for s in sensors if place_of(s.position, s.at, ctx) == place), "")


def _screen_drop(view: CoarseView, ctx: Context) -> Floats:
    """ln of the drop through the screen ahead of the pump over what it should be, [n]; NaN where it is not logged."""
    before, behind = _at(ctx, "before_screen"), _at(ctx, "after_screen") or _at(ctx, "pump_suction")
    if not before or not behind:
        return np.full(view.n, np.nan)
    keys = [channel_key("melt_pressure", at) for at in (before, behind)]
    usual = view.expectation(keys[0])[0] - view.expectation(keys[1])[0]
    now = view.get(keys[0]) - view.get(keys[1])
    with np.errstate(invalid="ignore", divide="ignore"):
        share = now / usual
        return np.where((usual >= LEAST_DROP_BAR) & (share > 0), np.log(share), np.nan)
