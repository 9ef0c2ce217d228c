"""The barrel strip: the machine drawn from throat to die, every reading in its place and in its window."""

from __future__ import annotations

from dashboards.figures import strip_barrel, strip_corridor, strip_feeders, strip_pressure
from dashboards.figures.strip_view import Sheet, StripView
from dashboards.figures.svg import drawing, words
from dashboards.shown_units import marked
from dashboards.texts import say

LEAST_WIDTH = 700.0
"""Narrower, names and figures would run into each other; a phone scrolls."""

WIDTHS = (760, 1384)
"""Widths it is drawn for: a tablet and a desk screen."""


def barrel_strip(view: StripView, width: float) -> str:
    """SVG text of the strip, `width` CSS pixels wide.

    Lanes from above: feeders, barrel in section, the window corridor, pressure along the machine.
    """
    sheet = Sheet(max(width, LEAST_WIDTH))
    width = sheet.width
    free = strip_feeders.free_from(view, sheet)
    on_barrel = strip_pressure.stands_on_barrel(view, sheet, free)
    barrel_top = _barrel_top(view, on_barrel)
    bore = strip_barrel.bore_height(view, sheet)
    corridor_top = barrel_top + bore + 2 * strip_barrel.WALL + 14
    barrel = strip_barrel.barrel_lane(view, sheet, barrel_top)
    parts = [*strip_feeders.feeders_lane(view, sheet, barrel_top), *barrel]
    parts += strip_corridor.corridor_lane(view, sheet, corridor_top)
    end = corridor_top + strip_corridor.HEIGHT + 84
    base = barrel_top if on_barrel else end + strip_pressure.ROOM + 10
    pressure = strip_pressure.pressure_lane(view, sheet, base, on_barrel=on_barrel)
    height = base + 42 if pressure and not on_barrel else end
    if view.machine.diameters:
        text = say("strip.scale", diameters=marked(f"{view.machine.diameters:g}"))
        parts.insert(0, words(sheet.left - 10, barrel_top - 15, text, "soft small", "end"))
    name = say("strip.name", line=view.line.name)
    return drawing(width, height, name, *parts, *pressure, data_worst=view.worst or None)


def _barrel_top(view: StripView, on_barrel: bool) -> float:
    """Room above the barrel: for hoppers and streams, a lone hopper, vents, gauges, or nothing."""
    vents = bool(view.machine.vents)
    if view.line.feeder:
        return strip_feeders.OUTLET + (66 if vents else 46)
    hopper = strip_feeders.LONE_HOPPER_H if strip_feeders.has_lone_hopper(view) else 0
    gauges = strip_pressure.ROOM + 54 if on_barrel else 0
    return max(hopper, gauges, 62 if vents else 0, 12)
