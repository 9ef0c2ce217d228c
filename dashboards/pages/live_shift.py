"""On the live page: why the line stopped, what changed since the shift, and what stops a faster line first."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards.ahead import PRESSURE_EXPONENT, Room, feeders_short
from dashboards.clock import DAY, PlantClock
from dashboards.data import JournalData
from dashboards.figures.ahead_rule import subject_of
from dashboards.names import channel_title, figure, number, unit_of, with_unit
from dashboards.parts import caution, shape_of
from dashboards.shift_changes import Change, changes_since_shift
from dashboards.texts import say
from dashboards.urls import live_url
from dashboards.verdict import Verdict, pressing
from dashboards.views import LineNow
from dashboards.why_stopped import BEFORE_NS, standing_since, stop_finding
from monitor.records import Finding

MOST_CHANGES = 8
MOST_ROOMS = 5
OVER_LIMIT = 1.005
"""What is less above its limit is shown by the same figure."""
MOST_CAUSES = 3
KINDS = ("opened", "closed", "repaired", "made", "set")


def standing_finding(data: JournalData, now: LineNow) -> Finding | None:
    """The finding of the stop the line stands in; None while it runs, or where nothing was found or is live."""
    if now.stopped and not now.finished:
        return None
    end = now.reading_at + 1 if now.reading_at is not None else now.now
    since = standing_since(data.phase_run(now.line.name, end - 2 * DAY, end))
    if since is None:
        return None
    return stop_finding(since, data.findings(now.line.name, since - BEFORE_NS, end))


def stopped_block(data: JournalData, now: LineNow, clock: PlantClock) -> list[Any]:
    """What the monitor found of the stop the line stands in, with its likely causes."""
    found = standing_finding(data, now)
    if found is None:
        return []
    last = found.last
    causes = [
        html.Li([cause.text, html.Span(": " + "; ".join(cause.speaks_for), className="soft")])
        if cause.speaks_for
        else html.Li(cause.text)
        for cause in last.causes[:MOST_CAUSES]
    ]
    told = say("stopped.told", at=clock.since(last.since, now.now), summary=last.summary)
    parts: list[Any] = [html.H2([*shape_of("other"), say("stopped.title")]), html.P(told)]
    if causes:
        parts += [html.P(html.B(say("finding.causes")), className="causes"), html.Ol(causes, className="causes")]
    if last.checks:
        parts.append(html.P([html.B(say("finding.first") + " "), "; ".join(last.checks)]))
    return [html.Article([*parts, caution(last.caution)] if last.caution else parts, className="why-stopped")]


def shift_block(data: JournalData, now: LineNow, clock: PlantClock) -> list[Any]:
    """What is different from how the shift began, by kind, the newest first."""
    if now.reading_at is None:
        return []
    start, changes = changes_since_shift(data, now)
    title = html.H2(say("shift.title", at=clock.since(start, now.now)), className="over")
    if not changes:
        return [title, html.P(say("shift.none"), className="quiet")]
    groups = []
    for kind in KINDS:
        some = sorted((c for c in changes if c.kind == kind), key=lambda c: -c.at)
        if some:
            groups.append(html.Div([html.H3(say(f"shift.kind.{kind}")), _listed(now, some, clock)]))
    return [title, html.Div(groups, className="shift-groups")]


def _listed(now: LineNow, changes: list[Change], clock: PlantClock) -> html.Ul:
    items: list[Any] = []
    for change in changes[:MOST_CHANGES]:
        text: Any = change.text
        if change.key:
            text = dcc.Link(change.text, href=live_url(now.line.name, channel=change.key))
        items.append(html.Li([html.Span(clock.since(change.at, now.now) + " ", className="when"), text]))
    if len(changes) > MOST_CHANGES:
        items.append(html.Li(say("shift.more", count=str(len(changes) - MOST_CHANGES))))
    return html.Ul(items, className="lately")


def no_room(now: LineNow, verdict: Verdict) -> str:
    """Why no speed is offered whatever the limits would let; '' where nothing stands against it.

    Something to act on now, a feeder that cannot hold today's rate, a reading outside its window.
    """
    if verdict.word == "act":
        return say("room.act", summary=next(f.last.summary for f in pressing(now)))
    short = next(iter(feeders_short(now.line, now.readings)), None)
    if short is not None and short.rate is not None and short.wanted is not None:
        rate, wanted = (figure(kg_h, "line_rate") for kg_h in (short.rate, short.wanted))
        return say("room.short", title=subject_of(now.line, short), rate=rate, wanted=wanted)
    return say("room.outside", title=channel_title(now.line, verdict.key)) if verdict.word == "outside" else ""


def room_list(now: LineNow, rooms: list[Room]) -> list[Any]:
    """What stops a faster line, the tightest first, each with what it uses of its limit and the room that leaves."""
    if len(rooms) < 2:
        return []
    items: list[Any] = []
    for room in rooms[:MOST_ROOMS]:
        unit = unit_of(now.line, room.key)
        value = figure(room.value, room.key, now.line)
        limit = with_unit(figure(room.limit, room.key, now.line), unit)
        percent = min((room.factor - 1) * 100, 100)
        left = say("room.left_over" if percent >= 100 else "room.left", percent=f"{max(percent, 0):.0f}")
        if room.factor <= 1:
            left = say("room.over_limit" if room.value > OVER_LIMIT * room.limit else "room.at_limit")
        link = dcc.Link(channel_title(now.line, room.key), href=live_url(now.line.name, channel=room.key))
        items.append(html.Li([link, " ", say("room.uses", value=value, limit=limit), " ", html.B(left)]))
    how = say("room.how", power=number(PRESSURE_EXPONENT, 2))
    idle = now.line.drive.no_load_torque_pct
    if idle and any(room.key == "torque" for room in rooms[:MOST_ROOMS]):
        how += say("room.no_load", idle=f"{idle:g}")
    return [html.Ol(items, className="rooms"), html.P(how, className="soft")]
