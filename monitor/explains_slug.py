"""What was held back and comes all at once: a slug, of what stood in a throat, a chute or a side feeder, or of what a
feeder gives too much that was driven up while it had nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

NS = 1_000_000_000

STOOD = ("starved", "sme_off", "side_feeder_backing_up")
"""What stands before the screws is let go while this is still open: it ends with that. Of work that is off only where
the load was short."""

WOUND_UP = (
    "refill_not_answered", "hopper_running_empty", "feeder_bridged", "feeder_weight_still", "rate_not_weight",
)  # fmt: skip
"""The controller of such a feeder gives too much at first when its material is back."""

COMES = ("flooded", "sme_off", "viscous_lot", "restricted", "recipe_window")
"""How screws and die show it: fuller, and where it is a filler thicker, until it is through."""

LETS_GO = dict.fromkeys((*STOOD, *WOUND_UP), COMES)

HELD_S, AFTER_S = 60, 180
"""It was held back for so long at least, and what comes begins so soon after the end; common practice, no source."""


def lets_go(cause: Mapping[str, Any], effect: Mapping[str, Any]) -> bool:
    """Whether a finding is what another one lets go: load or pressure up, as it ends. Both as they stand."""
    name, ended = cause["condition"], cause["ended"]
    was_short = name != "sme_off" or cause["moved"].get("torque", 0.0) < 0.0
    if effect["condition"] not in LETS_GO.get(name, ()) or not was_short:
        return False
    if not effect["moved"].get("torque", effect["moved"].get("pressure", 0.0)) > 0.0:
        return False
    if ended is None:
        # Only the end of its own says that a feeder has its material again.
        return name in STOOD and effect["since"] >= cause["since"] + HELD_S * NS
    return cause["since"] + HELD_S * NS <= effect["since"] <= ended + AFTER_S * NS
