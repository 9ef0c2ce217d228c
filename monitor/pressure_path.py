"""Where each melt pressure stands in the stream: barrel, ahead of screen and die, after the screen, at the pump.

Two sensors at one place show one physical pressure: they are judged as one, by the higher.
"""

from __future__ import annotations

import numpy as np

from ingest.roles import channel_key
from monitor.contract import Context
from monitor.exact import Floats
from monitor.view import CoarseView, Readings

HEAD = ("before_screen", "pump_suction")
"""Places whose pressure the extruder itself has to build, the nearest to the screws first."""


def place(subject: str, ctx: Context) -> str:
    """What the line file says, else 'barrel' or 'after_screen' by its zone, else ahead of screen and die."""
    position = next(s.position for s in ctx.line.sensor if s.role == "melt_pressure" and s.at == subject)
    if position:
        return position
    if subject not in ctx.line.zone_names:
        return "before_screen"
    kind = ctx.line.zone_named(subject).kind
    return {"feed": "barrel", "barrel": "barrel", "die": "after_screen"}.get(kind, "before_screen")


def groups(ctx: Context, *places: str, known_unit: bool = True) -> dict[str, tuple[str, ...]]:
    """Physical pressures, each by its first sensor, with all sensors that show it. No places: all of them."""
    return ctx.once(("pressures", places, known_unit), lambda: _groups(ctx, places, known_unit))


def _groups(ctx: Context, places: tuple[str, ...], known_unit: bool) -> dict[str, tuple[str, ...]]:
    found: dict[tuple[str, str], list[str]] = {}
    for subject in ctx.subjects_of("melt_pressure"):
        where = place(subject, ctx)
        if places and where not in places:
            continue
        if known_unit and channel_key("melt_pressure", subject) in ctx.line.relative_channels:
            continue
        found.setdefault((where, subject if where in ("barrel", "vent") else ""), []).append(subject)
    return {members[0]: tuple(members) for members in found.values()}


def screen_behind_pump(ctx: Context) -> bool:
    """Whether the melt pump stands ahead of the screen: its two pressures are logged and one after the screen beside
    them, and none between screws and screen."""
    there = {where: bool(groups(ctx, where, known_unit=False)) for where in (*HEAD, "pump_discharge", "after_screen")}
    return not there.pop("before_screen") and all(there.values())


def ahead_of_screen(ctx: Context) -> str:
    """The place of the pressure that the screen is under."""
    return "pump_discharge" if screen_behind_pump(ctx) else "before_screen"


def pressure(view: Readings, members: tuple[str, ...]) -> Floats:
    """The higher of the sensors that show one pressure, bar, [n]."""
    rows = view.rows("melt_pressure", members)
    return np.fmax.reduce(rows, axis=0) if len(rows) else np.full(view.n, np.nan)


def scatter_share(view: CoarseView, subject: str) -> Floats:
    """Scatter of a 10 s mean of a pressure, of its usual level, [n]; nothing where it is not learned yet."""
    usual, scatter = view.expectation(channel_key("melt_pressure", subject))
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(usual > 0, scatter / usual, 0.0)
    return np.where(np.isfinite(share), share, 0.0)


def head_group(ctx: Context) -> tuple[str, ...]:
    """Sensors of the pressure the screws work against; () where none is logged."""
    for where in (*HEAD, "after_screen", "pump_discharge"):
        found = groups(ctx, where, known_unit=False)
        if found:
            return next(iter(found.values()))
    return ()


def pressures(view: Readings, of: dict[str, tuple[str, ...]]) -> Floats:
    """Every physical pressure, bar, [group, n]."""
    return np.array([pressure(view, members) for members in of.values()]).reshape(len(of), view.n)
