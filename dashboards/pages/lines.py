"""Lines: every line at a glance, or how to begin when there is none."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import HOUR, SECOND, duration
from dashboards.data import JournalData
from dashboards.drawing import Drawing
from dashboards.figures.findings_line import ordered
from dashboards.figures.lines_sheet import lines_row
from dashboards.parts import shape_of
from dashboards.texts import say
from dashboards.urls import live_url, lot_url
from dashboards.verdict import verdict_of

PATH = "/"
RECENT_HOURS = 8
SLOWEST_TICK_S = 5


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
        return [line_block(data, name, width) for name in data.line_names()]


def line_block(data: JournalData, name: str, width: int) -> html.Article:
    """One line: its word, the reason, what it makes, and its last hours in one row."""
    now, clock = data.line_now(name), data.clock(name)
    end = now.reading_at if now.reading_at is not None else now.now
    run = data.run(name, end - RECENT_HOURS * HOUR, end, 240)
    verdict = verdict_of(now, clock, run)
    ended = now.finished
    making = " · ".join(
        text
        for text in (
            now.recipe.recipe.product if now.recipe else "",
            say("live.lot", lot=now.lot) if now.lot else "",
            "" if now.stopped else say("live.newest_short", age=duration((now.now - end) / SECOND)),
        )
        if text
    )
    findings = [html.Li(f.last.summary) for f in ordered(now.findings)[:3] if f.last.priority <= 3]
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
                    html.Ul(findings, className="short") if findings and not ended else None,
                    Drawing(
                        svg=lines_row(run, max(400, width - 262)),
                    ),
                ],
                className="what",
            ),
        ],
        className=f"line-block {look}{' log' if ended else ''}",
    )
