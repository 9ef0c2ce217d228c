"""What most conditions have in common: no memory of their own and delays from their settings `on_s` and `off_s`."""

from __future__ import annotations

from typing import ClassVar

from monitor.contract import Context, State, Timing


class RuleDefaults:
    """Parts of the contract that most conditions leave alone."""

    on_s: float
    off_s: float
    quantities: ClassVar[tuple[str, ...]] = ()
    sharpened_by: ClassVar[tuple[str, ...]] = ()

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The settings' delays, the same for every subject."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing to remember."""
        return {}
