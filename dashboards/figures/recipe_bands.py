"""The windows of a recipe as bands, one under the other in machine order: outer limits, inner limits, target."""

from __future__ import annotations

from collections.abc import Callable

from dashboards.figures.svg import box, drawing, stroke, words
from dashboards.figures.text_width import fitted, text_px
from dashboards.figures.time_axis import PHONE
from dashboards.names import cut, figure, with_unit
from dashboards.texts import say
from monitor.recipe import Window

ROW = 40.0
BAND_H = 14.0
TITLE_W = 230.0
NARROW_TITLE_W = 170.0
PHONE_ROW = 62.0
GAP = 6.0
"""Pixels between two numbers of a row."""


def recipe_bands(rows: list[tuple[str, str, Window]], width: float, name: str) -> str:
    """SVG text. rows: (title, unit, window). Every row has its own scale; the numbers stand at its limits.

    On a telephone the title stands above its band, with the unit, so that the numbers have room.
    """
    if width < PHONE:
        parts = []
        for number, (title, unit, window) in enumerate(rows):
            top = 4 + number * PHONE_ROW
            named = f"{title}, {unit}" if unit else title
            parts.append(words(0, top + 12, fitted(named, width, 14), "", "start"))
            parts += _row("", "", window, 0.0, width, top + 16)
        return drawing(width, max(PHONE_ROW, 6 + len(rows) * PHONE_ROW), say("recipe.bands", name=name), *parts)
    left = (NARROW_TITLE_W if width < 900 else TITLE_W) + 8
    right = width - 8
    parts = []
    for number, (title, unit, window) in enumerate(rows):
        parts += _row(title, unit, window, left, right, 6 + number * ROW)
    return drawing(width, max(ROW, 6 + len(rows) * ROW), say("recipe.bands", name=name), *parts)


def _row(title: str, unit: str, window: Window, left: float, right: float, top: float) -> list[str]:
    limits = {
        name: value
        for name in ("low_outer", "low", "target", "high", "high_outer")
        if (value := getattr(window, name)) is not None
    }
    low, high = min(limits.values()), max(limits.values())
    room = (high - low) or max(abs(high) * 0.1, 1.0)
    # A side without a limit is open: its band runs out to the edge.
    open_low = window.low is None and window.low_outer is None
    open_high = window.high is None and window.high_outer is None
    # Beside a limit its number needs room, and on an open side the word for it too.
    texts = _texts(limits, window, unit)
    air = 0.3 / 1.6 * (right - left)
    said = text_px(say("recipe.open")) + GAP
    begin = left + max(air, text_px(texts[min(limits, key=limits.__getitem__)]) / 2 + said if open_low else 0.0)
    end = right - max(air, text_px(texts[max(limits, key=limits.__getitem__)]) / 2 + said if open_high else 0.0)

    def x(value: float) -> float:
        return begin + (value - low) / room * (end - begin)

    band_top = top + 18
    outer = (window.low_outer if window.low_outer is not None else window.low,
             window.high_outer if window.high_outer is not None else window.high)  # fmt: skip
    inner = (window.low if window.low is not None else outer[0], window.high if window.high is not None else outer[1])
    parts = [words(0, top + 30, cut(title, 30 if left > 200 else 22), "", "start")] if title else []
    for pair, class_ in ((outer, "band-outer"), (inner, "band deep")):
        x0 = left if pair[0] is None else x(pair[0])
        x1 = right if pair[1] is None else x(pair[1])
        parts.append(box(x0, band_top, x1 - x0, BAND_H, class_))
    for class_, value in (("limit", window.low_outer), ("limit", window.high_outer)):
        if value is not None:
            parts.append(stroke([(x(value), band_top - 2), (x(value), band_top + BAND_H + 2)], class_))
    if window.target is not None:
        parts.append(stroke([(x(window.target), band_top - 2), (x(window.target), band_top + BAND_H + 2)], "stem"))
    parts += _numbers(limits, texts, x, top + 12)
    for is_open, at, anchor in ((open_low, left, "start"), (open_high, right, "end")):
        if is_open:
            parts.append(words(at, top + 12, say("recipe.open"), "soft small", anchor))
    return parts


def _texts(limits: dict[str, float], window: Window, unit: str) -> dict[str, str]:
    """What stands above each limit; the unit is with one of them."""
    bearer = "target" if "target" in limits else "low"
    texts = {name: figure(value, window.key) for name, value in limits.items()}
    return {name: with_unit(text, unit) if name == bearer and unit else text for name, text in texts.items()}


def _numbers(limits: dict[str, float], texts: dict[str, str], x: Callable[[float], float], y: float) -> list[str]:
    """The numbers above their limits, target first; one that would stand on another is left to the table."""
    parts: list[str] = []
    taken: list[tuple[float, float]] = []
    for name in ("target", "low", "high", "low_outer", "high_outer"):
        if name not in limits:
            continue
        at, half = x(limits[name]), text_px(texts[name]) / 2
        if any(at + half + GAP > a and at - half - GAP < b for a, b in taken):
            continue
        taken.append((at - half, at + half))
        look = "small" if name in ("target", "low", "high") else "soft small"
        parts.append(words(at, y, texts[name], look, "middle"))
    return parts
