"""On the upkeep page: which readings of the live lines are outside their windows now, whatever was found of them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from dash import dcc, html

from dashboards.clock import HOUR
from dashboards.data import JournalData
from dashboards.grid import JUDGED_PHASES
from dashboards.names import channel_title, figures_apart, unit_of, with_unit
from dashboards.texts import say
from dashboards.urls import live_url
from dashboards.verdict import outside_now, outside_since
from dashboards.windows import inner_limits

BACK_HOURS = 4
MOST = 8


def outside_block(data: JournalData, names: Iterable[str]) -> list[Any]:
    """Each live line with a reading outside: which, by how much and since when, and the way to its live page."""
    blocks = [block for name in names if (block := _of_line(data, name)) is not None]
    return [html.Div(blocks, className="outside-now")] if blocks else []


def _of_line(data: JournalData, name: str) -> html.Div | None:
    now, clock = data.line_now(name), data.clock(name)
    if now.stopped or now.reading_at is None or now.phase not in JUDGED_PHASES:
        return None
    out = outside_now(now)
    if not out:
        return None
    grid = data.run(name, now.reading_at - BACK_HOURS * HOUR, now.reading_at, 480).grid
    items = []
    for key, offset in out[:MOST]:
        low, high = inner_limits(now.windows[key])
        side = 1 if offset > 0 else -1
        value, limit = figures_apart(now.readings[key], high if side > 0 else low, key, now.line)
        unit = unit_of(now.line, key)
        text = say(
            f"upkeep.out.{'over' if side > 0 else 'under'}", value=with_unit(value, unit), limit=with_unit(limit, unit)
        )
        since = outside_since(grid, key, side)
        dated = say("upkeep.out.since", at=clock.since(since, now.now)) if since is not None else say("upkeep.out.just")
        items.append(html.Li([dcc.Link(channel_title(now.line, key), href=live_url(name, channel=key)), text, dated]))
    if len(out) > MOST:
        items.append(html.Li(say("upkeep.out.more", count=str(len(out) - MOST))))
    head = [html.B(say("upkeep.out.title", line=name)), " ", dcc.Link(say("upkeep.out.live"), href=live_url(name))]
    return html.Div([html.P(head), html.Ul(items)])
