"""The screw was started before the soak time was over."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.conditions.zone_signals import wanted, zones_with_temperature
from monitor.contract import CLEAR, Context, Explanation, Judged, State, Timing, setting
from monitor.phases import PHASES, UNDER_BY_C
from monitor.records import Evidence, Family
from monitor.view import CoarseView

NEVER_C = 1e9
ROOM_C = 20.0
"""Where a heat-up from cold begins."""
SHORT_STOP_S = 600.0
"""In a stop no longer the melt stays hot, though a zone that shear kept hot falls; as in `cold_start`."""
HEAT_UP_C = 40.0
"""What lacks less was no heat-up: a zone that shear kept hot sags so far in a stop, the metal round it does not."""


@dataclass(frozen=True)
class SoakShort:
    """The screw was started before the soak time of the recipe was over.

    An operator would say: "it was not soaked through". All zones had reached their set-points, as the log shows from
    a heat-up it saw, but not for long enough, or the screw was started while they still heated up after a stop of ten
    minutes and more: the couple is hot, the melt in die and screen may not be. Said for the rest of the soak time.
    The soak time is that from cold: what the middle of the metal and the melt still lacks dies away as exp(-t/tau),
    so that after a set-back it takes ln(depth / 8 C) to ln(cold depth / 8 C) of it (first term of Fourier's series; 8
    C is what a zone may lack when the soak begins). Depth: the most a zone lacked in this heat-up. Look-alikes: a
    heat-up before the log began (not judged), a jog (30 s on-delay). Missing readings are not judged. Memory: 4
    numbers.
    """

    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(30, 10, 600, "s")

    name: ClassVar[str] = "soak_short"
    family: ClassVar[Family] = "cold_start"
    title: ClassVar[str] = "started before soaked"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line."""
        return ("line",) if ctx.has("zone_temperature") and ctx.has("screw_speed") else ()

    def channel(self, subject: str) -> str:
        """The screw."""
        return "screw_speed"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Three cells in: a jog of 12 s can lie in two."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not soaking. soaked_s: seconds soaked when the screw was started, -1 = not started from soaking or heating;
        depth_c: the most that a zone lacked while the line heated up; still_s: how long the screw stood."""
        return {"phase": 0, "soaked_s": -1.0, "depth_c": NEVER_C, "still_s": 0.0}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        soaking, heating = PHASES.index("soaking"), PHASES.index("heating")
        from_cold = 60.0 * (ctx.recipe.recipe.soak_min if ctx.recipe else 20.0)
        short, soaked_out = np.zeros(view.n, bool), np.zeros(view.n)
        asked_s = np.full(view.n, from_cold)
        phase, soaked, depth, still = state["phase"], state["soaked_s"], state["depth_c"], state["still_s"]
        lacks, hottest = self._lacks(view, ctx)
        turned, stood, in_soak = (view.ages[name].tolist() for name in ("turning", "still", "soaked"))
        for i, now in enumerate(view.phase.tolist()):
            turning = turned[i] > 0
            if now == heating:
                # A heat-up that was not seen to begin is one from cold.
                began = lacks[i] if phase else NEVER_C
                depth = max(depth, lacks[i]) if phase == heating else began
            if not turning:
                soaked, still = -1.0, stood[i]
            elif phase == soaking:
                soaked = in_soak[i]
            elif phase == heating and still >= SHORT_STOP_S and depth >= HEAT_UP_C:
                soaked = 0.0
            if soaked >= 0:
                asked_s[i] = from_cold * _share(depth, hottest[i])
            short[i] = turning and soaked >= 0 and turned[i] < asked_s[i] - soaked
            soaked_out[i] = soaked
            phase = now
        level = np.where(short, np.int8(1), np.int8(CLEAR))[None, :].astype(np.int8)
        if not subjects:
            level = level[:0]
        facts = {
            "soaked_s": soaked_out,
            "wanted_s": asked_s,
            "speed": view.get("screw_speed"),
        }
        after: State = {"phase": phase, "soaked_s": soaked, "depth_c": depth, "still_s": still}
        return after, Judged(level, np.ones(level.shape), facts)

    @staticmethod
    def _lacks(view: CoarseView, ctx: Context) -> tuple[list[float], list[float]]:
        """What the zone lacks that lacks most, and the hottest set-point, C, a cell each; 0 where not known."""
        zones = zones_with_temperature(ctx)
        rows = wanted(view, zones, ctx)
        short = rows - view.rows("zone_temperature", zones)
        return np.fmax.reduce(short, axis=0, initial=0.0).tolist(), np.fmax.reduce(rows, axis=0, initial=0.0).tolist()

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Soaked against wanted minutes."""
        return Explanation(
            f"screw started after {facts['soaked_s'] / 60:.0f} of {facts['wanted_s'] / 60:.0f} min soak",
            2,
            "high",
            (Evidence("soaked", facts["soaked_s"] / 60, "min", facts["wanted_s"] / 60),),
            ("started in haste after heat-up",),
            ("melt pressure and torque while turning slowly", "die and screen"),
            cautions.COLD,
        )


def _share(depth_c: float, hottest_c: float) -> float:
    """Share of the soak from cold that a heat-up from so far below asks for."""
    if not depth_c > UNDER_BY_C or not hottest_c - ROOM_C > UNDER_BY_C:
        return 1.0
    return min(math.log(depth_c / UNDER_BY_C) / math.log((hottest_c - ROOM_C) / UNDER_BY_C), 1.0)
