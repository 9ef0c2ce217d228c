"""Upper lane of the barrel strip: hoppers, what flows from them, and where it enters."""

from __future__ import annotations

from dashboards.figures.marks import beside, window_rule
from dashboards.figures.strip_view import Sheet, StripView
from dashboards.figures.svg import box, shape, spread, stroke, tag, touchable, words
from dashboards.machine import subject_title
from dashboards.names import cut, figure, rate, unit_known, with_unit
from dashboards.texts import say
from dashboards.windows import sign_of
from ingest.roles import channel_key
from monitor.line import Feeder

TOP = 26
HOPPER_TOP, HOPPER_H, HOPPER_W = 84, 40, 54
LONE_HOPPER_H = 72.0
OUTLET = HOPPER_TOP + HOPPER_H
THICKEST, THINNEST = 15.0, 1.5


def feeders_lane(view: StripView, sheet: Sheet, barrel_top: float) -> list[str]:
    """Every feeder above its port.

    The stream's width is its rate, the pale stream behind it the rate wanted.
    """
    if has_lone_hopper(view):
        return [lone_hopper(view, sheet, barrel_top)]
    machine = view.machine
    feeders = sorted(view.line.feeder, key=lambda f: machine.feeders[f.name])
    ports = [sheet.x(machine.feeders[f.name]) for f in feeders]
    centres, apart = _places(view, sheet)
    most = max([_wanted(view, f) or view.value("feeder_rate", f.name) or 0.0 for f in feeders] or [0.0]) or 1.0
    parts: list[str] = []
    for feeder, port, centre in zip(feeders, ports, centres, strict=True):
        parts.append(_stream(view, feeder, centre, port, barrel_top, most))
    for feeder, centre in zip(feeders, centres, strict=True):
        parts.append(_feeder(view, feeder, centre, apart, sheet.narrow))
    return parts


def has_lone_hopper(view: StripView) -> bool:
    """Whether the line is fed from one hopper over its throat that its file does not list as a feeder."""
    return not view.line.feeder and (view.line.line.kind == "single-screw" or view.logged("hopper_level"))


def lone_hopper(view: StripView, sheet: Sheet, barrel_top: float) -> str:
    """That hopper, with its level if it is logged."""
    x = sheet.x(view.machine.zones[0].middle) if view.machine.zones else sheet.left + 40
    top, w, neck = barrel_top - 62, 74.0, 20.0
    level = max(0.0, min(1.0, (view.value("hopper_level") or 0.0) / 100))
    parts = []
    if level:
        y, half = barrel_top - 62 * level, (neck + (w - neck) * level) / 2
        parts.append(
            shape(
                [(x - half, y), (x + half, y), (x + neck / 2, barrel_top), (x - neck / 2, barrel_top)],
                "content",
            )
        )
    outline = [(x - w / 2, top), (x + w / 2, top), (x + neck / 2, barrel_top), (x - neck / 2, barrel_top)]
    parts.append(shape(outline, f"vessel {view.look('hopper_level') if view.logged('hopper_level') else 'calm'}"))
    if not view.logged("hopper_level"):
        return "".join(parts)
    text = with_unit(figure(view.value("hopper_level"), "hopper_level"), "%")
    parts.append(words(x + w / 2 + 8, top + 14, text, f"ink-number {view.look('hopper_level')}"))
    hit = (x - w / 2 - 4, top - 4, w + 66, 64.0)
    return touchable("hopper_level", view.label("hopper_level"), hit, *parts, on=view.touched == "hopper_level")


def free_from(view: StripView, sheet: Sheet) -> float:
    """Pixel right of which nothing stands above the barrel: neither feeder nor vent."""
    centres, apart = _places(view, sheet)
    vents = [sheet.x(place) + 46 for place in view.machine.vents.values()]
    hopper = sheet.left + 150 if has_lone_hopper(view) else sheet.left
    return max([*(centre + apart / 2 for centre in centres), *vents, hopper])


def _places(view: StripView, sheet: Sheet) -> tuple[list[float], float]:
    """Centres of the hoppers in machine order, and the room each has."""
    machine = view.machine
    ports = sorted(sheet.x(machine.feeders[f.name]) for f in view.line.feeder)
    apart = min(92 if sheet.narrow else 116, (sheet.width - 8) / max(len(ports), 1))
    return spread(ports, apart, apart / 2 + 2, sheet.width - apart / 2 - 2), apart


def _wanted(view: StripView, feeder: Feeder) -> float | None:
    """Set-point of the feeder, else the target of its window."""
    setpoint = view.value("feeder_setpoint", feeder.name)
    window = view.windows.get(channel_key("feeder_rate", feeder.name))
    return setpoint if setpoint is not None else window.target if window else None


