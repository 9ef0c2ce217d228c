"""The line starts, torque climbs, and melt pressure still reads nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, pressure_path
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import last_known, running_total, two_threshold
from monitor.levels import rule
from monitor.phases import RUNNING
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView


@dataclass(frozen=True)
class PressureMissingAtStart(RuleDefaults):
    """Melt pressure reads about zero although the screw turns, is fed and works.

    An operator would say: "no pressure yet" - and it may be there all the same. Net torque over `torque_pct` of rated
    for `work_s` together since the start, and the pressure ahead of screen and die has not once gone over `least_bar`
    or 3 % of the machine's limit, whichever is less. Priority 1 where net torque is over `hard_pct`: the screw works
    against something. Never taken as all well: a dead sensor, a port plugged with frozen melt and an open die look
    alike. Look-alikes: screw still filling (torque low), start without die or through an open valve (said as a cause),
    a line whose pressure has been seen in this run and is lost (burst disc or leak). Missing readings: counted as not
    known. Memory: 3 numbers a pressure. Numbers are common practice, no source.
    """

    torque_pct: float = setting(12, 3, 60, "% of rated, no-load part taken off")
    hard_pct: float = setting(50, 20, 100, "% of rated, no-load part taken off")
    work_s: float = setting(90, 10, 1800, "s")
    least_bar: float = setting(3, 0.5, 20, "bar")
    on_s: float = setting(10, 10, 600, "s")
    off_s: float = setting(20, 10, 600, "s")

    name: ClassVar[str] = "pressure_missing_at_start"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "torque climbs and pressure reads nothing"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure", "screw_speed", "torque|motor_current|drive_power")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The pressure the screws work against, where a load in percent is known."""
        from monitor.quantities.load import load_words

        if not any(ctx.has(r) for r in ("torque", "motor_current", "drive_power")) or load_words(ctx)[1] != "%":
            return ()
        relative = ctx.line.relative_channels
        if not ctx.has("screw_speed") or {"torque", "motor_current", "drive_power"} & relative:
            return ()
        return tuple(pressure_path.groups(ctx, "before_screen")) or tuple(pressure_path.groups(ctx, "pump_suction"))

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No work done."""
        k = len(subjects)
        return {"total": np.zeros(k), "begun": np.zeros(k), "seen": np.zeros(k, bool)}

    def silent_for(self, state: State, index: int, ctx: Context) -> int:
        """Until the screw has done so much work since a start, one cell counting one cell at most; see `resting`."""
        worked = np.where(state["seen"], 0.0, state["total"] - state["begun"])
        return ctx.cells(self.work_s - float(worked.max(initial=0.0)))

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Level 1, 2 where the torque is high."""
        of = pressure_path.groups(ctx)
        bar = pressure_path.pressures(view, {s: of[s] for s in subjects})
        limit = ctx.line.limits.melt_pressure_bar
        nothing = min(self.least_bar, 0.03 * limit) if limit else self.least_bar
        torque = np.broadcast_to(view.quantity("net_torque"), bar.shape)
        running = view.in_phase(*RUNNING)
        on = np.broadcast_to(running, bar.shape)
        with np.errstate(invalid="ignore"):
            works = np.where(torque >= self.torque_pct, ctx.step_s, 0.0)
            there = bar > nothing
            hard = torque >= self.hard_pct
        counts = on & (view.ages["still"] == 0)
        total = running_total(state["total"], np.where(counts, works, 0.0))
        begun, begun_state = last_known(state["begun"], np.where(counts, np.nan, total))
        work = total - begun
        seen, seen_state = two_threshold(state["seen"], on & there, np.broadcast_to(view.ages["still"] > 0, bar.shape))
        level = rule((work >= self.work_s) & ~seen & ~there, np.isfinite(bar) & np.isfinite(torque), on & ~seen)
        level[(level == 1) & hard] = 2
        facts = {"bar": bar, "torque": torque, "work_s": work}
        after = {"total": total[:, -1].copy() if view.n else state["total"], "begun": begun_state, "seen": seen_state}
        return after, Judged(level, torque, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Not all well."""
        return Explanation(
            f"melt pressure {subject} reads {facts['bar']:.1f} bar since the start while net torque is "
            f"{facts['torque']:.0f} %: this is not 'no pressure'",
            1 if level == 2 else 2,
            "medium",
            (
                Evidence(f"melt pressure {subject}", facts["bar"], "bar", None, None, self.channel(subject)),
                Evidence("net torque", facts["torque"], "%", None, None, "net_torque"),
            ),
            (
                Cause("sensor or its wire dead", ("the screw does work and nothing shows",)),
                Cause("sensor port plugged with frozen melt"),
                Cause("die off, or melt leaving by valve or vent", (), ("then nothing builds pressure",)),
            ),
            (
                "lower the speed until a pressure is seen or known",
                "does melt leave the die? zones of adapter and die",
                "sensor, wire and port",
            ),
            cautions.PRESSURE,
        )
