"""What the live page is put together from."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from typing import Any

from dash import dcc, html

from dashboards.ahead import Room
from dashboards.back_inside import back_words
from dashboards.charts import channels_of
from dashboards.clock import HOUR, MINUTE, PlantClock
from dashboards.consequences import cause_of, with_consequences
from dashboards.data import JournalData
from dashboards.figures.findings_line import ordered
from dashboards.legends import shapes_legend
from dashboards.machine import machine_order
from dashboards.names import QUANTITY_UNITS, channel_title, figure, unit_of, with_unit
from dashboards.outlook import is_flood_fed
from dashboards.pages.live_aside import aside_block, latched_block, out_block
from dashboards.parts import channel_links, finding_block, shape_of
from dashboards.returns import with_returns
from dashboards.said_when import present_of
from dashboards.texts import say
from dashboards.urls import live_url
from dashboards.verdict import Verdict
from dashboards.views import LineNow, end_of, stands
from monitor.journal.actions import Action
from monitor.records import Finding

QUANTITIES = tuple(QUANTITY_UNITS)
OPEN_BLOCKS = 2
MOST_FINDINGS = 12
LATELY_HOURS = 8
MOST_ENDED = 6


def facts(now: LineNow, clock: PlantClock) -> list[Any]:
    """Line, phase, product, lot and rate, in one line of text."""
    words = [
        html.Strong(say(f"phase.{now.phase}")),
        " " + say("live.since", at=clock.since(now.phase_since, now.now)),
    ]
    parts: list[Any] = [html.Span(words)]
    if now.stopped and not now.finished:
        parts = [html.Span(say("live.was", phase=say(f"phase.{now.phase}")))]
    recipe = now.recipe.recipe if now.recipe else None
    if recipe is not None and recipe.product:
        parts.append(html.Span(recipe.product))
    if recipe is not None and recipe.name != recipe.product:
        parts.append(html.Span(say("live.recipe", recipe=recipe.name)))
    if now.lot:
        parts.append(html.Span(say("live.lot", lot=now.lot)))
    text = rate_words(now)
    if text:
        parts.append(html.Span(text, className="live-only"))
    if now.line.line.title:
        parts.insert(0, html.Span(now.line.line.title))
    return [html.H1(now.line.name), html.Div(parts, className="what")]


def rate_words(now: LineNow) -> str:
    """'118 of 120 kg/h', 'at least 98 kg/h' where not every feeder is read, '' where no rate is known."""
    rate, wanted = now.rate_kg_h, now.recipe.recipe.rate_kg_h if now.recipe else None
    if rate is None:
        least = now.least_rate_kg_h
        return "" if least is None else say("live.rate_least", rate=figure(least, "line_rate"))
    if wanted:
        return say("live.rate_of", rate=figure(rate, "line_rate"), wanted=figure(wanted, "line_rate"))
    return say("live.rate", rate=figure(rate, "line_rate"))


def verdict_words(verdict: Verdict, more: str = "") -> list[Any]:
    """The big word, its shape, the reason, and what it means for the product."""
    return [
        html.Strong([*shape_of(verdict.look), say(f"verdict.{verdict.word}")]),
        html.P([verdict.reason, html.Br() if more else "", more]),
    ]


def signature(now: LineNow, actions: Sequence[Action], key: str) -> str:
    """Changes when the list of findings would read differently."""
    told = [
        f"{f.last.finding}{f.last.decided_at}{f.last.kind}{f.revisions}{now.back.get(f.last.finding)}"
        for f in now.findings
    ]
    told += [f"{item.finding.last.finding}{item.until_ns}{item.finding.last.kind}" for item in now.set_aside]
    told += [f"{item.finding.last.finding}{item.at_ns}{item.finding.last.kind}" for item in now.out_of_service]
    told += [f"{f.last.finding}{now.alarms.letters.get(f.last.finding)}" for f in now.latched]
    text = "|".join([*told, str(len(actions)), key, str(now.now // MINUTE), str(now.stopped)])
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def findings_list(data: JournalData, now: LineNow, clock: PlantClock, key: str) -> list[Any]:
    """Open findings, the most pressing first, consequences under their cause."""
    name = now.line.name
    parts: list[Any] = []
    if now.stopped and now.findings and not now.finished:
        parts.append(html.P(say("live.findings_old"), className="quiet"))
    pairs = sorted(
        with_consequences(ordered(now.findings)),
        key=lambda pair: (pair[0].last.priority > 1, pair[0].last.finding in now.back),
    )
    actions, present = data.actions(name), present_of(now)
    for i, (finding, folded) in enumerate(pairs[:MOST_FINDINGS]):
        chosen = key in channels_of(finding) or any(key in channels_of(part) for part in folded)
        parts.append(
            finding_block(
                now.line,
                finding,
                now.now,
                clock,
                live_url(name, channel=finding.last.channel),
                parts=folded,
                cause=cause_of(finding, now.findings),
                open_=i < OPEN_BLOCKS or chosen,
                said=said_about(actions, finding, now.now, clock),
                present=present,
                back=back_words(now.line, finding, now.back.get(finding.last.finding), now.now, clock, now.windows),
            )
        )
    if len(pairs) > MOST_FINDINGS:
        parts.append(html.P(say("findings.more", count=str(len(pairs) - MOST_FINDINGS)), className="quiet"))
    if not pairs:
        key = "live.none_then" if now.stopped else "live.no_findings"
        if not now.stopped and (now.latched or now.set_aside or now.out_of_service):
            key = "live.none_else"
        parts.append(html.P(say(key), className="quiet"))
    latched = latched_block(now, clock, data.lots(name) if now.latched else ())
    # What goes on now comes before what has gone by itself and waits to be seen.
    both = (parts, latched) if pairs else (latched, parts)
    # Below them: what is wrong must stand in the first screen.
    marks = [shapes_legend()] if pairs or now.latched else []
    return [
        *both[0],
        *both[1],
        *marks,
        *aside_block(now, clock),
        *out_block(now, clock),
        *ended_lately(data, now, clock),
    ]


def ended_lately(data: JournalData, now: LineNow, clock: PlantClock) -> list[Any]:
    """What came and went since the shift before, one line each, the newest first."""
    end = now.reading_at if now.reading_at is not None else now.now
    ended = [f for f in data.findings(now.line.name, end - LATELY_HOURS * HOUR, end) if not stands(f, end)]
    ended = [f for f in ended if f.last.priority <= 3 and not f.last.part_of]
    if not ended:
        return []
    newest = sorted(with_returns((f, ()) for f in ended), key=lambda one: -max(end_of(f, end) for f in one.times))[
        :MOST_ENDED
    ]
    items = []
    for shown in newest:
        f, times = shown.finding, shown.times
        when = clock.stretch(times[0].last.since, max(end_of(one, end) for one in times), end) + " "
        link = dcc.Link(f.last.summary, href=live_url(now.line.name, channel=f.last.channel))
        often = say("live.lately_times", count=str(len(times))) if len(times) > 1 else ""
        items.append(html.Li([html.Span(when, className="when"), link, often]))
    return [
        html.H3(say("live.lately", hours=str(LATELY_HOURS)), className="lately"),
        html.Ul(items, className="lately"),
    ]


def said_about(actions: Sequence[Action], finding: Finding, now: int, clock: PlantClock) -> tuple[str, ...]:
    """What people did about a finding, in words."""
    return tuple(
        say(f"action.{a.kind}", who=a.who, at=clock.since(a.at_ns, now), until=clock.since(a.until_ns or now, now))
        + (f" {a.text}" if a.text else "")
        for a in actions
        if a.finding == finding.last.finding
    )


def room_sentence(now: LineNow, rooms: list[Room]) -> str:
    """How much faster, and what stops it first."""
    if not rooms:
        return ""
    first = rooms[0]
    title, unit = channel_title(now.line, first.key), unit_of(now.line, first.key)
    limit = with_unit(figure(first.limit, first.key, now.line), unit)
    rate = now.rate_kg_h
    at = with_unit(figure(first.value, first.key, now.line), unit)
    if first.factor <= 1.0:
        return say("room.none", title=title, value=at, limit=limit)
    faster = say("room.to", rate=figure(rate * first.factor, "line_rate")) if rate else ""
    return say(
        "room.flooded" if is_flood_fed(now) else "room.starved",
        percent=f"{(first.factor - 1) * 100:.0f}",
        to=faster,
        title=title,
        value=at,
        limit=limit,
    )


def all_channels(now: LineNow, key: str, href: Callable[[str], str]) -> html.Div:
    """Every channel and derived quantity to choose from, in machine order."""
    derived = [k for k in now.readings if k not in now.line.channels]
    return channel_links(now.line, machine_order(now.line, list(now.line.channels)) + sorted(derived), key, href)


def unknown_line(data: JournalData, name: str) -> html.Div:
    """A page for a line that the journal does not know."""
    known = [html.Li(dcc.Link(other, href=live_url(other))) for other in data.line_names()]
    return html.Div(
        [html.H1(say("unknown.line", line=name)), html.P(say("unknown.lines")), html.Ul(known)],
        className="page",
    )
