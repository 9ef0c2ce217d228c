"""How far the heat of one zone goes: into its neighbours by the steel, and on to the die by the melt."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ingest.roles import split_key
from monitor.contract import NS, Context
from monitor.explains import NEAR_BY
from monitor.explains_amounts import MOST_HOTTER_C, MOST_PER_ZONE_C, NOISE_LN, STIFFER_LN_C

PER_ZONE_BESIDE, SCATTER_C = 0.3, 1.0
"""Neighbours couple by 0.1 to 0.3 (values from memory): a zone set 2 C off does not move the next by 4."""

HOTTER_BESIDE = ("zone_over_temperature", "melt_over_temperature")
"""What a zone far too hot makes of the melt, and of what that passes."""

DEEP_C, FAR_C = 15.0, 30.0
"""No want of shear or feed leaves a zone so far under its set-point: its heater gives what lacks (`DEEP_C` of
temperature_causes), and it stiffens what it passes; no cold granules after a stop take it twice as far down. Common
practice, no source."""

BACK_SHARE, WOUND_UP_S = 2.0, 900
"""A zone that was off for so long, longer than the half of a swing, comes back with a controller that has wound up:
past its set-point, by as much again as it was off, twice that at most. Common practice, no source."""

OTHER_SIDE = {"zone_over_temperature": "zone_under_temperature", "zone_under_temperature": "zone_over_temperature"}

COOLED, HEATED = ("contactor_stuck", "cooling_scaled"), ("heater_partial", "cooling_passing")
BACK_FROM = {
    **dict.fromkeys(COOLED, "zone_under_temperature"),
    **dict.fromkeys(HEATED, "zone_over_temperature"),
}
"""Troubles of a zone, and where its controller brings it when they are over: while they last it goes the other way."""

BY_ITS_MELT = (
    "melt_over_temperature", "melt_under_temperature", "sme_off", "viscous_lot", "restricted", "recipe_window",
)  # fmt: skip
"""What the melt does that a zone heats, or does not heat any more, whose couple is false."""

SEEN_AFTER_S, MOST_TORQUE_LN = 120, 0.25
"""Steel needs minutes to heat or cool the melt, and a zone alone moves the load by no more: what moves at once, or
further, has another cause. Common practice, no source."""

LOST_TOGETHER = ("heater_dead", "heater_partial", "zone_under_temperature")

CHILLS = ("heater_dead", "zone_under_temperature")
STIFFER = ("sme_off", "viscous_lot")
"""What a zone far too cold makes of load and pressure, wherever on the barrel it is: the next gets colder melt."""

HEATS_ON = ("contactor_stuck", "zone_over_temperature")
"""Findings of a zone that is too hot, by `off_c`."""


def within_reach(cause: Mapping[str, float], effect: Mapping[str, float]) -> bool:
    """Whether a zone so much too hot can have made another, or the melt, as much too hot as that is.

    Both as Explanation.moved. A zone passes on to what it touches 0.3 of it at most, the melt keeps no more.
    """
    off_c, other_c = cause.get("off_c", math.nan), effect.get("off_c", effect.get("melt_c", math.nan))
    return 0.0 < other_c <= PER_ZONE_BESIDE * off_c + SCATTER_C


def stiffens(cause: Mapping[str, float], effect: Mapping[str, float]) -> bool:
    """Whether a zone too cold can have raised load, or pressure, as much as they are up. Both as above."""
    off_c, up = cause.get("off_c", 0.0), effect.get("torque", effect.get("pressure", 0.0))
    return off_c <= -DEEP_C and 0.0 < up <= MOST_PER_ZONE_C * -off_c + NOISE_LN


def too_cold_for(name: str, cause: Mapping[str, float], effect: Mapping[str, float]) -> bool:
    """Whether a zone is colder than what is no fault of a zone makes it: far under, or while the screw works more."""
    off_c, works_more = effect.get("off_c", 0.0), name == "sme_off" and cause.get("torque", 0.0) > 0.0
    return name not in NEAR_BY and (off_c <= -FAR_C or (off_c < 0.0 and works_more))


def heats_on(cause: Mapping[str, Any], effect: Mapping[str, Any], ctx: Context) -> bool:
    """Whether a zone too hot explains another one, further on or next to it, or the melt. Both as findings stand."""
    zone, (role, other) = split_key(cause["channel"])[1], split_key(effect["channel"])
    order = ctx.line.zone_names
    if not within_reach(cause["moved"], effect["moved"]):
        return False
    if role == "melt_temperature":
        return True
    return zone in order and other in order and zone != other and order.index(other) >= order.index(zone) - 1


def as_much_hotter(melt: Mapping[str, float], zone: Mapping[str, float]) -> bool:
    """Whether melt is as much too hot as a zone is, and more it cannot have made of it. Both as Explanation.moved."""
    return zone.get("off_c", math.inf) <= melt.get("melt_c", 0.0) + SCATTER_C


def heats_behind(cause: Mapping[str, Any], effect: Mapping[str, Any], ctx: Context) -> bool:
    """Whether melt that is too hot can have made a zone as much too hot: one behind the screw. Both as they stand."""
    zone = split_key(effect["channel"])[1]
    beyond = zone in ctx.line.zone_names and ctx.line.zone_named(zone).beyond_the_screw
    return beyond and as_much_hotter(cause["moved"], effect["moved"])


def _lost_with(cause: Mapping[str, Any], effect: Mapping[str, Any], ctx: Context) -> bool:
    """Whether a zone lost its heat with the one that is dead (`with`, see lost_together)."""
    mask, other = cause["moved"].get("with", 0.0), split_key(effect["channel"])[1]
    heated = [zone for zone in ctx.subjects_of("zone_temperature") if zone in ctx.subjects_of("zone_output")]
    return other in heated and bool(int(mask) >> heated.index(other) & 1)


def swings_back(cause: Mapping[str, Any], effect: Mapping[str, Any]) -> bool:
    """Whether a zone off on one side is what its controller makes of having been off on the other, as its trouble ends.

    Both as findings stand."""
    until = min(cause["ended"] or effect["since"], effect["since"])
    lasted = until - cause["since"] >= WOUND_UP_S * NS
    off_c, other_c = cause["moved"].get("off_c", math.nan), effect["moved"].get("off_c", math.nan)
    return cause["channel"] == effect["channel"] and lasted and abs(other_c) <= BACK_SHARE * abs(off_c)


def by_a_false_couple(cause: Mapping[str, Any], effect: Mapping[str, Any]) -> bool:
    """Whether what a controller does by a couple that is open or shorted made the melt, load or pressure so.

    Both as findings stand. heats: 1 where it heats a zone that reads too low, -1 where it does not heat any more."""
    heats, moved = cause["moved"].get("heats", 0.0), effect["moved"]
    if not heats or effect["since"] < cause["since"] + SEEN_AFTER_S * NS:
        return False
    if "melt_c" in moved:
        return bool(moved["melt_c"] * heats > 0.0)
    torque, pressure = moved.get("torque", 0.0), moved.get("pressure", 0.0)
    if torque == pressure == 0.0 or max(torque * heats, pressure * heats) > NOISE_LN:
        return False
    return abs(torque) <= MOST_TORQUE_LN and abs(pressure) <= STIFFER_LN_C * MOST_HOTTER_C


def by_heat(cause: Mapping[str, Any], effect: Mapping[str, Any], ctx: Context) -> bool | None:
    """Whether one finding explains another by what heat and cold do; None where that does not tell."""
    name, condition = cause["condition"], effect["condition"]
    if OTHER_SIDE.get(name) == condition:
        return swings_back(cause, effect)
    if name == "thermocouple_open" and condition in BY_ITS_MELT and by_a_false_couple(cause, effect):
        return True
    if BACK_FROM.get(name) == condition:
        lasted = effect["since"] - cause["since"] >= WOUND_UP_S * NS
        return lasted and split_key(cause["channel"])[1] == split_key(effect["channel"])[1]
    if condition == "zone_under_temperature" and too_cold_for(name, cause["moved"], effect["moved"]):
        return False
    if name == "heater_dead" and condition in LOST_TOGETHER and _lost_with(cause, effect, ctx):
        return bool(condition != name or cause["since"] < effect["since"])
    if name in CHILLS and condition in STIFFER and stiffens(cause["moved"], effect["moved"]):
        return True
    if name == "melt_over_temperature" and condition == "zone_over_temperature":
        return cause["since"] <= effect["since"] and heats_behind(cause, effect, ctx)
    if name in HEATS_ON and condition in HOTTER_BESIDE and heats_on(cause, effect, ctx):
        return bool(condition != name or cause["since"] < effect["since"])
    return None


def outgrown(cause: Mapping[str, Any], effect: Mapping[str, Any]) -> bool:
    """Whether a zone has gone further than what explained it as it began can have brought it."""
    name, condition = cause["condition"], effect["condition"]
    if name == "melt_over_temperature" and condition == "zone_over_temperature":
        return not as_much_hotter(cause["moved"], effect["moved"])
    if name == condition == "zone_over_temperature":
        return cause["ended"] is None and not within_reach(cause["moved"], effect["moved"])
    return condition == "zone_under_temperature" and too_cold_for(name, cause["moved"], effect["moved"])
