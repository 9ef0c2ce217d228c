"""What runs out or meets a limit next, and how much faster the line could go."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from dashboards.trend_ahead import FARTHEST_S, Trend, to_limit
from ingest.roles import channel_key
from monitor.line import Feeder, Line
from monitor.recipe import Window

Kind = Literal["refill", "empty", "limit", "leaves window", "short", "at limit"]
"""What is ahead: a hopper at its refill level or empty, a limit or a window's edge met. Here already: a feeder that
cannot hold its rate (short), a limit reached (at limit)."""

LEAVES: Kind = "leaves window"
HERE: tuple[Kind, ...] = ("short", "at limit")

MISSED_SHARE = 0.95
"""A hopper below this part of its refill level has missed its refill."""

PRESSURE_EXPONENT = 0.35
"""Die pressure goes with about rate to this power for many melts; common practice."""


LEFT_SHARE = 0.1
"""Of the limit: what lies no further below its trend may be its scatter; common practice, no source."""

SHORT_SHARE = 0.02
"""Of a feeder's set rate; common practice, no source."""

AT_LIMIT_SHARE = 0.97
LEAST_HEATING_PCT = 30.0
"""A zone that heats less than this is driven by shear and losses, not by the rate; common practice, no source."""


@dataclass(frozen=True)
class Coming:
    """Something ahead.

    in_s: seconds from now; low_s, high_s: 95 % interval of a trend, None where it is plain sums.
    rate, wanted: what a feeder gives and what it is told, kg/h, of one that is short. along: channels that rise with it
    for the same reason.
    """

    key: str
    kind: Kind
    in_s: float
    limit: float | None = None
    low_s: float | None = None
    high_s: float | None = None
    rate: float | None = None
    wanted: float | None = None
    along: tuple[str, ...] = ()


@dataclass(frozen=True)
class Room:
    """How much of its limit a quantity uses.

    factor: by how much the rate could rise before this stops the line.
    """

    key: str
    value: float
    limit: float
    factor: float


def refills_itself(line: Line, feeder: Feeder) -> bool:
    """Whether its own controller calls for material: weighed on load cells, or its refill is logged."""
    return feeder.kind == "loss-in-weight" or channel_key("feeder_refill", feeder.name) in line.channels


def hopper_ahead(line: Line, readings: Mapping[str, float], levels: Mapping[str, float]) -> list[Coming]:
    """Time to the refill level or to empty of every hopper with a weight, at the rate it gives now.

    A hopper that is refilled by its own controller is only said when it has fallen under its refill level and
    nothing answers. levels: of feeders whose line file names no refill level, the lowest weight at which a refill
    came lately, kg.
    """
    found = []
    for feeder in line.feeder:
        key = channel_key("feeder_weight", feeder.name)
        weight, rate = readings.get(key), readings.get(channel_key("feeder_rate", feeder.name))
        if weight is None or not rate or rate <= 0:
            continue
        if readings.get(channel_key("feeder_refill", feeder.name)) == 1:
            continue
        level = feeder.refill_below_kg
        if level is None and refills_itself(line, feeder):
            level = levels.get(feeder.name)
        if level is not None and weight > MISSED_SHARE * level:
            if not refills_itself(line, feeder):
                found.append(Coming(key, "refill", max(0.0, weight - level) / rate * 3600, level))
            continue
        found.append(Coming(key, "empty", max(weight, 0.0) / rate * 3600))
    return found


def feeders_short(line: Line, readings: Mapping[str, float]) -> list[Coming]:
    """Feeders whose drive stands at its limit and that give less than they are told: they cannot hold their rate."""
    found = []
    for feeder in line.feeder:
        key, rate_key = channel_key("feeder_drive", feeder.name), channel_key("feeder_rate", feeder.name)
        drive, rate = readings.get(key), readings.get(rate_key)
        wanted = readings.get(channel_key("feeder_setpoint", feeder.name))
        if drive is None or rate is None or not wanted or rate_key in line.relative_channels:
            continue
        limit = feeder.drive_limit_pct
        if drive >= AT_LIMIT_SHARE * limit and rate < (1 - SHORT_SHARE) * wanted:
            found.append(Coming(key, "short", 0.0, limit, rate=rate, wanted=wanted))
    return found


