"""A feeder's rate jumped and came back, and load and melt temperature stepped together: other material came."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions import feeder_signals
from monitor.conditions.scale_jumped import ScaleJumped, pressure_evidence
from monitor.contract import Context, Explanation
from monitor.exact import Bools, Floats
from monitor.records import Cause, Evidence, Family

CLEAR_LN, CLEAR_C = 0.1, 10.0
"""Load or melt further off than this is no lot of the same grade: soon, not only to be looked at. Common practice."""


@dataclass(frozen=True)
class MaterialChanged(ScaleJumped):
    """Another lot or another material has come in one feeder: told without its drive and its refills.

    An operator would say: "that is not what we had this morning". Material of another bulk density moves the rate of
    its feeder for a minute, until the controller has found the new drive speed; material of another viscosity moves
    load and melt temperature the same way, thinner melt down, thicker up, for as long as it comes. So: a jump of the
    rate as scale_jumped sees it, either way; net torque has stepped by `torque_moved` and four of its scatters either
    way and stays; the melt went 5 C with it, more where so much more or less of a filler or an oil could do it; and
    pressure not the other way. Look-alikes: a scale that jumped (less of the same leaves the melt as warm or warmer:
    scale_jumped), zones that cool, heat or were set anew (melt and load go apart), a new lot without a jump
    (viscous_lot, sme_off), all that scale_jumped leaves alone. Where drives and refills are logged wrong_material sees
    smaller ones. Missing readings start nothing. Memory: that of scale_jumped. Common practice, no source.
    """

    name: ClassVar[str] = "material_changed"
    family: ClassVar[Family] = "composition"
    title: ClassVar[str] = "another material in a feeder"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "torque|motor_current|drive_power", "melt_temperature")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_setpoint", "feeder_refill|feeder_weight", "melt_pressure")
    by_minutes: ClassVar[bool] = False

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders whose ingredient moves torque, where load and melt temperature are logged."""
        feeders = feeder_signals.feeders_with(ctx, self.needs[:2]) if ctx.has("melt_temperature") else ()
        return feeder_signals.moving_torque(feeders, ctx)

    def _follows(self, expected: Floats, step: Floats, longer: Floats, with_melt: Bools, clear: Floats) -> Bools:
        way = np.sign(step[0])
        stepped = (np.fmin(way * step[0], way * longer[0]) >= clear) & np.isfinite(longer[0])
        return with_melt & stepped & ~(way * step[1] < -0.01)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Thinner or thicker, denser or lighter."""
        name, torque, melt_c = feeder_signals.label(subject, ctx), facts["torque"], facts["melt"]
        thinner, denser = torque < 0, facts["jump"] > 0
        moved, jump = 100 * np.expm1(torque), 100 * facts["jump"]
        melt, fill = "thinner" if thinner else "thicker", "denser" if denser else "lighter"
        seen = (f"torque {moved:+.0f} % and melt {melt_c:+.0f} °C together: {melt} melt",)
        filled = (f"its rate went {jump:+.0f} % for a minute: {fill} than before",)
        return Explanation(
            f"{name}: another material or lot seems to have come, {melt}: rate "
            f"{jump:+.0f} % for a minute, since then torque {moved:+.0f} %, melt {melt_c:+.0f} °C",
            2 if abs(torque) >= CLEAR_LN or abs(melt_c) >= CLEAR_C else 3,
            "medium",
            (
                Evidence(f"{name}, furthest from set", jump, "%", 0.0, None, f"feeder_rate:{subject}"),
                Evidence("net torque since", moved, "%", 0.0, None, "net_torque"),
                Evidence("melt temperature since", melt_c, "C", 0.0, None, ""),
                *pressure_evidence(facts),
            ),
            (
                Cause("wrong material in this hopper", (*filled, *seen)),
                Cause("another lot of the same material, of other bulk density and viscosity", (*filled, *seen)),
            ),
            ("what was filled: bag, silo, label, sample from the hopper", "catch sample", "product since then"),
            moved={"torque": torque, "pressure": facts["pressure"]},
        )
