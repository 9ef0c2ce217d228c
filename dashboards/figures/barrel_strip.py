"""The barrel strip: the machine drawn from throat to die, every reading in its place and in its window."""

from __future__ import annotations

from dashboards.figures import strip_barrel, strip_corridor, strip_feeders, strip_pressure
from dashboards.figures.strip_view import Sheet, StripView
from dashboards.figures.svg import drawing, words
from dashboards.texts import say

WIDTHS = (760, 1384)
"""Widths it is drawn for: a tablet and a desk screen."""


def barrel_strip(view: StripView, width: float) -> str:
    """SVG text of the strip, `width` CSS pixels wide.

    Lanes from above: feeders, barrel in section, the window corridor, pressure along the machine.
    """
    sheet = Sheet(width)
    has_vents = bool(view.machine.vents)
    barrel_top = strip_feeders.OUTLET + (66 if has_vents else 46) if view.line.feeder else 62.0 if has_vents else 8.0
    bore = strip_barrel.bore_height(view, sheet)
    corridor_top = barrel_top + bore + 2 * strip_barrel.WALL + 14
    pressure_top = corridor_top + strip_corridor.HEIGHT + 88
    parts = strip_feeders.feeders_lane(view, sheet, barrel_top)
    parts += strip_barrel.barrel_lane(view, sheet, barrel_top)
    parts += strip_corridor.corridor_lane(view, sheet, corridor_top)
    pressure = strip_pressure.pressure_lane(view, sheet, pressure_top)
    height = pressure_top + (strip_pressure.HEIGHT + 42 if pressure else -4)
    if view.machine.diameters:
        text = say("strip.scale", diameters=f"{view.machine.diameters:g}")
        scale = words(sheet.x(view.machine.barrel_end), barrel_top - 7, text, "soft small", "end")
        parts.insert(0, scale)
    return drawing(width, height, say("strip.name", line=view.line.name), *parts, *pressure)
