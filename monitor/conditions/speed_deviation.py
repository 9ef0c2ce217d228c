"""The screw does not turn at the speed it is told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor.conditions.torque_high import gross_load_pct
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import two_threshold
from monitor.levels import rule
from monitor.phases import turning_limit_rpm
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView


@dataclass(frozen=True)
class SpeedDeviation(RuleDefaults):
    """Screw speed stays off its set-point.

    An operator would say: "it does not reach its speed". Off by more than `off_pct` of the set-point and `off_rpm`, for
    `on_s`, a minute and a half after the last change of set-point. Look-alikes: ramp after a change (not judged), start
    and stop (not judged), rounded tags (under `off_rpm`), a set-point that is not used because another drive leads
    (said as a cause; with a melt pump a note). Missing readings do not start it. Memory: one switch. Common practice,
    no source.
    """

    off_pct: float = setting(2, 0.5, 30, "% of the set-point")
    off_rpm: float = setting(2, 0.1, 50, "rpm")
    ramp_s: float = setting(90, 10, 900, "s after a change of set-point")
    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(30, 10, 600, "s")

    name: ClassVar[str] = "speed_deviation"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "screw speed off its set-point"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("screw_speed", "screw_speed_setpoint")
    sharpened_by: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The screw."""
        return ("screw",) if ctx.has("screw_speed") and ctx.has("screw_speed_setpoint") else ()

    def channel(self, subject: str) -> str:
        """The speed."""
        return "screw_speed"

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not off."""
        return {"on": np.zeros(1, bool)}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        speed, wanted = view.get("screw_speed"), view.get("screw_speed_setpoint")
        with np.errstate(invalid="ignore"):
            off, allowed = np.abs(speed - wanted), np.fmax(self.off_pct / 100 * wanted, self.off_rpm)
            armed = view.in_phase("steady", "settling") & (view.ages["unchanged"] >= self.ramp_s)
            armed &= (wanted > turning_limit_rpm(ctx)) & (view.ages["turning"] >= self.ramp_s)
            far, near = off > allowed, off < 0.7 * allowed
        on, after = two_threshold(state["on"], (far & armed)[None, :], (near | ~armed)[None, :])
        facts = {"speed": speed, "wanted": wanted, "load": gross_load_pct(view, ctx)}
        known = (np.isfinite(speed) & np.isfinite(wanted))[None, :]
        return {"on": after}, Judged(rule(on, known, armed), off[None, :], facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """By how much."""
        speed, wanted, load = facts["speed"], facts["wanted"], facts["load"]
        limit = (f"load {load:.0f} % of its limit",) if load == load else ()
        slow, loaded = speed < wanted, load >= 90
        causes = [
            Cause(
                "drive at its torque or current limit", limit if loaded else (), () if loaded or not limit else limit
            ),
            Cause("drive fault, or scaling of speed or set-point wrong"),
            Cause("another set-point leads: suction pressure of the melt pump, load control"),
        ]
        off = 100 * abs(speed - wanted) / wanted
        led = ctx.has("melt_pump_speed") and not loaded
        order = [causes[2], causes[0], causes[1]] if led else causes if slow and not (limit and not loaded) else None
        return Explanation(
            f"screw turns at {speed:.1f} rpm, {off:.1f} % {'under' if slow else 'over'} its set-point of {wanted:.1f}",
            4 if led else 2 if off >= 10 else 3,
            "high",
            (
                Evidence("screw speed", speed, "rpm", wanted, None, "screw_speed"),
                Evidence("load of the drive", load, "% of the limit"),
            ),
            tuple(order or causes[1:] + causes[:1]),
            ("drive display: limit or fault", "load and melt temperature", "scaling of the tag"),
        )
