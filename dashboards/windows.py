"""Where a reading stands in its recipe window: the one thing colour means on every page."""

from __future__ import annotations

from typing import Literal

import numpy as np

from ingest.roles import channel_key
from monitor.line import Line
from monitor.recipe import Recipe, Window

Place = Literal["far under", "under", "inside", "over", "far over", "no reading", "no window"]

PLAIN_ZONE_INNER_C = 3.0
PLAIN_ZONE_OUTER_C = 5.0
"""Zone windows where a recipe gives only a target: common practice, no source; shown as 'plain start'."""

FAR_UNDER, UNDER, INSIDE, OVER, FAR_OVER, NOT_JUDGED, NO_READING = -2, -1, 0, 1, 2, 8, 9
"""Codes of a window map cell."""

PLACE_OF_CODE: dict[int, Place] = {
    FAR_UNDER: "far under",
    UNDER: "under",
    INSIDE: "inside",
    OVER: "over",
    FAR_OVER: "far over",
    NO_READING: "no reading",
    NOT_JUDGED: "no window",
}


def windows_of(line: Line, recipe: Recipe | None) -> dict[str, Window]:
    """Every window that judges a channel of this line under this recipe, by channel key."""
    if recipe is None:
        return {}
    channels = set(line.channels)
    found = {window.key: window for window in recipe.window if window.key in channels}
    for zone, wanted in recipe.zones.items():
        key = channel_key("zone_temperature", zone)
        if key in channels and key not in found:
            found[key] = plain_zone_window(zone, wanted)
    return found


def plain_zone_window(zone: str, wanted_c: float) -> Window:
    """The plain start of a zone: 3 C either side, 5 C outer."""
    return Window(
        role="zone_temperature",
        at=zone,
        target=wanted_c,
        low=wanted_c - PLAIN_ZONE_INNER_C,
        high=wanted_c + PLAIN_ZONE_INNER_C,
        low_outer=wanted_c - PLAIN_ZONE_OUTER_C,
        high_outer=wanted_c + PLAIN_ZONE_OUTER_C,
    )


def is_plain_start(recipe: Recipe | None, key: str) -> bool:
    """Whether a zone's window is the plain start and not one the recipe states."""
    return recipe is not None and recipe.window_of(key) is None


def inner_limits(window: Window) -> tuple[float | None, float | None]:
    """The limits that bound good product; where only an outer limit is stated, that one."""
    low = window.low if window.low is not None else window.low_outer
    high = window.high if window.high is not None else window.high_outer
    return low, high


def position(value: float | np.ndarray, window: Window) -> np.ndarray:
    """Position in the window: 0 at target, -1 and +1 at the inner limits, -2 and +2 at the outer.

    Beyond the outer limits it goes on at the same slope. A side without a limit stays at 0.
    """
    value = np.asarray(value, dtype=float)
    low, high = inner_limits(window)
    target = window.target
    if target is None:
        target = (low + high) / 2 if low is not None and high is not None else _one_sided_target(low, high)
    result = np.zeros_like(value)
    if high is not None:
        result = np.where(value > target, _side(value, target, high, window.high_outer), result)
    if low is not None:
        result = np.where(value < target, -_side(-value, -target, -low, _negated(window.low_outer)), result)
    return np.where(np.isnan(value), np.nan, result)


def _one_sided_target(low: float | None, high: float | None) -> float:
    """A stand-in target for a window with one limit: a tenth of the limit inside of it."""
    limit = high if high is not None else low
    assert limit is not None
    room = max(abs(limit) * 0.1, 1e-9)
    return limit - room if high is not None else limit + room


def _negated(value: float | None) -> float | None:
    return None if value is None else -value


def _side(value: np.ndarray, target: float, limit: float, outer: float | None) -> np.ndarray:
    inside = max(limit - target, 1e-9)
    outside = inside if outer is None or outer <= limit else outer - limit
    return np.where(value <= limit, (value - target) / inside, 1 + (value - limit) / outside)


def codes(values: np.ndarray, window: Window, highest: np.ndarray | None = None) -> np.ndarray:
    """Map codes (int8) of cell means.

    NaN becomes NO_READING. `highest` judges the outer high limit, if given.
    """
    low, high = inner_limits(window)
    code = np.zeros(values.shape, dtype=np.int8)
    if low is not None:
        code[values < low] = UNDER
    if high is not None:
        code[values > high] = OVER
    if window.low_outer is not None:
        code[values < window.low_outer] = FAR_UNDER
    if window.high_outer is not None:
        code[(values if highest is None else highest) > window.high_outer] = FAR_OVER
    code[np.isnan(values)] = NO_READING
    return code


def place_of(value: float | None, window: Window | None) -> Place:
    """The word for one reading."""
    if value is None or not np.isfinite(value):
        return "no reading"
    if window is None:
        return "no window"
    return PLACE_OF_CODE[int(codes(np.array([value]), window)[0])]


def sign_of(place: Place) -> int:
    """-1 under, 0 inside or unknown, +1 over."""
    return {"far under": -1, "under": -1, "over": 1, "far over": 1}.get(place, 0)
