"""What follows where more is fed than a feeder shows: nothing of what its name alone would explain."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

MORE = ("sme_off", "viscous_lot", "flooded", "restricted", "recipe_window", "drift")

MORE_COMES = {
    "feeder_bridged": MORE,
    "feeder_off_target": ("feed_factor_moved", "feeder_drive_near_limit", *MORE),
    "feed_factor_moved": MORE,
}
"""Findings of a feeder that shows too little; what more of its material does to screws and die, where it is told of
them that the load is up (`moved`). Two of them are one where the older speaks of the same feeder."""


def more_comes(cause: Mapping[str, Any], condition: str) -> bool:
    """Whether a finding that tells of more than is shown explains one of this condition. cause: as it stands."""
    return condition in MORE_COMES.get(cause["condition"], ()) and cause["moved"].get("torque", 0.0) > 0.0
