"""Lines: every line at a glance, or how to begin when there is none."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from weakref import WeakKeyDictionary

from dash import Dash, Input, Output, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.ahead import Coming
from dashboards.clock import HOUR, SECOND, PlantClock, duration
from dashboards.consequences import with_consequences
from dashboards.data import FINISHED, JournalData
from dashboards.drawing import Drawing
from dashboards.figures.ahead_rule import first_sentence
from dashboards.figures.findings_line import ordered
from dashboards.figures.lines_sheet import lines_row
from dashboards.figures.time_axis import PHONE
from dashboards.names import priority_word
from dashboards.outlook import outlook
from dashboards.pages.live_aside import away_line, latched_line
from dashboards.pages.live_parts import rate_words
from dashboards.pages.live_shift import standing_finding
from dashboards.parts import shape_of
from dashboards.texts import say
from dashboards.urls import live_url, lot_url
from dashboards.verdict import verdict_of
from dashboards.views import LineNow

PATH = "/"
RECENT_HOURS = 8
SLOWEST_TICK_S = 5
MOST_FINDINGS = 3
NEXT_KEPT_NS = 30 * SECOND
NAME_PX, WIDE_NAME_PX, WIDE_PX = 262, 362, 1200
"""Room that page.css gives the name beside the drawing: more where words are large, a little before it begins there."""

_kept: WeakKeyDictionary[JournalData, dict[str, tuple[int, Coming | None]]] = WeakKeyDictionary()


def layout(data: JournalData, refresh_s: float = 1.0) -> html.Div:
    """All lines, or the first-run hint."""
    if not data.line_names():
        return html.Div(
            [
                html.H1(say("first.title")),
                html.P(say("first.text")),
                html.Pre(say("first.command")),
                html.P(say("first.then")),
            ],
            className="page first-run",
        )
    return html.Div(
        [
            dcc.Interval(id=ids.LINES_TICK, interval=int(max(refresh_s, SLOWEST_TICK_S) * 1000)),
            html.H1(say("lines.title")),
            html.Div(id=ids.LINES_BODY),
        ],
        className="page lines",
    )


def register(app: Dash, data: JournalData) -> None:
    """Callbacks of the page."""

    @app.callback(
        Output(ids.LINES_BODY, "children"),
        Input(ids.LINES_TICK, "n_intervals"),
        Input(ids.WIDTH, "data"),
        running=[(Output(ids.LINES_TICK, "disabled"), True, False)],
    )
    def tick(_n: int | None, width: int) -> list[Any]:
        if not width:
            raise PreventUpdate
        names = sorted(data.line_names(), key=lambda name: (data.source.source(name) == FINISHED, name))
        return [line_block(data, name, width) for name in names]


def line_block(data: JournalData, name: str, width: int) -> html.Article:
    """One line: its word, the reason, what it makes, and its last hours in one row."""
    now, clock = data.line_now(name), data.clock(name)
    end = now.reading_at if now.reading_at is not None else now.now
    run = data.run(name, end - RECENT_HOURS * HOUR, end, 240)
    verdict = verdict_of(now, clock, run)
    ended = now.finished
    making = " · ".join(text for text in (*_makes(now, clock), _age(now, end)) if text)
    pressing = [f for f, _ in with_consequences(ordered(now.findings)) if f.last.priority <= 3]
    pressing.sort(key=lambda f: f.last.priority)
    findings = [
        html.Li([html.Span(priority_word(f.last.priority), className=f"priority p{f.last.priority}"), f.last.summary])
        for f in pressing[:MOST_FINDINGS]
    ]
    stop = standing_finding(data, now)
    aside = " ".join(text for text in (latched_line(now, clock), away_line(now, clock)) if text)
    ahead = "" if now.stopped else next_limit(data, now, clock)
    look = verdict.look
    return html.Article(
        [
            html.Div(
                [
                    html.H2(dcc.Link(name, href=lot_url(name, now.lot) if ended else live_url(name))),
                    html.P(now.line.line.title, className="soft") if now.line.line.title else None,
                    html.P([*shape_of(look), say(f"verdict.{verdict.word}")], className=f"word {look}"),
                ],
                className="name",
            ),
            html.Div(
                [
                    html.P(verdict.reason, className="reason"),
                    html.P(making, className="soft"),
                    html.P(html.B(stop.last.summary)) if stop is not None else None,
                    html.P(ahead, className="next") if ahead else None,
                    html.Ul(findings, className="short") if findings and not ended else None,
                    html.P(found_in_all(data, name), className="next") if ended else None,
                    html.P(aside, className="soft") if aside else None,
                    Drawing(
                        svg=lines_row(run, row_width(width)),
                    ),
                ],
                className="what",
            ),
        ],
        className=f"line-block {look}{' log' if ended else ''}",
    )


def found_in_all(data: JournalData, name: str) -> str:
    """How many findings a finished log has, and the most pressing of them."""
    found = [f for f, _ in with_consequences(data.findings(name)) if f.last.priority <= 3]
    if not found:
        notes = len(with_consequences(data.findings(name)))
        return say("lines.found_notes", count=str(notes)) if notes else say("lines.found_none")
    worst = min(found, key=lambda f: (f.last.priority, f.last.since)).last
    word = priority_word(worst.priority)
    return say("lines.found", count=str(len(found)), worst=word, summary=worst.summary)


def row_width(width: int) -> int:
    """Room for the row: beside the name, on a telephone below it."""
    if width < PHONE:
        return width
    return max(400, width - (WIDE_NAME_PX if width >= WIDE_PX else NAME_PX))


def _makes(now: LineNow, clock: PlantClock) -> tuple[str, ...]:
    """Phase and since when, product, lot, rate; what is not known is ''."""
    live = not now.stopped
    phase = say(f"phase.{now.phase}")
    return (
        f"{phase} {say('live.since', at=clock.since(now.phase_since, now.now))}" if live else "",
        now.recipe.recipe.product if now.recipe else "",
        say("live.lot", lot=now.lot) if now.lot else "",
        rate_words(now) if live else "",
    )


def _age(now: LineNow, end: int) -> str:
    return "" if now.stopped else say("live.newest_short", age=duration((now.now - end) / SECOND))


def next_limit(data: JournalData, now: LineNow, clock: PlantClock) -> str:
    """What runs out or meets a limit next, in one sentence; '' where nothing does. Looked up twice a minute."""
    kept = _kept.setdefault(data, {})
    at, coming = kept.get(now.line.name, (-NEXT_KEPT_NS, None))
    if not 0 <= now.now - at < NEXT_KEPT_NS:
        coming = next(iter(outlook(data, now)[0]), None)
        kept[now.line.name] = (at := now.now, coming)
    if coming is None:
        return ""
    left = replace(coming, in_s=max(0.0, coming.in_s - (now.now - at) / SECOND))
    return first_sentence(now.line, left, now.now, clock)
