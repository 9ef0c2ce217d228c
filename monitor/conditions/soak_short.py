"""The screw was started before the soak time was over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.contract import CLEAR, Context, Explanation, Judged, State, Timing, setting
from monitor.phases import PHASES
from monitor.records import Evidence, Family
from monitor.view import CoarseView


@dataclass(frozen=True)
class SoakShort:
    """The screw was started before the soak time of the recipe was over.

    An operator would say: "it was not soaked through". All zones had reached their set-points, as the log shows
    from a heat-up it saw, but not for long enough: the couple is hot, the melt in die and screen may not be. Said
    for the rest of the soak time. Look-alikes: a heat-up before the log began (not judged), a jog (30 s on-delay).
    Missing readings are not judged. Memory: 2 numbers.
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
        """Not soaking. soaked_s: seconds soaked when the screw was started, -1 = not started from soaking."""
        return {"phase": 0, "soaked_s": -1.0}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        soaking = PHASES.index("soaking")
        wanted = 60.0 * (ctx.recipe.recipe.soak_min if ctx.recipe else 20.0)
        short, soaked_out = np.zeros(view.n, bool), np.zeros(view.n)
        phase, soaked = state["phase"], state["soaked_s"]
        for i, now in enumerate(view.phase.tolist()):
            turning = view.ages["turning"][i] > 0
            if not turning:
                soaked = -1.0
            elif phase == soaking:
                soaked = float(view.ages["soaked"][i])
            short[i] = turning and soaked >= 0 and view.ages["turning"][i] < wanted - soaked
            soaked_out[i] = soaked
            phase = now
        level = np.where(short, np.int8(1), np.int8(CLEAR))[None, :].astype(np.int8)
        if not subjects:
            level = level[:0]
        facts = {
            "soaked_s": soaked_out,
            "wanted_s": np.full(view.n, wanted),
            "speed": view.get("screw_speed"),
        }
        return {"phase": phase, "soaked_s": soaked}, Judged(level, np.ones(level.shape), facts)

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
