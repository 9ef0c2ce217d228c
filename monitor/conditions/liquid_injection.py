"""A liquid feeder's nozzle is plugged, or its pump has lost its prime."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import cautions
from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Bools, Floats, last_known, two_threshold
from monitor.levels import rule
from monitor.quantities.windows import window_start, window_sums
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

NO_MORE = 1.05
"""A flow over this share of what it was has risen: what rises through a nozzle is not plugged by it."""


@dataclass(frozen=True)
class LiquidNozzlePlugged(FeederRule):
    """Pressure ahead of an injection nozzle is up and the liquid's flow is down.

    An operator would say: "the nozzle is plugged". Injection pressure 30 % and 3 bar above its own half hour before,
    more flow than then taken off (pressure goes with the flow in a thin line), and flow 5 % below set and not above
    what it was then; a pump of fixed stroke may hold its flow for a while: then the pressure must be twice what
    it was. Losing an oil or plasticiser raises torque. Common practice, no source.
    Look-alikes: melt pressure up at the place of injection (flow holds), a higher rate (not steady), a set-point beyond
    what the pump can (pressure rises because more flows).
    Missing readings neither start nor end it. Memory: half an hour of running totals a feeder.
    """

    pressure_up: float = setting(0.3, 0.05, 5.0, "of the injection pressure before")
    least_bar: float = setting(3, 0.1, 200, "bar")
    flow_down: float = setting(0.05, 0.01, 0.9, "of the set flow")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "liquid_nozzle_plugged"
    title: ClassVar[str] = "injection nozzle plugged"
    charted: ClassVar[str] = "injection_pressure"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "injection_pressure")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_setpoint", "torque|motor_current|drive_power")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count = len(subjects)
        return {
            "pressure": window_start(2 * count, ctx.cells(1800)),
            "usual": np.full(2 * count, np.nan),
            "on": np.zeros(count, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        used = feeder_signals.in_use(view, wanted)
        pressure = np.where(used, view.rows("injection_pressure", subjects), np.nan)
        widths, count = (ctx.cells(120), ctx.cells(1800)), len(subjects)
        both = np.concatenate((pressure, np.where(used, rate, np.nan)), axis=0)
        (late, long), (n_late, n_long), past = window_sums(state["pressure"], both, widths)
        older = n_long - n_late
        with np.errstate(invalid="ignore", divide="ignore"):
            before = np.where(older >= ctx.cells(300), (long - late) / older, np.nan)
            calm = np.abs(pressure / before[:count] - 1) < 0.5 * self.pressure_up
            # A pump that does not bring what it is told teaches nothing, however long it goes on so.
            calm &= ~(rate < (1 - self.flow_down) * wanted)
        known, usual_state = last_known(state["usual"], np.where(np.concatenate((calm, calm), axis=0), before, np.nan))
        usual, flowed = known[:count], known[count:]
        rises, falls = self._rule(pressure, usual, rate, wanted, flowed)
        used &= ~feeder_signals.falling_together(view, ctx)
        on, on_state = two_threshold(state["on"], rises & used, falls | ~used)
        torque, _, melt, _ = feeder_signals.machine(view, ctx)
        facts = {
            "pressure_bar": pressure,
            "usual_bar": usual,
            "rate": rate,
            "wanted": wanted,
            "torque": feeder_signals.by_cell(torque, subjects),
            "pressure": feeder_signals.by_cell(melt, subjects),
        }
        level = rule(on, np.isfinite(pressure) & np.isfinite(usual), used)
        with np.errstate(invalid="ignore", divide="ignore"):
            return {"pressure": past, "usual": usual_state, "on": on_state}, Judged(level, 1 - rate / wanted, facts)

    def _rule(
        self, pressure: Floats, usual: Floats, rate: Floats, wanted: Floats, flowed: Floats
    ) -> tuple[Bools, Bools]:
        """Where it begins and where it ends. usual, flowed: pressure and flow of the half hour before."""
        with np.errstate(invalid="ignore", divide="ignore"):
            asked = usual * np.fmax(1.0, np.nan_to_num(rate / flowed, posinf=1.0))
            up = pressure >= np.fmax((1 + self.pressure_up) * asked, asked + self.least_bar)
            less = (rate <= (1 - self.flow_down) * wanted) & ~(rate > NO_MORE * flowed)
            return up & (less | (pressure >= 2 * asked)), pressure < (1 + 0.5 * self.pressure_up) * asked

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Pressure and flow, and what it does to the product."""
        name = feeder_signals.label(subject, ctx)
        return Explanation(
            f"{name}: injection pressure {facts['pressure_bar']:.0f} bar, flow {facts['rate']:.1f} of "
            f"{facts['wanted']:.1f} kg/h: nozzle plugged",
            2,
            "high",
            self._evidence(subject, name, facts, ctx),
            (
                Cause("nozzle plugged, by melt or residue", ("pressure up, flow down",)),
                Cause("line frozen, kinked or a valve closed", ("pressure up, flow down",)),
                Cause("liquid colder and thicker than usual"),
            ),
            ("nozzle and check valve", "line, heating, valves", feeder_signals.what_losing_it_does(subject, ctx)),
            cautions.PRESSURE,
        )

    def _evidence(self, subject: str, name: str, facts: dict[str, float], ctx: Context) -> tuple[Evidence, ...]:
        return (
            Evidence("injection pressure", facts["pressure_bar"], "bar", facts["usual_bar"], None,
                     f"injection_pressure:{subject}"),
            Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, f"feeder_rate:{subject}"),
            *feeder_signals.machine_evidence(facts, ctx),
        )  # fmt: skip


