"""What most conditions have in common: no memory of their own and delays from their settings `on_s` and `off_s`."""

from __future__ import annotations

from typing import ClassVar

from monitor.contract import Context, State, Timing

COMES_BACK_S = 1200.0
"""Who is called again and again to what has just gone stops coming. For conditions of machine and
sensor, and for powder that flushes with every refill: what comes minutes later runs into what the screws still hold of
the time before. Other product that was outside is counted by its own minutes, and what may hurt someone is said each
time (`toward_over_pressure` has a shorter time of its own). Common practice, no source."""


class RuleDefaults:
    """Parts of the contract that most conditions leave alone. again_s: as in `Timing`."""

    on_s: float
    off_s: float
    quantities: ClassVar[tuple[str, ...]] = ()
    sharpened_by: ClassVar[tuple[str, ...]] = ()
    again_s: ClassVar[float] = 0.0

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The settings' delays, the same for every subject."""
        return Timing(self.on_s, self.off_s, again_s=self.again_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing to remember."""
        return {}
