"""The phase ribbon: what the line was doing, and which lot it was making."""

from __future__ import annotations

from collections.abc import Sequence

from dashboards.figures.svg import box, tag, words
from dashboards.figures.time_axis import TimeAxis
from dashboards.texts import say
from dashboards.views import Segment

HEIGHT = 22.0


def ribbon(axis: TimeAxis, segments: Sequence[Segment], top: float, kind: str) -> list[str]:
    """One band of named stretches. kind: 'phase' or 'lot'; a name is written where it fits."""
    parts = [words(axis.left - 10, top + 15, say(f"ribbon.{kind}"), "soft small", "end")]
    for segment in segments:
        x0, x1 = axis.x(segment.start), axis.x(segment.end)
        if x1 - x0 < 0.6:
            continue
        name = say(f"phase.{segment.name}") if kind == "phase" else segment.name or say("lot.none")
        look = f"phase {'steady' if segment.name == 'steady' else ''}" if kind == "phase" else "phase lot"
        text = words((x0 + x1) / 2, top + 15, name, "small", "middle") if x1 - x0 > len(name) * 8 + 8 else ""
        whole = f"{name}, {axis.clock.interval(segment.start, segment.end)}"
        parts.append(tag("g", tag("title", whole), box(x0, top, x1 - x0, HEIGHT - 2, look.strip()), text))
    return parts
