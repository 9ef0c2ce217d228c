"""The course of one tag of a log nobody knows yet: its numbers as they stand there, against the log's own clock."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from dashboards.clock import SECOND, PlantClock
from dashboards.figures.svg import drawing, stroke, words
from dashboards.figures.time_axis import TimeAxis, axis_lane
from dashboards.names import cut
from dashboards.shown_units import marked
from dashboards.texts import say

HEIGHT = 190.0
TOP = 26.0


class _Close(TimeAxis):
    """A time axis with a narrow gutter: the drawing is half a page wide."""

    @property
    def narrow(self) -> bool:
        return True

    @property
    def left(self) -> float:
        return 64

    @property
    def right(self) -> float:
        return self.width - 10


def tag_course(tag: str, unit: str, t_ms: Sequence[int], values: Sequence[float | None], width: float) -> str:
    """SVG text. t_ms: rising, milliseconds since 1970 on the log's own clock; a None among the values is a gap."""
    known = [value for value in values if value is not None]
    title = " ".join(part for part in (cut(tag, 60), unit) if part)
    if not known or len(t_ms) < 2:
        return drawing(width, 40, title, words(0, 20, say("import.no_readings"), "soft"))
    t0, t1 = t_ms[0] * 10**6, max(t_ms[-1] * 10**6, t_ms[0] * 10**6 + SECOND)
    axis = _Close(t0, t1, width, PlantClock("UTC"))
    low, high = min(known), max(known)
    room = 0.06 * (high - low) or max(abs(high) * 0.05, 0.5)
    low, high, bottom = low - room, high + room, HEIGHT - 26.0

    def y(value: float) -> float:
        return bottom - (value - low) / (high - low) * (bottom - TOP)

    lines, labels = axis_lane(axis, TOP, bottom)
    labels = labels[1:]  # the log's own clock may be of any zone
    for value, text in _ticks(low, high):
        labels.append(words(axis.left - 8, y(value) + 4, text, "soft small", "end"))
        lines.append(stroke([(axis.left, y(value)), (axis.right, y(value))], "hair"))
    points = [(axis.x(at * 10**6), None if v is None else y(v)) for at, v in zip(t_ms, values, strict=True)]
    curves = [stroke(piece, "profile") for piece in _pieces(points)]
    return drawing(width, HEIGHT + 6, title, *lines, *labels, *curves, words(0, 15, title, "strong small"))


def _pieces(points: Sequence[tuple[float, float | None]]) -> Iterator[list[tuple[float, float]]]:
    piece: list[tuple[float, float]] = []
    for x, y in points:
        if y is not None:
            piece.append((x, y))
            continue
        if piece:
            yield _seen(piece)
        piece = []
    if piece:
        yield _seen(piece)


def _seen(piece: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A lone point has no length: it is drawn one pixel wide."""
    return piece if len(piece) > 1 else [piece[0], (piece[0][0] + 1, piece[0][1])]


def _ticks(low: float, high: float) -> Iterator[tuple[float, str]]:
    """Three to six round values, with as many decimals as they need."""
    rough = (high - low) / 4
    base = 10.0 ** math.floor(math.log10(rough))
    step = next(base * m for m in (1, 2, 2.5, 5, 10) if base * m >= rough)
    digits = max(0, -math.floor(math.log10(step)) + (1 if f"{step:.1e}".startswith("2.5") else 0))
    for i in range(math.ceil(low / step), math.floor(high / step) + 1):
        yield i * step, marked(f"{i * step:.{min(digits, 6)}f}").replace("-", "−")
