"""Middle lane of the barrel strip: drive, barrel in section with its screw, vents, adapter, screen, die."""

from __future__ import annotations

from dashboards.figures.marks import beside, window_rule
from dashboards.figures.strip_view import Sheet, StripView
from dashboards.figures.svg import box, shape, stroke, touchable, words
from dashboards.machine import PlacedZone
from dashboards.names import figure, unit_of, with_unit
from dashboards.texts import say
from ingest.roles import channel_key

WALL = 15.0
UNIT_PX = 9.2
"""A character of a unit behind it."""

WIDEST_FIGURE_PX = 11.4
"""A character of a bold figure in the gutter."""

NARROWEST_BORE, WIDEST_BORE = 22.0, 44.0


def bore_height(view: StripView, sheet: Sheet) -> float:
    """Bore in the same scale as the barrel's length where length over diameter is known."""
    machine = view.machine
    if not machine.diameters:
        return 30.0
    true = (sheet.x(machine.barrel_end) - sheet.x(0)) / machine.diameters
    return max(NARROWEST_BORE, min(WIDEST_BORE, true))


def barrel_lane(view: StripView, sheet: Sheet, top: float) -> list[str]:
    """The machine in section.

    Upper wall filled: heating; lower wall filled: cooling; each in percent of its full.
    """
    bore = bore_height(view, sheet)
    parts = [_drive(view, sheet, top, bore)]
    machine = view.machine
    end = sheet.x(machine.barrel_end)
    middle = top + WALL + bore / 2
    if machine.zones:
        parts.append(box(sheet.left - 10, middle - 2.5, end - sheet.left + 6, 5, "shaft"))
    for zone in machine.zones:
        parts.append(_zone(view, sheet, zone, top, bore))
    for vent, place in machine.vents.items():
        parts.append(_vent(view, vent, sheet.x(place), top))
    parts.append(_exit(view, sheet, middle))
    return parts


def _zone(view: StripView, sheet: Sheet, zone: PlacedZone, top: float, bore: float) -> str:
    key = channel_key("zone_temperature", zone.name)
    x0, x1 = sheet.x(zone.x0) + 0.75, sheet.x(zone.x1) - 0.75
    width, height = x1 - x0, bore + 2 * WALL
    output = view.value("zone_output", zone.name)
    heat, cool = max(output or 0.0, 0.0) / 100, max(-(output or 0.0), 0.0) / 100
    parts = []
    if zone.kind == "die":
        inner = [
            (x0, top + WALL),
            (x1, top + WALL + bore * 0.36),
            (x1, top + WALL + bore * 0.64),
            (x0, top + WALL + bore),
        ]
    elif zone.kind == "adapter":
        inner = [
            (x0, top + WALL),
            (x1, top + WALL + bore * 0.16),
            (x1, top + WALL + bore * 0.84),
            (x0, top + WALL + bore),
        ]
    else:
        inner = [(x0, top + WALL), (x1, top + WALL), (x1, top + WALL + bore), (x0, top + WALL + bore)]
    parts += [box(x0, top, width, height, "metal"), shape(inner, "bore")]
    parts.append(box(x0, top + 1, width * min(heat, 1), WALL - 2, "heat"))
    parts.append(box(x0, top + WALL + bore + 1, width * min(cool, 1), WALL - 2, "cool"))
    parts += _elements(zone, x0, x1, top + WALL, bore)
    parts.append(box(x0, top, width, height, "casing"))
    return touchable(key, view.label(key), (x0, top, width, height), *parts, on=view.touched == key, again=True)


