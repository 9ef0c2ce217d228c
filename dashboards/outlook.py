"""Gathers what lies ahead of a line from its newest readings and its last hours."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dashboards.ahead import (
    Coming,
    Room,
    feeders_short,
    hopper_ahead,
    in_order,
    refills_itself,
    rooms,
    trends_ahead,
)
from dashboards.cells import means
from dashboards.charts import limit_of
from dashboards.clock import HOUR, MINUTE, SECOND
from dashboards.data import JournalData
from dashboards.grid import JUDGED_PHASES
from dashboards.machine import feeds_known, mass_known
from dashboards.refills import refill_level
from dashboards.touched import MELT_DENSITY_KG_M3, RESIDENCE_S, Delay, Fed, touched_span
from dashboards.trend_ahead import Trend, latest_trend
from dashboards.views import LineNow
from ingest.roles import split_key
from monitor.records import Finding

TREND_OVER_NS = 3 * HOUR
TREND_CELL_NS = 5 * MINUTE
NEWEST_CELLS = 10
"""So many means tell a rise that began only now."""
TRENDING = (
    "melt_pressure",
    "torque",
    "motor_current",
    "feeder_drive",
    "melt_temperature",
    "vacuum",
    "gearbox_oil_temperature",
    "throat_temperature",
)
"""Roles whose slow rise ends at a limit."""

AT_LIMIT = 0.995


def outlook(data: JournalData, now: LineNow) -> tuple[list[Coming], list[Room]]:
    """What comes next, the soonest first, and how much faster the line could go.

    Nothing while data are stopped.
    """
    if now.stopped or now.reading_at is None:
        return [], []
    flooded = is_flood_fed(now)
    coming = hopper_ahead(now.line, now.readings, learned_levels(data, now))
    if now.phase in JUDGED_PHASES:
        keys = [key for key in now.line.channels if split_key(key)[0] in TRENDING and key in now.readings]
        limits = {key: limit_of(now.line, key) for key in keys}
        reached = [key for key in keys if _at_limit(now.readings[key], limits[key])]
        short = feeders_short(now.line, now.readings)
        told = {item.key for item in short}
        coming += short + [Coming(key, "at limit", 0.0, limits[key]) for key in reached if key not in told]
        keys = [key for key in keys if key not in told and key not in reached]
        coming += trends_ahead(trends_of(data, now.line.name, keys, now.reading_at), now.windows, limits, now.readings)
    if now.phase not in JUDGED_PHASES:
        return in_order(coming), []
    return in_order(coming), rooms(now.line, now.readings, now.windows, flooded=flooded)


def _at_limit(value: float, limit: float | None) -> bool:
    """What stands at its limit does not come to it any more: it is there."""
    return limit is not None and value >= AT_LIMIT * limit


def learned_levels(data: JournalData, now: LineNow) -> dict[str, float]:
    """The weight at which refills came in the last day, kg, of feeders whose line file names no level."""
    assert now.reading_at is not None
    unnamed = [f for f in now.line.feeder if f.refill_below_kg is None and refills_itself(now.line, f)]
    found = {f.name: refill_level(data, now.line, f, now.reading_at) for f in unnamed}
    return {name: level for name, level in found.items() if level is not None}


def is_flood_fed(now: LineNow) -> bool:
    """Whether speed sets the rate: the recipe's word, else the line's, else what is usual for its kind."""
    said = (now.recipe.recipe.feed if now.recipe else None) or now.line.line.feed
    return said == "flooded" if said else now.line.line.kind == "single-screw"


def trends_of(
    data: JournalData, name: str, keys: list[str], end: int, over: int = TREND_OVER_NS
) -> dict[str, Trend | None]:
    """Trend of each channel over the last hours of steady running, from means of 5 min or longer.

    A rise that began within them is followed from the newest hour alone, or from the newest ten means.
    """
    step = max(TREND_CELL_NS, over // 60 // TREND_CELL_NS * TREND_CELL_NS)
    start = end - over
    steady = [s for s in data.phase_run(name, start, end) if s.name in JUDGED_PHASES]
    if steady:
        start = max(start, steady[-1].start if steady[-1].end - steady[-1].start > HOUR else start)
    cells = means(data.source, name, start, end, keys, step)
    middle = cells.times()
    inside = np.zeros(middle.shape, dtype=bool)
    for segment in steady:
        inside |= (middle >= segment.start) & (middle < segment.end)
    seconds = (middle - middle[-1]) / SECOND if len(middle) else np.empty(0)
    newest_s = max(HOUR, NEWEST_CELLS * step) / SECOND
    return {key: latest_trend(seconds[inside], cells.mean[i][inside], newest_s) for i, key in enumerate(keys)}


def delay_of(data: JournalData, name: str, t0: int, t1: int) -> tuple[Delay, Fed]:
    """How upsets become kilograms in [t0, t1), and the kilograms fed.

    A line without feeder rates, or with those of some feeders only, falls back on its measured rate; without either,
    or where its unit is not known, no kilograms are known; how long they take to the die is then reckoned with the
    recipe's rate.
    """
    line, recipe = data.line(name), data.recipe_at(name, max(t0, t1 - 1))
    assert line is not None
    step = 10 * SECOND if t1 - t0 <= 48 * HOUR else MINUTE
    found = means(data.source, name, t0, t1, ("total_feed", "residence_time"), step, "quantity")
    rate = found.row("total_feed")
    if not mass_known(line):
        rate = np.full(len(rate), np.nan)
    part = not feeds_known(line)
    if mass_known(line) and (part or not np.isfinite(rate).any()) and "line_rate" in line.channels:
        part = False
        rate = means(data.source, name, t0, t1, ("line_rate",), step).row("line_rate")
    # What some feeders give says nothing about how long a kilogram is on its way.
    running = rate[np.isfinite(rate) & (rate > 0) & (not part)]
    residence = found.row("residence_time")
    known = bool(np.isfinite(residence).any())
    density = recipe.recipe.melt_density_kg_m3 if recipe else None
    wanted = recipe.recipe.rate_kg_h if recipe else None
    delay = Delay(
        residence_s=float(np.nanmedian(residence)) if known else RESIDENCE_S,
        downstream_l=line.geometry.downstream_volume_l,
        density_kg_m3=density or MELT_DENSITY_KG_M3,
        rate_kg_h=float(np.median(running)) if len(running) else wanted or 0.0,
        residence_known=known,
        rate_known=len(running) > 0,
    )
    return delay, Fed(found.t0 + found.step * np.arange(len(rate), dtype=np.int64), rate, part=part)


def reaching(data: JournalData, name: str, t0: int, t1: int, delay: Delay) -> Sequence[Finding]:
    """Findings of [t0, t1), and those that ended before it but whose product was still on its way to the die."""
    return data.findings(name, t0 - (touched_span(t0, t0, delay)[1] - t0), t1)
