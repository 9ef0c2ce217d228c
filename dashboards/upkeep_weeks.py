"""A part over weeks: duty at one set-point, feed factor and spread, the pressure ahead of the screen, day by day."""

from __future__ import annotations

import numpy as np

from dashboards.cells import Means, means
from dashboards.clock import DAY, MINUTE
from dashboards.daily import as_steps, at_setpoint, daily
from dashboards.data import JournalData
from dashboards.key_figures import feed_factor, spread_pct
from dashboards.names import channel_title, figure, unit_inside, unit_known, unit_of, with_unit
from dashboards.run_summaries import melt_channel
from dashboards.shown_units import shown_unit
from dashboards.texts import say
from dashboards.upkeep_due import wear_signs
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_items import steady_cells
from dashboards.upkeep_panels import Panel, Panels, repairs_of
from ingest.roles import channel_key
from monitor.line import Line

WEEKS_NS = 56 * DAY
CELL_NS = 10 * MINUTE
Shown = tuple[str, str, str, np.ndarray]
WEAR_SHOWN = {"output per turn": "specific_throughput", "specific energy": "sme"}
"""The quantity behind a sign of wear; the third, melt temperature, is a reading."""
FEWEST_DAYS = 3
"""With fewer days there is nothing to see that the chart of the fortnight does not show."""


def weeks_of(data: JournalData, item: UpkeepItem) -> Panels | None:
    """Daily medians in steady running; None where there are too few days."""
    line = data.line(item.line)
    assert line is not None
    first, end = data.span(item.line)
    start = max(first, end - WEEKS_NS)
    if end - start < FEWEST_DAYS * DAY:
        return None
    roles = {
        "zone": ("zone_output", "zone_setpoint"),
        "couple": ("zone_output", "zone_setpoint"),
        "cooling": ("zone_output", "zone_setpoint"),
        "feeder": ("feeder_rate", "feeder_drive"),
    }.get(item.kind, ())
    keys = [channel_key(role, item.subject) for role in roles] or [item.key]
    cells = means(data.source, item.line, start, end, [key for key in keys if key in line.channels], CELL_NS)
    steady = steady_cells(data, item.line, cells)
    clock = data.clock(item.line)
    found = []
    worn = _worn(data, line, item, cells) if item.kind == "drive" else []
    for title, unit, fixed, y in [*_series(line, item, cells), *worn]:
        days = daily(cells.times(), np.where(steady, y, np.nan), clock)
        if len(days) >= FEWEST_DAYS:
            t, middle, low, high = as_steps(days)
            found.append(Panel(title, unit, t, middle, low, high, fixed=fixed))
    if not found:
        return None
    return Panels(line, start, end, tuple(found), repairs_of(data, item, start, end), steady)


def _worn(data: JournalData, line: Line, item: UpkeepItem, cells: Means) -> list[Shown]:
    """What tells of the wear that its runs show."""
    found: list[Shown] = []
    t0, t1 = cells.t0, cells.t0 + cells.step * len(cells.times())
    for sign in wear_signs(data, line, item.end):
        key = WEAR_SHOWN.get(sign) or melt_channel(line)
        made = sign in WEAR_SHOWN
        row = means(data.source, line.name, t0, t1, [key], cells.step, "quantity" if made else "reading").row(key)
        fixed = "" if key in line.relative_channels else unit_inside(key)
        found.append((say("upkeep.daily", name=channel_title(line, key)), unit_of(line, key), fixed, row))
    return found


def _series(line: Line, item: UpkeepItem, cells: Means) -> list[Shown]:
    """(title, shown unit, fixed unit, cells) of each figure."""
    if item.kind in ("zone", "couple", "cooling") and channel_key("zone_output", item.subject) in cells.keys:
        output, wanted = (channel_key(role, item.subject) for role in ("zone_output", "zone_setpoint"))
        asked = cells.row(wanted)
        known = asked[np.isfinite(asked)]
        now = float(known[-1]) if len(known) else None
        name = channel_title(line, output)
        title = say("upkeep.daily", name=name)
        if now is not None:
            at = with_unit(figure(now, wanted, line), shown_unit("C"))
            title = say("upkeep.daily_at", name=name, at=at)
        return [(title, "%", "%", at_setpoint(cells.row(output), asked, now))]
    if item.kind == "feeder":
        rate, drive = (channel_key(role, item.subject) for role in ("feeder_rate", "feeder_drive"))
        found = []
        if drive in cells.keys and rate in cells.keys:
            factor = feed_factor(cells.row(rate), cells.row(drive))
            known = unit_known(line, rate)
            unit = f"{shown_unit('kg/h')}/%" if known else ""
            found.append((say("upkeep.daily_factor"), unit, "kg/h" if known else "", factor))
        if rate in cells.keys:
            found.append((say("upkeep.daily_spread"), "%", "%", spread_pct(cells, rate)))
        return found
    fixed = "" if item.key in line.relative_channels else unit_inside(item.key)
    name = channel_title(line, item.key)
    return [(say("upkeep.daily", name=name), unit_of(line, item.key), fixed, cells.row(item.key))]
