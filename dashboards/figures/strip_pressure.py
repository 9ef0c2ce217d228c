"""Lowest lane of the barrel strip: melt pressure along the machine, in bar, with what it may reach."""

from __future__ import annotations

import itertools

from dashboards.figures.marks import mark
from dashboards.figures.strip_view import Sheet, StripView
from dashboards.figures.svg import box, spread, stroke, tag, touchable, words
from dashboards.figures.text_width import text_px
from dashboards.names import cut, figure, with_unit
from dashboards.shown_units import shown_unit
from dashboards.texts import say
from dashboards.windows import inner_limits, sign_of
from ingest.roles import split_key

ROOM = 52.0
"""Pixels from zero to the top of the scale."""

LABEL_APART = 60.0
VENT_PX = 50.0
"""Half the width of a vent's figure with its mark."""


def pressure_keys(view: StripView) -> list[str]:
    """Pressure channels with a known unit, in machine order."""
    machine = view.machine
    keys = [s.key for s in view.line.sensor if s.role == "melt_pressure" and s.key not in view.line.relative_channels]
    return sorted(keys, key=lambda key: machine.place(key) or 0)


def stands_on_barrel(view: StripView, sheet: Sheet, free_from: float) -> bool:
    """Whether the gauges fit on top of the barrel, where they are screwed in.

    No feeder or vent in their way.
    """
    return bool(pressure_keys(view)) and min(_places(view, sheet)) - LABEL_APART / 2 >= free_from


def pressure_lane(view: StripView, sheet: Sheet, base: float, *, on_barrel: bool) -> list[str]:
    """A stem at every sensor, true to scale; its window as a band; the machine's limit as a dashed rule.

    on_barrel: `base` is the barrel's upper edge and figures stand above the stems; else it is a lane of its
    own with the figures below.
    """
    keys = pressure_keys(view)
    if not keys:
        return []
    full = _full_scale(view, keys)
    limit = view.line.limits.melt_pressure_bar
    xs = _places(view, sheet)
    parts: list[str] = []
    if not on_barrel:
        parts += [
            stroke([(sheet.left, base), (sheet.right, base)], "axis"),
            words(sheet.left - 10, base - 12, say("strip.pressure"), "soft small", "end"),
            words(sheet.left - 10, base + 3, shown_unit("bar"), "soft small", "end"),
        ]
    if limit and limit <= full:
        y = base - ROOM * limit / full
        start = max(sheet.left, min(xs) - (60 if on_barrel else 190))
        if on_barrel:
            # A vent's figure stands as high: the rule begins behind it.
            start = max([start, *(sheet.x(place) + VENT_PX for place in view.machine.vents.values())])
        parts.append(stroke([(start, y), (sheet.right, y)], "limit"))
        shown = figure(limit, "melt_pressure")
        # Beside the rule is no room for it on a tablet; there it stands on its end.
        at = (sheet.width, y - 6, "end") if sheet.narrow else (sheet.right + 4, y + 4.5, "start")
        parts.append(words(at[0], at[1], say("strip.limit", limit=shown), "soft small", at[2]))
    labels = spread(xs, LABEL_APART, sheet.left + 20, sheet.width - 34)
    profile = [
        (x, base - ROOM * (view.readings[key] / full)) for x, key in zip(xs, keys, strict=True) if key in view.readings
    ]
    if len(profile) > 1:
        parts.append(stroke(profile, "profile"))
    crowded = any(b - a < _figure_px(full) + 8 for a, b in itertools.pairwise(labels))
    for key, x, label_x in zip(keys, xs, labels, strict=True):
        parts.append(_stem(view, key, x, label_x, base, full, on_barrel, crowded=crowded))
    return parts


def _places(view: StripView, sheet: Sheet) -> list[float]:
    machine = view.machine
    return [sheet.x(machine.place(key) or 0) for key in pressure_keys(view)]


def _edge(view: StripView, key: str) -> float | None:
    """The highest the recipe lets it be, bar, where that lies under the machine's limit; it is met first."""
    window, limit = view.windows.get(key), view.line.limits.melt_pressure_bar
    edge = None if window is None else window.high_outer if window.high_outer is not None else window.high
    return edge if edge is not None and (limit is None or edge < limit) else None


def _full_scale(view: StripView, keys: list[str]) -> float:
    """Top of the scale.

    Twice the largest target or reading, or the machine's limit if that is not far above.
    """
    highest = [view.readings[key] for key in keys if key in view.readings]
    for key in keys:
        if key in view.windows:
            window = view.windows[key]
            highest += [v for v in (window.high_outer, window.high, window.target) if v is not None]
    usual = max(highest or [100.0]) * 1.25
    limit = view.line.limits.melt_pressure_bar
    return limit * 1.02 if limit and limit < usual * 2.2 else max(usual, 1.0)


def _figure_px(full: float) -> float:
    """Pixels of the widest figure of a scale with its unit, as it is drawn outside its window."""
    return text_px(with_unit(figure(full, "melt_pressure"), shown_unit("bar")), 16, strong=True)


def _stem(
    view: StripView, key: str, x: float, label_x: float, base: float, full: float, on_barrel: bool, *, crowded: bool
) -> str:
    """One gauge. crowded: figures with units would run into each other; the unit then stands behind the name."""
    value, window, look = view.readings.get(key), view.windows.get(key), view.look(key)
    parts = []
    edge = _edge(view, key)
    if edge is not None and edge <= full:
        y = base - ROOM * edge / full
        parts.append(stroke([(x - 12, y), (x + 12, y)], "edge"))
        parts.append(words(x + 14, y + 4, figure(edge, "melt_pressure"), "soft tiny halo"))
    if window is not None:
        low, high = inner_limits(window)
        y_high = base - ROOM * min(1.0, (high if high is not None else full) / full)
        y_low = base - ROOM * min(1.0, (low or 0.0) / full)
        parts.append(box(x - 8, y_high, 16, y_low - y_high, "band"))
    if value is not None:
        y = base - ROOM * max(0.0, min(1.05, value / full))
        parts.append(stroke([(x, base), (x, y)], f"stem {look}"))
        if sign_of(view.place(key)):
            parts.append(mark(x, y, look, 15))
        else:
            parts += [tag("circle", cx=float(x), cy=float(y), r=4.5, class_="bead"), mark(x, y, look, 13)]
    _, subject = split_key(key)
    shown, name, unit = figure(value, key), cut(subject, 8), shown_unit("bar")
    if on_barrel:
        shown, name = (shown, f"{name}, {unit}") if crowded else (with_unit(shown, unit), name)
    figure_y, name_y = (base - ROOM - 14, base - ROOM - 34) if on_barrel else (base + 20, base + 36)
    parts.append(words(label_x, figure_y, shown, f"{'ink-number' if on_barrel else 'number'} {look}", "middle"))
    parts.append(words(label_x, name_y, name, "soft small" if on_barrel else "ink small strong", "middle"))
    top = base - ROOM - 50 if on_barrel else base - ROOM
    return touchable(key, view.label(key), (label_x - 29, top, 58, ROOM + 48), *parts, on=view.touched == key)
