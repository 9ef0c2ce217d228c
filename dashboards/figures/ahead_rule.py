"""What comes next, on a rule of time ahead: near things far apart, far things close together."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dashboards.ahead import HERE, Coming
from dashboards.clock import SECOND, PlantClock, duration
from dashboards.figures.marks import mark
from dashboards.figures.svg import drawing, stroke, tag, touchable, words
from dashboards.names import channel_title, cut, figure, unit_of, with_unit
from dashboards.texts import say
from monitor.line import Line

ROW = 25.0
MOST = 8
LEAST_WIDTH = 700.0
END_S = 12 * 3600.0
KNEE_S = 300.0
TICKS_S = (300, 900, 1800, 3600, 2 * 3600, 4 * 3600, 8 * 3600)
URGENT_S = 900.0
WORDS_PX = 330.0
"""Room for the words behind the latest mark."""


def share_of(seconds: float) -> float:
    """Place on the rule, 0 now and 1 at twelve hours or later."""
    return min(1.0, math.log1p(max(seconds, 0.0) / KNEE_S) / math.log1p(END_S / KNEE_S))


def ahead_rule(line: Line, coming: Sequence[Coming], now: int, clock: PlantClock, width: float) -> str:
    """SVG text.

    The soonest on top. Colour only for what runs empty or meets a limit within a quarter of an hour, or has met it.
    """
    width = max(width, LEAST_WIDTH)
    left, right = (104.0 if width < 1000 else 148.0), width - WORDS_PX
    rows = list(coming)[:MOST]
    top, bottom = 26.0, 30.0 + ROW * len(rows)

    def x(seconds: float) -> float:
        return left + share_of(seconds) * (right - left)

    parts = [
        stroke([(left, top), (right, top)], "axis"),
        words(left, 16, say("ahead.now"), "soft small", "middle"),
    ]
    for seconds in TICKS_S[:: 2 if width < 1000 else 1]:
        parts.append(stroke([(x(seconds), top - 4), (x(seconds), bottom)], "hair"))
        parts.append(words(x(seconds), 16, duration(seconds), "soft small", "middle"))
    for i, item in enumerate(rows):
        parts.append(_row(line, item, now, clock, x, top + 6 + i * ROW, left, right))
    return drawing(width, bottom + 4, say("ahead.name"), *parts)


def _row(line: Line, item: Coming, now: int, clock: PlantClock, x, top: float, left: float, right: float) -> str:
    y = top + ROW / 2
    at = x(item.in_s)
    look = _look(item)
    parts = [words(left - 10, y + 5, cut(subject_of(line, item), 11 if left < 120 else 19), "ink small", "end")]
    words_at = at
    if item.low_s is not None:
        latest = item.high_s if item.high_s is not None else END_S
        words_at = x(latest)
        parts.append(stroke([(x(item.low_s), y), (x(latest), y)], "whisker"))
    parts.append(stroke([(left, y), (at, y)], f"lead {look}"))
    parts.append(mark(at, y, look, 14) or tag("circle", cx=float(at), cy=float(y), r=5, class_="bead"))
    text = sentence(line, item, now, clock)
    parts.append(words(words_at + 14, y + 5, text, f"small {look}"))
    return touchable(
        item.key, f"{subject_of(line, item)}: {text}", (2, top, right + WORDS_PX - 8, ROW), *parts, on=False
    )


def sentence(line: Line, item: Coming, now: int, clock: PlantClock) -> str:
    """'empty in 38 min, 08:07'; of what is here already, without a time."""
    at = clock.minute(now + round(item.in_s * SECOND))
    limit = with_unit(figure(item.limit, item.key, line), unit_of(line, item.key)) if item.limit is not None else ""
    rates = {
        name: figure(value, "line_rate", line)
        for name, value in (("rate", item.rate), ("wanted", item.wanted))
        if value is not None
    }
    text = say(f"ahead.{item.kind}", time=duration(item.in_s), at=at, limit=limit, **rates)
    if item.along:
        text += say("ahead.along", others=", ".join(channel_title(line, key) for key in item.along))
    return text


def first_sentence(line: Line, item: Coming, now: int, clock: PlantClock) -> str:
    """'Next: talc T4 empty in 38 min, 08:07'; 'Now: ...' of what is here already."""
    key = "lines.here" if item.kind in HERE else "lines.next"
    return say(key, title=subject_of(line, item), what=sentence(line, item, now, clock))


def _look(item: Coming) -> str:
    if item.kind == "empty" and item.in_s < URGENT_S:
        return "under"
    if item.kind == "short":
        return "under"
    return "over" if item.kind in ("limit", "leaves window", "at limit") and item.in_s < URGENT_S else "calm"


def subject_of(line: Line, item: Coming) -> str:
    """The channel meant; a hopper, and a feeder that is short, by the feeder alone."""
    title = channel_title(line, item.key).removesuffix(" " + say("role.feeder_weight"))
    return title.removesuffix(" " + say("role.feeder_drive")) if item.kind == "short" else title
