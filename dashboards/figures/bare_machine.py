"""The machine as its line file describes it, without a reading: feeders, barrel, vents, zones by name, sensors."""

from __future__ import annotations

import re

from dashboards.figures import strip_barrel, strip_feeders
from dashboards.figures.barrel_strip import LEAST_WIDTH
from dashboards.figures.strip_view import Sheet, StripView
from dashboards.figures.svg import drawing, spread, stroke, words
from dashboards.machine import place_machine
from dashboards.names import cut
from dashboards.shown_units import marked
from dashboards.texts import say
from ingest.roles import ROLES
from monitor.line import Line

_TO_TOUCH = re.compile(
    r' role="button" tabindex="0" aria-label=("[^"]*"|\'[^\']*\') aria-pressed="\w+"| data-key="[^"]*"'
)
_TITLE = re.compile(r"<title>[^<]*</title>")
_RATE = re.compile(r"<text[^>]*>(–|kg/h|lb/h)</text>")


def bare_machine(line: Line, width: float) -> str:
    """SVG text, `width` CSS pixels wide; nothing in it can be touched."""
    # Without tags nothing is drawn that would wait for a reading.
    view = StripView(line.model_copy(update={"sensor": ()}), {}, {}, judged=False)
    width = max(width, LEAST_WIDTH)
    sheet = Sheet(width)
    vents = bool(line.vent)
    top = strip_feeders.OUTLET + (66 if vents else 46) if line.feeder else 78.0
    bottom = top + strip_barrel.bore_height(view, sheet) + 2 * strip_barrel.WALL
    parts = [*strip_feeders.feeders_lane(view, sheet, top), *strip_barrel.barrel_lane(view, sheet, top)]
    parts += _zone_names(view, sheet, bottom + 20)
    sensors = _sensors(line, sheet, bottom)
    if view.machine.diameters:
        text = say("strip.scale", diameters=marked(f"{view.machine.diameters:g}"))
        parts.insert(0, words(sheet.left - 10, top - 6, text, "soft small", "end"))
    svg = drawing(width, bottom + (72 if sensors else 30), say("strip.name", line=line.name), *parts, *sensors)
    return _RATE.sub("", _TITLE.sub("", _TO_TOUCH.sub("", svg))).replace('class="touch"', 'class="still"')


def _zone_names(view: StripView, sheet: Sheet, y: float) -> list[str]:
    zones = view.machine.zones
    room = (sheet.right - sheet.left) / max(1, len(zones))
    most = max(2, int(room / 9))
    return [words(sheet.x(zone.middle), y, cut(zone.name, most), "strong small", "middle") for zone in zones]


def _sensors(line: Line, sheet: Sheet, bottom: float) -> list[str]:
    """Melt sensors under the barrel, each with a stem to its place that leaves the zone's name free."""
    machine = place_machine(line)
    names = list(dict.fromkeys(s.at for s in line.sensor if ROLES[s.role].per == "sensor"))
    names.sort(key=lambda name: machine.sensors[name])
    wanted = [sheet.x(machine.sensors[name]) for name in names]
    places = spread(wanted, 46, sheet.left + 10, sheet.width - 30)
    parts = []
    for name, x, label_x in zip(names, wanted, places, strict=True):
        parts.append(stroke([(x, bottom), (x, bottom + 7)], "profile"))
        parts.append(stroke([(x, bottom + 26), (x, bottom + 30), (label_x, bottom + 42)], "profile"))
        parts.append(words(label_x, bottom + 58, cut(name, 12), "soft small", "middle"))
    return parts