@dataclass(frozen=True)
class LiquidPrimeLost(LiquidNozzlePlugged):
    """Neither flow nor pressure: the pump of a liquid feeder has lost its prime.

    An operator would say: "the pump sucks air". Injection pressure under 30 % of its own half hour before and flow
    under 30 % of set. With the flow shown on set and the pressure gone the line is open or the flow an echo: said as
    well where the pressure is under 10 %. Zeros for a few seconds are a controller restarting; all feeders falling
    together are switched off before a stop. As liquid_nozzle_plugged in all else.
    """

    low_share: float = setting(0.3, 0.05, 0.9, "of the pressure before and of the set flow")

    name: ClassVar[str] = "liquid_prime_lost"
    title: ClassVar[str] = "liquid pump lost its prime"

    def _rule(
        self, pressure: Floats, usual: Floats, rate: Floats, wanted: Floats, flowed: Floats
    ) -> tuple[Bools, Bools]:
        with np.errstate(invalid="ignore", divide="ignore"):
            asked = usual * np.fmin(1.0, np.nan_to_num(wanted / flowed, nan=1.0, posinf=1.0))
            both = (pressure <= self.low_share * asked) & (rate <= self.low_share * wanted)
            return both | (pressure <= 0.1 * asked), pressure > 0.6 * asked

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Both zero, or only the pressure."""
        name = feeder_signals.label(subject, ctx)
        flows = facts["rate"] > self.low_share * facts["wanted"]
        gone = ("flow and pressure gone together",)
        causes = (
            Cause(
                "tank empty: pump has lost its prime", () if flows else gone, ("flow shown on set",) if flows else ()
            ),
            Cause("pump tripped or decoupled", () if flows else gone, ("flow shown on set",) if flows else ()),
            Cause("line open or burst before the nozzle", ("flow shown on set, no pressure",) if flows else ()),
            Cause("reported flow echoed from the set-point", ("flow shown on set, no pressure",) if flows else ()),
        )
        return Explanation(
            f"{name}: injection pressure {facts['pressure_bar']:.1f} bar, flow {facts['rate']:.1f} of "
            f"{facts['wanted']:.1f} kg/h: " + ("pressure gone" if flows else "nothing comes"),
            2,
            "medium" if flows else "high",
            self._evidence(subject, name, facts, ctx),
            causes[2:] + causes[:2] if flows else causes,
            ("tank, suction line, filter", "pump", feeder_signals.what_losing_it_does(subject, ctx)),
            cautions.PRESSURE,
        )