def _stream(view: StripView, feeder: Feeder, centre: float, port: float, barrel_top: float, most: float) -> str:
    key = channel_key("feeder_rate", feeder.name)
    actual, wanted = view.value("feeder_rate", feeder.name), _wanted(view, feeder)
    end = barrel_top - (18 if feeder.side else 4)
    middle = (OUTLET + end) / 2
    bend = f"{centre:.1f} {middle + 6:.1f} {port:.1f} {middle - 6:.1f}"
    path = f"M{centre:.1f} {OUTLET:.1f}C{bend} {port:.1f} {end:.1f}"
    parts = []
    if wanted or actual is None:
        width = _thick(wanted, most) + 3 if wanted else 2.0
        parts.append(tag("path", d=path, class_="stream wanted", stroke_width=width))
    if actual is not None and actual > 0:
        parts.append(tag("path", d=path, class_=f"stream {view.look(key)}", stroke_width=_thick(actual, most)))
    if feeder.side:
        parts.append(box(port - 16, barrel_top - 18, 32, 18, "metal casing-line"))
        for i in range(4):
            parts.append(stroke([(port - 12 + i * 7, barrel_top - 3), (port - 8 + i * 7, barrel_top - 15)], "flight"))
    else:
        throat = [
            (port - 17, barrel_top - 9),
            (port + 17, barrel_top - 9),
            (port + 10, barrel_top),
            (port - 10, barrel_top),
        ]
        parts.append(shape(throat, "throat"))
    return "".join(parts)


def _thick(rate_kg_h: float, most: float) -> float:
    return THINNEST + (THICKEST - THINNEST) * max(0.0, min(1.2, rate_kg_h / most))


def _feeder(view: StripView, feeder: Feeder, centre: float, apart: float, narrow: bool) -> str:
    key = channel_key("feeder_rate", feeder.name)
    look = view.look(key)
    actual, wanted = view.value("feeder_rate", feeder.name), _wanted(view, feeder)
    sign = sign_of(view.place(key))
    shown, known = figure(actual, key, view.line), unit_known(view.line, key)
    lines = [
        words(centre, TOP - 8, cut(subject_title(view.line, key), 12 if narrow else 15), "soft small", "middle"),
        words(centre, TOP + 16, shown, f"number {look}", "middle"),
        words(
            centre,
            TOP + 33,
            "" if not known else say("strip.of", wanted=rate(wanted)) if wanted else say("strip.kg_h"),
            "soft small",
            "middle",
        ),
    ]
    offset = view.offset(key)
    if sign or look == "other":
        lines.append(beside(centre + len(shown) * 6.4 + 8, TOP + 10, look, offset))
    if offset is not None:
        lines.append(window_rule(centre, TOP + 46, 56, offset, look))
    lines.append(_hopper(view, feeder, centre, look))
    hit = (centre - apart / 2 + 2, 2, apart - 4, OUTLET)
    return touchable(key, view.label(key), hit, *lines, on=view.touched == key)


def _hopper(view: StripView, feeder: Feeder, centre: float, look: str) -> str:
    level = _level(view, feeder)
    top, bottom, w = HOPPER_TOP, OUTLET, HOPPER_W
    if feeder.kind == "liquid":
        outline = box(centre - 20, top, 40, HOPPER_H, f"vessel {look}", rx=12)
        fill = (
            box(centre - 18, bottom - 2 - (HOPPER_H - 4) * level, 36, (HOPPER_H - 4) * level, "content", rx=8)
            if level
            else ""
        )
        return fill + outline
    neck = 16.0
    fill = ""
    if level:
        y = bottom - HOPPER_H * level
        half = (neck + (w - neck) * level) / 2
        fill = shape(
            [
                (centre - half, y),
                (centre + half, y),
                (centre + neck / 2, bottom),
                (centre - neck / 2, bottom),
            ],
            "content",
        )
    outline = shape(
        [
            (centre - w / 2, top),
            (centre + w / 2, top),
            (centre + neck / 2, bottom),
            (centre - neck / 2, bottom),
        ],
        f"vessel {look}",
    )
    refill = ""
    if view.value("feeder_refill", feeder.name) == 1:
        refill = words(centre, top + 16, say("strip.refill"), "small ink", "middle")
    return fill + outline + refill + tag("title", say("strip.level", percent=f"{level * 100:.0f}") if level else "")


def _level(view: StripView, feeder: Feeder) -> float:
    """How full the hopper is, 0 to 1; 0 where nothing tells."""
    weight = view.value("feeder_weight", feeder.name)
    if weight is not None and feeder.hopper_kg:
        return max(0.0, min(1.0, weight / feeder.hopper_kg))
    height = view.value("hopper_level")
    return max(0.0, min(1.0, height / 100)) if height is not None and feeder.kind == "hopper" else 0.0
