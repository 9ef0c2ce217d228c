"""Lower lane of the barrel strip.

One corridor from throat to die, the window, and the profile that walks through it.
"""

from __future__ import annotations

from dashboards.figures.marks import CLIP, mark
from dashboards.figures.strip_view import Sheet, StripView
from dashboards.figures.svg import box, stroke, tag, touchable, words
from dashboards.names import cut, figure
from dashboards.texts import say
from dashboards.windows import position, sign_of
from ingest.roles import channel_key

STEP = 17.0
"""Pixels from target to inner limit."""

ROOMY = 78.0
"""Width of a zone, pixels, from which its rows carry their own words."""

HEIGHT = 2 * CLIP * STEP


def corridor_lane(view: StripView, sheet: Sheet, top: float) -> list[str]:
    """Temperatures as positions.

    The corridor's middle is the target, its edges the inner limits of every zone.
    """
    middle = top + HEIGHT / 2
    machine = view.machine
    right = sheet.right
    parts = [
        box(sheet.left, middle - 2 * STEP, right - sheet.left, 4 * STEP, "band-outer"),
        *_edges(view, sheet, middle),
    ]
    if (sheet.right - sheet.left) / max(len(machine.zones), 1) < ROOMY:
        base = top + HEIGHT
        parts.append(words(sheet.left - 10, base + 40, say("strip.row_set"), "soft small", "end"))
        parts.append(words(sheet.left - 10, base + 56, say("strip.row_output"), "soft small", "end"))
    profile: list[list[tuple[float, float]]] = [[]]
    stations: list[str] = []
    for zone in machine.zones:
        key = channel_key("zone_temperature", zone.name)
        if key not in view.line.channels:
            continue
        x, offset = sheet.x(zone.middle), view.offset(key)
        if offset is None:
            profile.append([])
        else:
            profile[-1].append((x, middle - _clip(offset) * STEP))
        stations.append(_station(view, zone.name, x, sheet.x(zone.x1) - sheet.x(zone.x0), top, middle))
    parts += [stroke(run, "profile") for run in profile if len(run) > 1]
    melt = next((s.at for s in view.line.sensor if s.role == "melt_temperature"), None)
    if melt is not None:
        x = (sheet.right + sheet.width) / 2
        parts.append(box(x - 10, middle - 2 * STEP, 20, 4 * STEP, "band-outer"))
        if view.windows:
            parts.append(box(x - 10, middle - STEP, 20, 2 * STEP, "band"))
        stations.append(_melt(view, melt, x, sheet.width - sheet.right, top, middle))
    return parts + stations


def _edges(view: StripView, sheet: Sheet, middle: float) -> list[str]:
    """Target and limits of the corridor, named at its left; where nothing has a window, that."""
    if not view.windows:
        return [words(sheet.left - 10, middle + 4, say("strip.no_windows"), "soft small no-windows", "end")]
    return [
        box(sheet.left, middle - STEP, sheet.right - sheet.left, 2 * STEP, "band"),
        stroke([(sheet.left, middle), (sheet.right, middle)], "target"),
        words(sheet.left - 10, middle - STEP + 1, say("strip.high"), "soft small", "end"),
        words(sheet.left - 10, middle + 4, say("strip.target"), "soft small", "end"),
        words(sheet.left - 10, middle + STEP + 9, say("strip.low"), "soft small", "end"),
    ]


def _clip(offset: float) -> float:
    return max(-CLIP, min(CLIP, offset))


def _bead(view: StripView, key: str, x: float, middle: float) -> list[str]:
    offset, look = view.offset(key), view.look(key)
    if offset is None:
        return []
    y = middle - _clip(offset) * STEP
    sign = sign_of(view.place(key))
    if not sign:
        return [tag("circle", cx=float(x), cy=float(y), r=5.5, class_="bead"), mark(x, y, look, 15)]
    edge = middle - sign * STEP
    return [stroke([(x, edge), (x, y)], f"lead {look}"), mark(x, y, look, 17)]


def _station(view: StripView, zone: str, x: float, width: float, top: float, middle: float) -> str:
    key = channel_key("zone_temperature", zone)
    look = view.look(key)
    base = top + HEIGHT
    wanted, window = view.value("zone_setpoint", zone), view.windows.get(key)
    parts = []
    if wanted is not None and window is not None and abs(float(position(wanted, window))) > 0.05:
        y = middle - _clip(float(position(wanted, window))) * STEP
        parts.append(stroke([(x - 12, y), (x + 12, y)], "setpoint"))
    parts += _bead(view, key, x, middle)
    parts.append(words(x, base + 24, figure(view.value("zone_temperature", zone), key), f"number {look}", "middle"))
    target = wanted if wanted is not None else window.target if window else None
    if target is not None:
        shown = figure(target, key)
        text = shown if width < ROOMY else say("strip.set", wanted=shown)
        parts.append(words(x, base + 40, text, "soft small", "middle"))
    output = view.value("zone_output", zone)
    if output is not None:
        parts.append(words(x, base + 56, _output_text(output, width < ROOMY), "soft small", "middle"))
    parts.append(words(x, base + 74, short_name(zone, width), "ink small strong", "middle"))
    return touchable(
        key, view.label(key), (x - width / 2 + 1, top, width - 2, HEIGHT + 80), *parts, on=view.touched == key
    )


def short_name(zone: str, width: float) -> str:
    """The zone's name, cut where it would meet its neighbour's; where room is least without the dots, which take it."""
    return cut(zone, int(width / 9.8)) if width >= ROOMY else zone[: max(3, int((width - 8) / 9.8))]


def _output_text(output: float, short: bool) -> str:
    """Heat or cool in words, or with its sign where the gutter says what the row is."""
    if short:
        return figure(round(output), "zone_output").removesuffix(".0") if output < 0 else f"+{output:.0f}"
    side = "strip.heat" if output >= 0.5 else "strip.cool" if output <= -0.5 else "strip.no_output"
    return say(side, percent=f"{abs(output):.0f}")


def _melt(view: StripView, sensor: str, x: float, width: float, top: float, middle: float) -> str:
    key = channel_key("melt_temperature", sensor)
    base = top + HEIGHT
    parts = [
        *_bead(view, key, x, middle),
        words(
            x,
            base + 24,
            figure(view.value("melt_temperature", sensor), key),
            f"number {view.look(key)}",
            "middle",
        ),
        words(x, base + 74, say("strip.melt"), "ink small strong", "middle"),
    ]
    window = view.windows.get(key)
    if window is not None and window.target is not None:
        parts.append(words(x, base + 40, say("strip.want", wanted=figure(window.target, key)), "soft small", "middle"))
    return touchable(
        key, view.label(key), (x - width / 2 + 3, top, width - 6, HEIGHT + 80), *parts, on=view.touched == key
    )
