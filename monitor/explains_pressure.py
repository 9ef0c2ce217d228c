"""Whether what is supposed to explain a pressure can have moved it that way, and there.

What narrows a way raises the pressure before it; a wall beyond the screw thins or stiffens what passes it.
"""

from __future__ import annotations

from collections.abc import Mapping

from monitor.explains_amounts import LEAST_TORQUE_PER_PRESSURE, MOST_HOTTER_C, NOISE_LN, STIFFER_LN_C

RAISES_PRESSURE = ("screen_blinding", "die_plugging", "restricted", "viscous_lot", "toward_over_pressure", "freeze_off")
"""What can only make the pressure of what passes higher."""

BY_THE_WALL = {
    1: ("zone_over_temperature", "contactor_stuck"),
    -1: ("heater_dead", "heater_partial", "zone_under_temperature"),
}
BY_ITS_PRESSURE = ("screen_ruptured", "screen_blinding", "die_plugging")
"""What a wall beyond the screw does that is too hot (1) or too cold (-1), seen as a pressure alone."""


UNSEEN_WALL = ("thermocouple_frozen", "thermocouple_open")
"""Nobody knows how hot such a wall really is: it may be off either way by as much as is counted of a melt."""


def can_have_moved(cause: str, effect: Mapping[str, float]) -> bool:
    """Whether a wall that is off, or a thicker melt, can have made a pressure of what it is. effect: as below.

    True of any other cause.
    """
    return (cause != "viscous_lot" or thicker_enough(effect)) and wall_moves(cause, effect)


def wall_moves(cause: str, effect: Mapping[str, float]) -> bool:
    """Whether a wall too hot or too cold can have moved a pressure as it did. effect: as Explanation.moved.

    wall_c: by how much the furthest wall is off on that side, C. Nothing is ruled out where one of them is not known.
    """
    pressure, wall_c = effect.get("pressure"), effect.get("wall_c")
    if cause in UNSEEN_WALL:
        return pressure is None or abs(pressure) <= STIFFER_LN_C * MOST_HOTTER_C + NOISE_LN
    side = next((side for side, names in BY_THE_WALL.items() if cause in names), 0)
    if pressure is None or not side:
        return True
    return pressure * side < 0 and (wall_c is None or abs(pressure) <= STIFFER_LN_C * abs(wall_c) + NOISE_LN)


def thinned(cause: Mapping[str, float], effect: Mapping[str, float]) -> bool:
    """Whether a melt too hot by `melt_c` can have taken as much of a pressure or load as is gone. Both as above."""
    lost = [-effect[name] for name in ("pressure", "torque") if name in effect]
    return bool(lost) and all(0.0 < ln <= STIFFER_LN_C * cause.get("melt_c", 0.0) + NOISE_LN for ln in lost)


def thicker_enough(effect: Mapping[str, float]) -> bool:
    """Whether load rose with a pressure as where the melt is thicker; so where one is not known. effect: as above."""
    pressure, torque = effect.get("pressure"), effect.get("torque")
    return pressure is None or torque is None or torque >= LEAST_TORQUE_PER_PRESSURE * pressure


def goes_the_other_way(cause: str, effect: Mapping[str, float]) -> bool:
    """Whether a pressure is low that its supposed cause can only raise. effect: as Explanation.moved."""
    return cause in RAISES_PRESSURE and effect.get("pressure", 0.0) < -NOISE_LN


AHEAD_ONLY = ("screen_blinding",)
"""What narrows the screen: it raises the pressure before it and takes from what is behind."""

BEHIND_THE_SCREEN = ("after_screen", "pump_suction", "pump_discharge")


def raised_behind(cause: str, effect: Mapping[str, float], place: str) -> bool:
    """Whether a pressure at a place is up that its supposed cause can only lower. effect: as Explanation.moved."""
    return cause in AHEAD_ONLY and place in BEHIND_THE_SCREEN and effect.get("pressure", 0.0) > 0.0