def trends_ahead(
    trends: Mapping[str, Trend | None],
    windows: Mapping[str, Window],
    limits: Mapping[str, float | None],
    readings: Mapping[str, float],
) -> list[Coming]:
    """Rising channels that meet the next limit above them: inner, outer, then the machine's.

    A reading that has fallen away from its trend, further than it is from the limit, is not on its way there any more;
    one that is above its trend goes on from where it is, and a limit it has passed is not ahead. Pressures that meet
    theirs in overlapping times rise for one reason, a path that closes behind them: they are said once, the soonest.
    """
    found = []
    for key, line in trends.items():
        if line is None:
            continue
        window, machine = windows.get(key), limits.get(key)
        steps: list[tuple[float, Kind]] = []
        if window is not None:
            steps.extend((v, LEAVES) for v in (window.high, window.high_outer) if v is not None)
        if machine is not None:
            steps.append((machine, "limit"))
        for limit, kind in sorted(steps):
            reading = readings.get(key, line.value)
            when = to_limit(replace(line, value=max(line.value, reading)), limit)
            fell = line.value - reading
            if when is not None and fell <= max(limit - line.value, LEFT_SHARE * abs(limit)):
                found.append(Coming(key, kind, when[0], limit, when[1], when[2]))
                break
    return _said_once(found)


def _said_once(found: list[Coming]) -> list[Coming]:
    """Pressures that rise together as one, the soonest, which names the others."""
    pressures = sorted((c for c in found if c.key.startswith("melt_pressure")), key=lambda c: c.in_s)
    if len(pressures) < 2:
        return found
    first = pressures[0]
    latest = first.high_s if first.high_s is not None else np.inf
    along = [c for c in pressures[1:] if c.low_s is not None and c.low_s <= latest]
    told = replace(first, along=tuple(c.key for c in along))
    return [told if c is first else c for c in found if c not in along]


def rooms(line: Line, readings: Mapping[str, float], windows: Mapping[str, Window], *, flooded: bool) -> list[Room]:
    """What would stop a faster line first, the tightest first.

    Starve-fed, at the same screw speed: net torque rises with rate, die pressure with its 0.35th power, feeder drives
    and heating outputs with rate. Flood-fed, where speed sets the rate: speed rises with rate, die pressure with its
    0.35th power, torque hardly. Assumptions for a look, not for a set-point.
    """
    found = _speed_room(line, readings) if flooded else _feed_rooms(line, readings)
    found += _zone_rooms(line, readings, flooded=flooded)
    for sensor in line.sensor:
        value = readings.get(sensor.key)
        if sensor.role != "melt_pressure" or sensor.key in line.relative_channels or not value or value <= 0:
            continue
        limits = [v for v in (line.limits.melt_pressure_bar, _highest(windows.get(sensor.key))) if v is not None]
        if limits:
            limit = min(limits)
            found.append(Room(sensor.key, value, limit, (limit / value) ** (1 / PRESSURE_EXPONENT)))
    return sorted(found, key=lambda room: room.factor)


def _speed_room(line: Line, readings: Mapping[str, float]) -> list[Room]:
    speed = readings.get("screw_speed")
    limit = line.limits.screw_speed_rpm or line.drive.rated_speed_rpm
    return [Room("screw_speed", speed, limit, limit / speed)] if speed and limit else []


def _feed_rooms(line: Line, readings: Mapping[str, float]) -> list[Room]:
    found = []
    torque, idle = readings.get("torque"), line.drive.no_load_torque_pct
    limit = line.drive.torque_limit_pct * 0.95
    if torque and torque > idle + 1:
        found.append(Room("torque", torque, limit, (limit - idle) / (torque - idle)))
    for feeder in line.feeder:
        key = channel_key("feeder_drive", feeder.name)
        value = readings.get(key)
        if value and value > 0:
            found.append(Room(key, value, feeder.drive_limit_pct, feeder.drive_limit_pct / value))
    return found


def _zone_rooms(line: Line, readings: Mapping[str, float], *, flooded: bool) -> list[Room]:
    """Heating and cooling outputs near their limit.

    Starve-fed, at the same screw speed, a zone that heats has to bring more material to temperature: its output grows
    at most with rate. Where speed sets the rate, shear grows with it and the heat called for falls: only what stands
    at its limit already is said. Full cooling is at its limit either way.
    """
    found = []
    for zone in line.zone:
        key = channel_key("zone_output", zone.name)
        value = readings.get(key)
        if value is None:
            continue
        used = value / zone.output_limit_pct if value > 0 else -value / 100
        if used >= AT_LIMIT_SHARE:
            found.append(Room(key, abs(value), zone.output_limit_pct if value > 0 else 100.0, 1.0))
        elif value >= LEAST_HEATING_PCT and not flooded:
            found.append(Room(key, value, zone.output_limit_pct, zone.output_limit_pct / value))
    return found


def _highest(window: Window | None) -> float | None:
    if window is None:
        return None
    return window.high_outer if window.high_outer is not None else window.high


def in_order(coming: Sequence[Coming]) -> list[Coming]:
    """The soonest first; nothing beyond a day."""
    return sorted((item for item in coming if item.in_s <= FARTHEST_S), key=lambda item: item.in_s)
