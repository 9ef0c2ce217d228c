"""Lowest lane of the barrel strip: melt pressure along the machine, in bar, with what it may reach."""

from __future__ import annotations

from dashboards.figures.marks import mark
from dashboards.figures.strip_view import Sheet, StripView
from dashboards.figures.svg import box, spread, stroke, tag, touchable, words
from dashboards.names import figure
from dashboards.texts import say
from dashboards.windows import inner_limits, sign_of
from ingest.roles import split_key

HEIGHT = 62.0


def pressure_keys(view: StripView) -> list[str]:
    """Pressure channels with a known unit, in machine order."""
    machine = view.machine
    keys = [s.key for s in view.line.sensor if s.role == "melt_pressure" and s.key not in view.line.relative_channels]
    return sorted(keys, key=lambda key: machine.place(key) or 0)


def pressure_lane(view: StripView, sheet: Sheet, top: float) -> list[str]:
    """A stem at every sensor, true to scale; its window as a band; the machine's own limit as a dashed rule."""
    keys = pressure_keys(view)
    if not keys:
        return []
    base = top + HEIGHT
    full = _full_scale(view, keys)
    room = HEIGHT - 14
    limit = view.line.limits.melt_pressure_bar
    parts = [
        stroke([(sheet.left, base), (sheet.right, base)], "axis"),
        words(sheet.left - 10, base - 12, say("strip.pressure"), "soft small", "end"),
        words(sheet.left - 10, base + 3, "bar", "soft small", "end"),
    ]
    xs = [sheet.x(view.machine.place(key) or 0) for key in keys]
    if limit and limit <= full:
        y = base - room * limit / full
        start = max(sheet.left, min(xs) - 190)
        parts.append(stroke([(start, y), (sheet.right, y)], "limit"))
        parts.append(words(start, y - 5, say("strip.limit", limit=f"{limit:.0f}"), "soft small"))
    labels = spread(xs, 58, sheet.left + 20, sheet.width - 34)
    profile = [(x, base - room * (view.readings[key] / full)) for x, key in zip(xs, keys, strict=True) if key in view.readings]
    if len(profile) > 1:
        parts.append(stroke(profile, "profile"))
    for key, x, label_x in zip(keys, xs, labels, strict=True):
        parts.append(_stem(view, key, x, label_x, base, room, full))
    return parts


def _full_scale(view: StripView, keys: list[str]) -> float:
    """Top of the scale: twice the largest target or reading, or the machine's limit if that is not far above."""
    highest = [view.readings[key] for key in keys if key in view.readings]
    for key in keys:
        if key in view.windows:
            window = view.windows[key]
            highest += [v for v in (window.high_outer, window.high, window.target) if v is not None]
    usual = max(highest or [100.0]) * 1.25
    limit = view.line.limits.melt_pressure_bar
    return limit * 1.02 if limit and limit < usual * 2.2 else max(usual, 1.0)


def _stem(view: StripView, key: str, x: float, label_x: float, base: float, room: float, full: float) -> str:
    value, window, look = view.readings.get(key), view.windows.get(key), view.look(key)
    parts = []
    if window is not None:
        low, high = inner_limits(window)
        y_high = base - room * min(1.0, (high if high is not None else full) / full)
        y_low = base - room * min(1.0, (low or 0.0) / full)
        parts.append(box(x - 8, y_high, 16, y_low - y_high, "band"))
    if value is not None:
        y = base - room * max(0.0, min(1.05, value / full))
        parts.append(stroke([(x, base), (x, y)], f"stem {look}"))
        if sign_of(view.place(key)):
            parts.append(mark(x, y, look, 15))
        else:
            parts += [tag("circle", cx=float(x), cy=float(y), r=4.5, class_="bead"), mark(x, y, look, 13)]
    _, subject = split_key(key)
    parts.append(words(label_x, base + 20, figure(value, key), f"number {look}", "middle"))
    parts.append(words(label_x, base + 36, subject, "ink small strong", "middle"))
    return touchable(key, view.label(key), (label_x - 28, base - room, 56, room + 42), *parts, on=view.touched == key)
