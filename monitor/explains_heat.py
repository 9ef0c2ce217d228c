"""How far the heat of one zone goes: into its neighbours by the steel, and on to the die by the melt."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ingest.roles import split_key
from monitor.contract import Context

PER_ZONE_BESIDE, SCATTER_C = 0.3, 1.0
"""Neighbours couple by 0.1 to 0.3 (values from memory): a zone set 2 C off does not move the next by 4."""

HOTTER_BESIDE = ("zone_over_temperature", "melt_over_temperature")
"""What a zone far too hot makes of the melt, and of what that passes."""

HEATS_ON = ("contactor_stuck", "zone_over_temperature")
"""Findings of a zone that is too hot, by `off_c`."""


def within_reach(cause: Mapping[str, float], effect: Mapping[str, float]) -> bool:
    """Whether a zone so much too hot can have made another, or the melt, as much too hot as that is.

    Both as Explanation.moved. A zone passes on to what it touches 0.3 of it at most, the melt keeps no more.
    """
    off_c, other_c = cause.get("off_c", math.nan), effect.get("off_c", effect.get("melt_c", math.nan))
    return 0.0 < other_c <= PER_ZONE_BESIDE * off_c + SCATTER_C


def heats_on(cause: Mapping[str, Any], effect: Mapping[str, Any], ctx: Context) -> bool:
    """Whether a zone too hot explains another one, further on or next to it, or the melt. Both as findings stand."""
    zone, (role, other) = split_key(cause["channel"])[1], split_key(effect["channel"])
    order = ctx.line.zone_names
    if not within_reach(cause["moved"], effect["moved"]):
        return False
    if role == "melt_temperature":
        return True
    return zone in order and other in order and zone != other and order.index(other) >= order.index(zone) - 1
