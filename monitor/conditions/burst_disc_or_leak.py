"""Melt pressure is gone within a second or two while feeds and screw go on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, pressure_path
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, last_known, run_length, trailing_extremes, two_threshold, with_past
from monitor.levels import rule
from monitor.phases import turning_limit_rpm
from monitor.quantities.feed import feed_off_together
from monitor.quantities.load import gross_torque_known, gross_torque_of
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import Readings

VALVES = ("melt_pump_speed", "diverter_to_product")


@dataclass(frozen=True)
class BurstDiscOrLeak(RuleDefaults):
    """Melt pressure falls to nearly zero in a second or two, feeds and torque on.

    An operator would say: "bang, and the pressure was gone". From at least `least_bar`, known for 8 s, pressure
    falls within `within_s` (two cells at least) to under `left_share` of it and stays there for `on_s`, while the
    screw keeps its speed and torque keeps at least half of what it was. Two sensors that both fall are two
    witnesses; one alone may be its own wire, and that is said, but it is never taken as harmless. Look-alikes: stop
    (speed falls), feed switched off (all rates gone) or lost (pressure falls over several residence times),
    diverter or start valve thrown (logged: silent), melt pump stopped (logged: silent), a one-sample zero, a
    controller that restarts and writes zeros (a temperature jumps to exactly zero with it: silent for `restart_s`).
    Missing readings neither start nor end it. Priority 1, never folded. Memory: some 15 s. Burst disc and cut-outs
    protect, not this. Common practice, no source.
    """

    least_bar: float = setting(15, 3, 200, "bar before")
    left_share: float = setting(0.15, 0.02, 0.5, "of the pressure before")
    within_s: float = setting(2, 1, 10, "s")
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
        """At most a few seconds."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        k = len(subjects)
        return {
            "past": blank(k, self._lag(ctx) + ctx.cells(8)),
            "drive": blank(2, self._lag(ctx) + ctx.cells(8)),
            "valve": blank(2, ctx.cells(10)),
            "zero": blank(1, 1),
            "restart": np.zeros(1, np.int64),
            "gone": np.zeros(k, bool),
            "was": np.full(k, np.nan),
        }

    def _lag(self, ctx: Context) -> int:
        return max(2, ctx.cells(self.within_s))

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a pressure."""
        calm, n = ctx.cells(8), view.n
        bar = pressure_path.pressures(view, {s: pressure_path.groups(ctx)[s] for s in subjects})
        joined, past = with_past(state["past"], bar)
        speed, load = view.get("screw_speed"), self._load(view, ctx)
        drive, drive_past = with_past(state["drive"], np.array([speed, load]))
        valve, valve_past = with_past(state["valve"], np.array([view.get(key) for key in VALVES]))
        restart, restart_state, zero = self._restart(state, view, ctx)
        after = {"past": past, "drive": drive_past, "valve": valve_past, "zero": zero, "restart": restart_state}
        with np.errstate(invalid="ignore"):
            highest = np.fmax.reduce(joined, axis=1, initial=-np.inf)[:, None]
            if not state["gone"].any() and not (bar <= self.left_share * highest).any():
                level = rule(np.zeros(bar.shape, bool), np.isfinite(bar), np.ones((1, n), bool))
                facts: dict[str, Floats] = dict.fromkeys(("bar", "was", "both", "load"), bar)
                return after | {"gone": state["gone"], "was": state["was"]}, Judged(level, bar, facts)
            low, high, _ = trailing_extremes(joined[:, : calm - 1], joined[:, calm - 1 : calm - 1 + n])
            turning = (drive[0, :n] > turning_limit_rpm(ctx)) & (speed >= 0.9 * drive[0, :n])
            turning &= (speed > turning_limit_rpm(ctx)) & ~(load < 0.5 * drive[1, :n])
            falls = (low >= self.least_bar) & (bar <= self.left_share * low) & (high <= 2 * low)
            falls &= turning & ~self._thrown(valve, n) & ~restart
            falls &= ~feed_off_together(view, ctx.subjects_of("feeder_rate"), ctx)
            was, was_state = last_known(state["was"], np.where(falls, low, np.nan))
            back = (bar > 2 * self.left_share * was) | (speed <= turning_limit_rpm(ctx)) | restart
        gone, gone_state = two_threshold(state["gone"], falls, back)
        level = rule(gone, np.isfinite(bar), np.ones((1, n), bool))
        facts = {
            "bar": bar, "was": was, "both": np.broadcast_to(np.count_nonzero(gone, axis=0).astype(float), bar.shape),
            "load": np.broadcast_to(load, bar.shape),
        }  # fmt: skip
        return after | {"gone": gone_state, "was": was_state}, Judged(level, was - bar, facts)

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
        rows = [place for key, place in view.index.items() if key.startswith(("melt_temperature", "zone_temperature"))]
        at_zero = view.values[rows] == 0.0
        zero = np.add.reduce(at_zero, axis=0, dtype=np.float64) if at_zero.any() else np.zeros(view.n)
        joined, past = with_past(state["zero"], zero[None, :])
        jumps = joined[0, 1:] > joined[0, : view.n]
        since, since_state = run_length(state["restart"], ~jumps[None, :])
        lately = since[0] < ctx.cells(self.restart_s)
        return jumps | (lately & (zero > 0)), since_state, past

    @staticmethod
    def _thrown(valve: np.ndarray, n: int) -> Bools:
        """Whether diverter or melt pump explain it: thrown or slowed within the last 10 s."""
        before = valve.shape[1] - n
        _, high, _ = trailing_extremes(valve[:, :before], valve[:, before:])
        with np.errstate(invalid="ignore"):
            return (valve[0, before:] < 0.5 * high[0]) | (valve[1, before:] < high[1] - 0.5)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """From where to where."""
        alone = facts["both"] < 2
        wire = Cause(
            "sensor or its wire",
            ("no second pressure sensor fell with it",) if alone else (),
            () if alone else ("two pressures fell together",),
        )
        return Explanation(
            f"melt pressure {subject} fell from {facts['was']:.0f} to {facts['bar']:.0f} bar at once while the screw "
            "turns: treat it as melt coming out",
            1,
            "medium" if alone else "high",
            (
                Evidence(f"melt pressure {subject}", facts["bar"], "bar", facts["was"], None, self.channel(subject)),
                Evidence("load", facts["load"], "", None, None, ""),
            ),
            (
                Cause("burst disc opened"),
                Cause("leak at die, adapter, screen changer or a sensor port"),
                wire,
                Cause("start valve or die bypass opened without being logged"),
            ),
            (
                "stop feed and screw by site procedure",
                "look from a safe place: disc outlet, die, flanges",
                "why the pressure rose before, if a disc opened; fit the same rating",
            ),
            cautions.PRESSURE,
            moved={"pressure": -3.0},
        )
