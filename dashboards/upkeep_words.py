"""What is said about a zone, a feeder, a pressure and the drive on the upkeep page."""

from __future__ import annotations

from dashboards.clock import PlantClock
from dashboards.names import channel_title, difference, figure, number, unit_of, with_unit
from dashboards.sensor_checks import SensorCheck
from dashboards.shown_units import marked, shown_difference, shown_unit
from dashboards.texts import say
from dashboards.trend_ahead import Trend
from dashboards.upkeep_item import Usual
from ingest.roles import split_key
from monitor.line import Line, Zone


def zone_words(
    zone: Zone,
    output: float | None,
    usual: Usual | None,
    off_c: float | None,
    temperature_c: float | None,
) -> str:
    """Duty against its own history, and how far the temperature is off.

    The temperature alone where no output is logged.
    """
    parts = []
    if output is None and temperature_c is not None:
        parts.append(with_unit(figure(temperature_c, "zone_temperature"), shown_unit("C")))
    if output is not None:
        parts.append(say("upkeep.heats" if output >= 0 else "upkeep.cools", percent=f"{abs(output):.0f}"))
    if usual is not None:
        parts.append(_usually(usual))
    if off_c is not None and abs(off_c) >= 0.5:
        parts.append(say("upkeep.off_set", off=_off(off_c, "C")))
    if zone.output_limit_pct < 100 and output is not None and output > 0.8 * zone.output_limit_pct:
        parts.append(say("upkeep.of_limit", limit=f"{zone.output_limit_pct:.0f}"))
    return ", ".join(parts) or say("upkeep.nothing")


def feeder_words(
    off_pct: float | None,
    drive: float | None,
    limit: float,
    usual: Usual | None,
    factor: Usual | None,
) -> str:
    """Rate against set, drive against its limit, and the feed factor against its history."""
    parts = []
    if off_pct is not None:
        near = abs(off_pct) < 0.5
        parts.append(say("upkeep.on_rate") if near else say("upkeep.off_rate", percent=_signed(off_pct, 1)))
    if drive is not None:
        parts.append(say("upkeep.drive", drive=f"{drive:.0f}", limit=f"{limit:.0f}"))
    if usual is not None and abs(usual.shift) > 1.5:
        parts.append(_usually(usual))
    if factor is not None and factor.middle > 0 and abs(factor.now / factor.middle - 1) > 0.03:
        parts.append(say("upkeep.factor", percent=_signed(100 * (factor.now / factor.middle - 1))))
    return ", ".join(parts) or say("upkeep.nothing")


def pressure_words(now: float | None, limit: float | None, trend: Trend | None, relative: bool) -> str:
    """Where it stands, and where it is going."""
    if now is None:
        return say("upkeep.nothing")
    value = figure(now, "melt_pressure") if not relative else f"{now:.3g}"
    parts = [with_unit(value, "" if relative else shown_unit("bar"))]
    if limit and not relative:
        parts.append(say("upkeep.machine_limit", limit=figure(limit, "melt_pressure")))
    if trend is not None and (trend.slope_low > 0 or trend.slope_high < 0):
        per_hour = trend.slope * 3600
        shown = abs(per_hour if relative else shown_difference(per_hour, "bar"))
        parts.append(say("upkeep.rises" if per_hour > 0 else "upkeep.falls", rate=marked(f"{shown:.2g}")))
    elif trend is not None:
        parts.append(say("upkeep.level"))
    return ", ".join(parts)


def plain_words(line: Line, readings: list[tuple[str, float | None]]) -> str:
    """What its channels read, where no more is known of a part."""
    known = [(key, value) for key, value in readings if value is not None]
    parts = [f"{channel_title(line, key)} {with_unit(figure(value, key, line), unit_of(line, key))}"
             for key, value in known]  # fmt: skip
    return ", ".join(parts) or say("upkeep.nothing")


def drive_words(line: Line, key: str, now: float | None, limit: float | None, usual: Usual | None) -> str:
    """Load now, usual load, limit."""
    if now is None:
        return say("upkeep.nothing")
    parts = [f"{channel_title(line, key)} {with_unit(figure(now, key, line), unit_of(line, key))}"]
    if usual is not None:
        parts.append(_usually(usual))
    if limit:
        parts.append(say("upkeep.of_limit", limit=f"{limit:.0f}"))
    return ", ".join(parts)


def check_words(check: SensorCheck, clock: PlantClock) -> str:
    """What a free sensor check shows."""
    role, _ = split_key(check.key)
    at = clock.day_minute(check.at)
    if role == "zone_temperature":
        return say("upkeep.check_couple", off=_off(check.off, "C"), at=at)
    return say("upkeep.check_zero", off=_off(check.off, "bar"), at=at)


def _usually(usual: Usual) -> str:
    low, high = _signed(usual.low), _signed(usual.high)
    return say("upkeep.usually_one", value=low) if low == high else say("upkeep.usually", low=low, high=high)


def _off(value: float, unit: str) -> str:
    """A difference in the reader's unit; only a minus is written."""
    return difference(value, unit, 1).removeprefix("+")


def _signed(value: float, digits: int = 0) -> str:
    return number(value, digits)
