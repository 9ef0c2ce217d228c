"""The window map: time across, channels down in machine order, colour only outside the window."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from dashboards.clock import duration
from dashboards.figures.svg import box, stroke, touchable, words
from dashboards.figures.text_width import fitted, in_lines
from dashboards.figures.time_axis import TimeAxis
from dashboards.names import short_title
from dashboards.texts import say
from dashboards.views import WindowGrid
from dashboards.windows import FAR_OVER, FAR_UNDER, NO_READING, NOT_JUDGED, OVER, UNDER
from monitor.line import Line

_CLASS = {UNDER: "cell under", FAR_UNDER: "cell under far", OVER: "cell over", FAR_OVER: "cell over far"}


def row_height(rows: int) -> float:
    """Rows get lower as there are more of them, never too low for a finger with its neighbours."""
    return 18.0 if rows <= 26 else 15.0


def map_lane(line: Line, grid: WindowGrid, axis: TimeAxis, top: float, touched: str = "") -> tuple[list[str], float]:
    """The rows of the map from `top` down, and where they end.

    Over its window a cell fills the upper half of its row, under the lower half, beyond the outer limit three quarters
    from that side: the side is told without its colour, too. Near an edge, still inside: a grey rule at that side. Not
    judged: bare. No reading: dotted.
    """
    height = row_height(len(grid.keys))
    parts: list[str] = []
    if not grid.keys:
        lines = in_lines(say("map.no_windows"), axis.width - axis.left - 4)
        told = [words(axis.left, top + 18 + 17 * i, line, "soft small no-map") for i, line in enumerate(lines)]
        return told, top + 11 + 17 * len(lines)
    silent = (grid.code == NO_READING).all(axis=0)
    code = np.where(silent, np.int8(NOT_JUDGED), grid.code)
    for i, key in enumerate(grid.keys):
        y = top + i * height
        parts.append(_row(line, replace(grid, code=code), i, key, axis, y, height, touched))
    bottom = top + len(grid.keys) * height
    for first, last, is_silent in runs(silent.astype(np.int8)):
        if is_silent:
            parts += _silence(axis.x(grid.t0 + first * grid.step), axis.x(grid.t0 + last * grid.step), top, bottom)
    return parts, bottom


def _silence(x0: float, x1: float, top: float, bottom: float) -> list[str]:
    """A stretch in which nothing at all was read: one dotted frame, the words where they fit."""
    edges = [stroke([(x, top), (x, bottom)], "unread") for x in (x0, x1)]
    text = say("place.no reading")
    fits = x1 - x0 > len(text) * 8
    return edges + ([words((x0 + x1) / 2, (top + bottom) / 2 + 5, text, "soft small halo", "middle")] if fits else [])


def _row(line: Line, grid: WindowGrid, i: int, key: str, axis: TimeAxis, y: float, height: float, touched: str) -> str:
    inner, half = height - 3, (height - 3) / 2
    parts = [box(axis.left, y + 1.5, axis.right - axis.left, inner, "row-ground")]
    outside = 0
    for first, last, code in runs(grid.code[i]):
        x0, x1 = axis.x(grid.t0 + first * grid.step), axis.x(grid.t0 + last * grid.step)
        width = max(x1 - x0, 1.2)
        if code == NOT_JUDGED:
            parts.append(box(x0, y, width, height, "blank"))
        elif code == NO_READING:
            parts.append(box(x0, y, width, height, "blank"))
            parts.append(stroke([(x0, y + height / 2), (x0 + width, y + height / 2)], "unread"))
        elif code in _CLASS:
            outside += last - first
            far = code in (FAR_UNDER, FAR_OVER)
            low = code < 0
            tall = 0.75 * inner if far else half
            parts.append(
                box(
                    x0,
                    y + 1.5 + (inner - tall if low else 0),
                    max(width, 2.0),
                    tall,
                    _CLASS[code],
                )
            )
    for first, last, side in runs(grid.edge[i]):
        if side:
            x0, x1 = axis.x(grid.t0 + first * grid.step), axis.x(grid.t0 + last * grid.step)
            parts.append(box(x0, y + 1.5 if side > 0 else y + height - 3.5, max(x1 - x0, 1.2), 2, "near"))
    minutes = outside * grid.step / 60e9
    if outside:
        parts.append(words(axis.right + 8, y + height / 2 + 4.5, duration(minutes * 60), "ink small"))
    look = "ink strong" if key == touched else "ink" if outside else "soft"
    title = short_title(line, key)
    shown = fitted(title, axis.left - 14, strong=key == touched)
    name = words(axis.left - 10, y + height / 2 + 4.5, shown, f"{look} small", "end")
    label = say("map.row", title=title, minutes=f"{minutes:.0f}")
    return touchable(key, label, (2, y, axis.left - 6, height), name, *parts, on=key == touched)


def runs(codes: np.ndarray) -> Iterator[tuple[int, int, int]]:
    """(first, last + 1, code) of every run of equal codes."""
    if not len(codes):
        return
    starts = np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]])
    for first, last in zip(starts, np.r_[starts[1:], len(codes)], strict=True):
        yield int(first), int(last), int(codes[first])
