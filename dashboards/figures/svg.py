"""Writes SVG as text.

Colours are classes of `assets/marks.css`, so one drawing serves light, dark and print.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

Number = float | int
_UNSAFE = re.compile(r"[&<>\"\n\r\t]")


def tag(name: str, *children: str, **attributes: object) -> str:
    """One element.

    `class_` is class, other underscores are hyphens; None is left out; numbers get one decimal.
    """
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}={_quoted(_text(value))}"
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{written}>{''.join(children)}</{name}>" if children else f"<{name}{written}/>"


def _quoted(text: str) -> str:
    """Quoted for an attribute; nearly all of our texts need no escaping."""
    return quoteattr(text) if _UNSAFE.search(text) else f'"{text}"'


def _text(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.1f}".removesuffix(".0")
    return str(value)


def words(x: Number, y: Number, text: str, class_: str = "", anchor: str = "start", **more: object) -> str:
    """A line of text."""
    return tag("text", escape(text), x=float(x), y=float(y), class_=class_ or None, text_anchor=anchor, **more)


def box(x: Number, y: Number, w: Number, h: Number, class_: str, **more: object) -> str:
    """A rectangle."""
    return tag("rect", x=float(x), y=float(y), width=float(max(w, 0)), height=float(max(h, 0)), class_=class_, **more)


def stroke(points: Iterable[tuple[Number, Number]], class_: str, **more: object) -> str:
    """An open line through points."""
    return tag("path", d=_path(points), class_=class_, **more)


def shape(points: Iterable[tuple[Number, Number]], class_: str, **more: object) -> str:
    """A closed shape."""
    return tag("path", d=_path(points) + "Z", class_=class_, **more)


def _path(points: Iterable[tuple[Number, Number]]) -> str:
    return "M" + "L".join(f"{_text(float(x))} {_text(float(y))}" for x, y in points)


def arrow(x: Number, y: Number, size: Number, sign: int, class_: str) -> str:
    """A solid triangle about (x, y): pointing up for over (+1), down for under (-1)."""
    h = size * 0.86
    return shape([(x - size / 2, y + sign * h / 2), (x + size / 2, y + sign * h / 2), (x, y - sign * h / 2)], class_)


def lozenge(x: Number, y: Number, size: Number, class_: str) -> str:
    """A diamond about (x, y): something is wrong that has no side."""
    r = size / 2
    return shape([(x, y - r), (x + r, y), (x, y + r), (x - r, y)], class_)


def touchable(
    key: str,
    label: str,
    hit: tuple[Number, Number, Number, Number],
    *children: str,
    on: bool,
    again: bool = False,
) -> str:
    """A group one can click, touch or reach by keyboard to pick channel `key`; `hit` = x, y, width, height.

    again: the same channel is reached elsewhere in the drawing; this place takes clicks only.
    """
    x, y, w, h = hit
    if again:
        return tag("g", box(x, y, w, h, "hit", rx=4), *children, class_="touch", data_key=key, aria_hidden="true")
    return tag(
        "g",
        tag("title", escape(label)),
        box(x, y, w, h, "hit", rx=4),
        *children,
        class_="touch on" if on else "touch",
        data_key=key,
        role="button",
        tabindex=0,
        aria_label=label,
        aria_pressed="true" if on else "false",
    )


def drawing(width: Number, height: Number, label: str, *children: str, **more: object) -> str:
    """The whole picture, `width` by `height` CSS pixels."""
    return tag(
        "svg",
        *children,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_text(float(width))} {_text(float(height))}",
        width=float(width),
        height=float(height),
        class_="drawing",
        role="group",
        aria_label=label,
        **more,
    )


def spread(wanted: list[float], apart: float, low: float, high: float) -> list[float]:
    """Places as near the wanted ones as can be, at least `apart` from each other and inside [low, high].

    wanted: rising. Least squares with a minimum distance (pool adjacent violators).
    """
    groups: list[list[float]] = []
    for i, x in enumerate(wanted):
        groups.append([x - i * apart, 1])
        while len(groups) > 1 and groups[-2][0] > groups[-1][0]:
            last, count = groups.pop()
            before, size = groups.pop()
            groups.append([(before * size + last * count) / (size + count), size + count])
    flat = [mean for mean, count in groups for _ in range(int(count))]
    span = (len(wanted) - 1) * apart
    return [min(max(x, low), max(low, high - span)) + i * apart for i, x in enumerate(flat)]
