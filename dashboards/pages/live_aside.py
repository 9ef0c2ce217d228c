"""On the live page: what somebody set aside or took out of service, out of the way but never hidden; and what is gone
but not yet reset."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.alarm_states import OutOfService, SetAside
from dashboards.clock import PlantClock
from dashboards.names import channel_title
from dashboards.parts import shape_of
from dashboards.texts import say
from dashboards.urls import live_url
from dashboards.views import LineNow, Lot, end_of
from monitor.records import Finding

MOST_LATCHED = 6


def aside_line(set_aside: Sequence[SetAside], now: int, clock: PlantClock) -> str:
    """'2 set aside until 14:30, by Ana': how many, until when at the latest, by whom; '' where none is."""
    if not set_aside:
        return ""
    at = clock.since(max(item.until_ns for item in set_aside), now)
    who = ", ".join(dict.fromkeys(item.who for item in set_aside))
    return say("aside.one" if len(set_aside) == 1 else "aside.many", count=str(len(set_aside)), at=at, who=who)


def away_line(now: LineNow, clock: PlantClock) -> str:
    """Both in a sentence each: what is set aside, and what is out of service; '' where neither is."""
    told = (aside_line(now.set_aside, now.now, clock), out_line(now, clock))
    return " ".join(f"{text}." for text in told if text)


def out_line(now: LineNow, clock: PlantClock) -> str:
    """'1 out of service: rate of talc T4, since 14:05, by Ana': how many, which, since when, by whom; '' where none."""
    if not now.out_of_service:
        return ""
    titles = dict.fromkeys(channel_title(now.line, item.finding.last.channel) for item in now.out_of_service)
    return say(
        "out.one" if len(now.out_of_service) == 1 else "out.many",
        count=str(len(now.out_of_service)),
        titles=", ".join(titles),
        at=clock.since(now.out_of_service[0].at_ns, now.now),
        who=", ".join(dict.fromkeys(item.who for item in now.out_of_service)),
    )


def out_block(now: LineNow, clock: PlantClock) -> list[Any]:
    """The line about what is out of service; opened, each with its reason and the way back."""
    if not now.out_of_service:
        return []
    items = [_out_item(now, item, clock) for item in now.out_of_service]
    how = html.P(say("out.how"), className="soft")
    summary = html.Summary(out_line(now, clock))
    return [html.Details([summary, html.Ul(items, className="aside"), how], className="aside-block out-block")]


def _out_item(now: LineNow, item: OutOfService, clock: PlantClock) -> html.Li:
    told = say("out.told", at=clock.since(item.at_ns, now.now), who=item.who, why=item.why)
    return _item(now, item.finding, told, ids.LIVE_IN, "out.back", "out.back_of")


def aside_block(now: LineNow, clock: PlantClock) -> list[Any]:
    """The line about what is set aside; opened, each with its end, its reason and the way back."""
    if not now.set_aside:
        return []
    items = [_aside_item(now, item, clock) for item in now.set_aside]
    how = html.P(say("aside.how"), className="soft")
    summary = html.Summary(aside_line(now.set_aside, now.now, clock))
    return [html.Details([summary, html.Ul(items, className="aside"), how], className="aside-block")]


def _aside_item(now: LineNow, item: SetAside, clock: PlantClock) -> html.Li:
    told = say("aside.told", at=clock.since(item.until_ns, now.now), who=item.who, why=item.why)
    return _item(now, item.finding, told, ids.LIVE_BACK, "aside.back", "aside.back_of")


def _item(now: LineNow, finding: Finding, told: str, button: str, back: str, back_of: str) -> html.Li:
    """What was taken away, who said why, and the button that brings it back."""
    last = finding.last
    gone = "" if finding.open else say("aside.gone")
    named: Any = {"aria-label": say(back_of, summary=last.summary)}
    return html.Li(
        [
            html.Div(
                [
                    dcc.Link(last.summary, href=live_url(now.line.name, channel=last.channel)),
                    html.Span(told + gone, className="soft"),
                ]
            ),
            html.Button(say(back), id={"type": button, "finding": last.finding}, n_clicks=0, **named),
        ]
    )


def latched_block(now: LineNow, clock: PlantClock, lots: Sequence[Lot] = ()) -> list[Any]:
    """Priority 1 that has gone by itself: it stays until somebody has seen and reset it. lots: of the line, by time."""
    if not now.latched:
        return []
    items = [
        _latched_item(now, finding, clock, lots) for finding in sorted(now.latched, key=_newest_first)[:MOST_LATCHED]
    ]
    more = len(now.latched) - MOST_LATCHED
    if more > 0:
        items.append(html.Li(say("latched.more", count=str(more))))
    head = html.H3([*shape_of("other"), say("latched.title")])
    return [html.Div([head, html.P(say("latched.how"), className="soft"), html.Ul(items)], className="latched")]


def latched_line(now: LineNow, clock: PlantClock) -> str:
    """'Gone, but not yet reset: pressure at P1 near its limit, 07:24.' for the newest; '' where none waits."""
    if not now.latched:
        return ""
    newest = min(now.latched, key=_newest_first)
    at = clock.since(end_of(newest, now.now), now.now)
    more = say("latched.more", count=str(len(now.latched) - 1)) if len(now.latched) > 1 else ""
    return say("latched.lines", summary=newest.last.summary, at=at, more=more)


def _newest_first(finding: Finding) -> int:
    return -end_of(finding, finding.last.decided_at)


def _latched_item(now: LineNow, finding: Finding, clock: PlantClock, lots: Sequence[Lot]) -> html.Li:
    last = finding.last
    end = end_of(finding, now.now)
    when = clock.stretch(last.since, end, now.now)
    seen = now.alarms.letters.get(last.finding) == "F"
    lot = next((lot for lot in reversed(lots) if lot.start <= last.since), None)
    where = ""
    if lot is not None and lot.number:
        where = say("latched.lot_now" if lot.number == now.lot else "latched.lot_before", lot=lot.number)
    return html.Li(
        [
            dcc.Link(last.summary, href=live_url(now.line.name, channel=last.channel)),
            html.Span([html.Span(f" {when} ", className="when"), where], className="soft"),
            html.Div(html.B(say("latched.seen" if seen else "latched.unseen"))),
        ]
    )
