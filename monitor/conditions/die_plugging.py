"""The die plugs: pressure after the screen creeps up over hours. A trend and no more."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import pressure_path
from monitor.conditions.screen_blinding import EARLIER_SHARE, ScreenBlinding
from monitor.contract import Context, Explanation, setting
from monitor.exact import Floats
from monitor.physics.melt_pressure import share_blocked
from monitor.records import Cause
from monitor.view import CoarseView

BEHIND_PUMP_SHARE, LEAST_LOAD = 0.2, 0.02
"""Of the rise, and in ln net torque itself, which wanders by a percent: behind a melt pump a die asks nothing of the
screws, and a load that has risen so far with its pressure is that of another melt. Common practice, no source."""

SMALL_FACTOR = 2.0
"""A rise of less than so many times the least, while the load falls by as much as would speak of the melt were it to
rise, is not claimed: holes that close take nothing off the screws. Common practice, no source."""


@dataclass(frozen=True)
class DiePlugging(ScreenBlinding):
    """Pressure between screen and die creeps up at the same rate and melt temperature.

    An operator would say: "some holes are closed". A tenth of the holes is only +3.8 % (flow exponent 0.35), near the
    noise, so it is claimed as a trend alone: the same points, slope and interval as for a filling screen, from 24
    points (two hours), or from points that climb one after another (see `ScreenBlinding`). It needs a pressure after
    the screen or after the melt pump; without one, 'screen or die' is all that can be said, and the screen's finding
    says it. Look-alikes: the slide of pressure by 3 to 8 % in the hour and a half after a start (it goes down, and the
    base with it: no rise comes of it; the first half hour is not judged), thicker or colder melt (net torque rises a
    third as much and more, a fifth behind a melt pump: silent; a die asks hardly anything of the screws, 20 bar some 2
    kJ/kg of the melt, made at a tenth of efficiency), a small rise while the load falls, cold water on the die face, a
    die wipe (a step down starts anew). Missing readings: a point needs 60 % of its cells. Memory: 64 points a pressure.
    Numbers are common practice, no source.
    """

    least_rise_pct: float = setting(5, 1, 50, "% over the lowest level")
    new_screen_pct: float = setting(4, 2, 50, "% step down that is a cleaned die")
    torque_share: float = setting(0.33, 0.2, 3, "of the rise: torque that rises so much speaks of the melt")
    least_points: float = setting(24, 12, 64, "points of five minutes")

    name: ClassVar[str] = "die_plugging"
    title: ClassVar[str] = "die plugging"
    sharpened_by: ClassVar[tuple[str, ...]] = ("melt_temperature", "bath_temperature", "feeder_rate|line_rate")

    def _at(self, ctx: Context) -> tuple[str, ...]:
        """Nothing but the die behind it."""
        return ("after_screen",) if pressure_path.screen_behind_pump(ctx) else ("after_screen", "pump_discharge")

    def _melt_witness(self, ctx: Context) -> tuple[str, ...]:
        """None: a pump's control holds its suction."""
        return ()

    def _pressures(self, view: CoarseView, subject: str, ctx: Context) -> tuple[Floats, Floats]:
        """All of it falls over the die."""
        ahead = pressure_path.pressure(view, pressure_path.groups(ctx, *self._at(ctx))[subject])
        return ahead, ahead

    def _load_share(self, subject: str, ctx: Context) -> float:
        """Less behind a pump."""
        behind = pressure_path.place(subject, ctx) == "pump_discharge" or pressure_path.screen_behind_pump(ctx)
        return min(BEHIND_PUMP_SHARE, self.torque_share) if behind else self.torque_share

    def _far(self, f: dict[str, Floats]) -> np.ndarray:
        """Nothing flushes itself behind the screen."""
        return np.ones(f["climbs"].shape, bool)

    def _speaks(self, f: dict[str, Floats]):
        speaks, urgent, silent = super()._speaks(f)
        thicker = (f["torque_rise"] >= f["load_share"] * f["rise"]) & (f["torque_rise"] >= LEAST_LOAD)
        against = f["torque_rise"] <= -np.fmax(f["load_share"] * f["rise"], LEAST_LOAD)
        against &= f["rise"] < math.log(1 + SMALL_FACTOR * self.least_rise_pct / 100)
        speaks &= ~thicker & ~against
        least = math.log(1 + self.least_rise_pct / 100)
        slow = (f["rise"] >= least) & (f["slope_low_h"] > 0) & (f["points"] >= self.least_points)
        slow &= f["earlier"] >= EARLIER_SHARE * f["rise"]
        slow &= ~thicker & ~against
        slow &= self._goes_on(f) & ~self._stepped(f) & ~self._of_the_probe(f)
        enough = (f["points"] >= self.least_points) | (f["climbs"] > 0)
        return (speaks & enough) | slow, urgent & False, silent & ~slow

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far, and how many holes that would be."""
        rise = math.expm1(facts["rise"])
        holes = 100 * float(share_blocked(pressure_ratio=1 + rise, flow_exponent=self.flow_exponent))
        return Explanation(
            f"melt pressure {subject} at the die up {100 * rise:.0f} % as a trend: some {holes:.0f} % of the holes, "
            f"if it is holes{self._left(subject, facts, ctx)}",
            3,
            "low",
            self._evidence(subject, facts),
            (
                Cause("die holes plugging or freezing off"),
                Cause("melt thicker: another lot, colder than the probe shows"),
                Cause("die heater or cold water on the die face"),
            ),
            (
                "strands or pellets: missing, thick, thin",
                "die temperature and water",
                "die wipe or clean at the next stop",
            ),
        )