def _elements(zone: PlacedZone, x0: float, x1: float, top: float, bore: float) -> list[str]:
    """Screw elements as one sees them in section: pitch, lean and density tell the kind."""
    bottom, parts = top + bore, []
    if zone.kind == "screen":
        for i in range(5):
            x = (x0 + x1) / 2 - 6 + i * 3
            parts.append(stroke([(x, top + 1), (x, bottom - 1)], "mesh"))
        return parts
    if zone.element == "none" or zone.kind in ("adapter", "die"):
        return parts
    pitch, lean = {
        "conveying": (15.0, 8.0),
        "kneading": (6.0, 0.0),
        "reverse": (8.0, -8.0),
        "mixing": (9.0, 0.0),
        "compression": (13.0, 7.0),
        "metering": (9.0, 5.0),
    }[zone.element]
    x, i = x0 + pitch * 0.6, 0
    while x < x1 - 2:
        a, b = max(x0 + 1, min(x1 - 1, x - lean / 2)), max(x0 + 1, min(x1 - 1, x + lean / 2))
        inset = bore * 0.1
        if zone.element == "kneading":
            inset = bore * (0.08 if i % 2 else 0.26)
            parts.append(box(x - 2, top + inset, 4, bore - 2 * inset, "lobe"))
        elif zone.element == "mixing":
            for share in (0.2, 0.5, 0.8):
                parts.append(box(x - 1.5, top + bore * share - 2.5, 3, 5, "lobe"))
        else:
            parts.append(stroke([(a, bottom - inset), (b, top + inset)], "flight"))
        if zone.element == "compression":
            pitch = max(6.0, pitch * 0.94)
        x, i = x + pitch, i + 1
    return parts


def _vent(view: StripView, vent: str, x: float, top: float) -> str:
    key = channel_key("vacuum", vent)
    chimney = stroke([(x - 9, top), (x - 9, top - 22), (x + 9, top - 22), (x + 9, top)], f"vessel {view.look(key)}")
    if not view.logged("vacuum", vent):
        return chimney + words(x, top - 28, vent, "soft small", "middle")
    look, offset = view.look(key), view.offset(key)
    text = with_unit(figure(view.value("vacuum", vent), key), "mbar")
    parts = [chimney, words(x, top - 40, text, f"ink-number {look}", "middle"), beside(x + 42, top - 45, look, offset)]
    parts.append(window_rule(x, top - 30, 40, offset, look) if offset is not None else "")
    return touchable(key, view.label(key), (x - 38, top - 56, 76, 56), *parts, on=view.touched == key)


def _drive(view: StripView, sheet: Sheet, top: float, bore: float) -> str:
    """Drive and gearbox in the left gutter: speed and torque stand where they are made."""
    height = bore + 2 * WALL
    right = sheet.left - 10
    parts = [box(right - 12, top + WALL - 5, 12, bore + 10, "metal casing")]
    x = right - 18
    for i, (role, unit) in enumerate((("screw_speed", "rpm"), ("torque", "%"))):
        key = channel_key(role)
        if not view.logged(role):
            role, unit = ("motor_current", "A") if role == "torque" else (role, unit)
            key = channel_key(role)
            if not view.logged(role):
                continue
        look = view.look(key)
        y = top + height / 2 + (-22 if i == 0 else 32)
        number = figure(view.value(role), key)
        unit_room = UNIT_PX * len(unit) + 5 if sheet.narrow else 0.0
        text = number if sheet.narrow else with_unit(number, unit)
        line = words(x - unit_room, y, text, f"ink-number {look}", "end")
        if sheet.narrow:
            line += words(x, y, unit, "soft small", "end")
        if role == "torque":
            line += words(x, y - 17, say("strip.torque"), "soft small", "end")
        offset = view.offset(key)
        rule = window_rule(x - 28, y + 8, 48, offset, look) if offset is not None else ""
        sign = beside(x - unit_room - len(text) * WIDEST_FIGURE_PX - 9, y - 5, look, offset)
        # With the word above the figure, where it has one.
        above = 31.0 if role == "torque" else 17.0
        hit = (4.0, y - above, x + 2, 12.0 + above)
        parts.append(touchable(key, view.label(key), hit, line, rule, sign, on=view.touched == key))
    return "".join(parts)


def _exit(view: StripView, sheet: Sheet, middle: float) -> str:
    """What leaves the die."""
    x = sheet.right
    strands = [stroke([(x, middle + d), (x + 20, middle + 2.2 * d)], "strand") for d in (-4.0, 0.0, 4.0)]
    key = "line_rate" if view.logged("line_rate") else "total_feed"
    value = view.readings.get(key)
    if value is None and not view.logged("line_rate") and not view.line.feeder:
        return "".join(strands)
    text = words(x + 26, middle + 5, figure(value, key, view.line), f"ink-number {view.look(key)}", "start")
    unit = words(x + 26, middle + 22, unit_of(view.line, key), "soft small", "start")
    return touchable(
        key,
        view.label(key),
        (x + 2, middle - 18, sheet.width - x - 4, 46),
        *strands,
        text,
        unit,
        on=view.touched == key,
    )
