"""The first page of an empty journal: to the invented plant, or to one's own log, in one click each."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.pages.import_begin import Refused, start
from dashboards.texts import say
from dashboards.workshop.job import demo_job
from dashboards.workshop.places import Places

TICK_MS = 1000


def layout() -> html.Div:
    """Two ways on."""
    demo = [
        html.Button(say("begin.demo"), id=ids.BEGIN_DEMO, n_clicks=0, className="way"),
        html.P(say("begin.demo_how")),
        html.Div(id=ids.BEGIN_SAID, role="status"),
    ]
    own = [
        dcc.Link(say("begin.own"), href="/import", className="way"),
        html.P(say("begin.own_how")),
    ]
    return html.Div(
        [
            dcc.Interval(id=ids.BEGIN_TICK, interval=TICK_MS, disabled=True),
            dcc.Location(id=ids.BEGIN_GO, refresh=True),
            html.H1(say("first.title")),
            html.P(say("begin.text"), className="reason"),
            html.Div([html.Div(demo), html.Div(own)], className="two begin"),
            html.P([say("first.command_line") + " ", html.Code(say("first.command"))], className="soft"),
        ],
        className="page first-run",
    )


def register(app: Dash, places: Places | None) -> None:
    """Callbacks of the page."""
    if places is None:
        return

    @app.callback(
        Output(ids.BEGIN_SAID, "children"),
        Output(ids.BEGIN_TICK, "disabled"),
        Output(ids.BEGIN_DEMO, "disabled"),
        Output(ids.BEGIN_GO, "href"),
        Input(ids.BEGIN_DEMO, "n_clicks"),
        Input(ids.BEGIN_TICK, "n_intervals"),
        prevent_initial_call=True,
    )
    def demo(clicks: int, _ticks: int | None) -> tuple[Any, bool, bool, Any]:
        if not clicks:
            raise PreventUpdate
        try:
            job = demo_job(places.work)
            if not _ticks or job.status().step != "demo":
                start(places.work, job, "demo")
        except Refused as refusal:
            return html.P(str(refusal)), True, False, no_update
        except OSError as error:
            return html.P(say("import.not_writable", why=(error.strerror or "").lower())), True, False, no_update
        status = job.status()
        if status.state == "working" and status.said:
            ready = html.P([say("begin.ready"), html.A(status.said, href=status.said)])
            return ready, True, False, status.said
        if status.state == "working":
            return html.P(say("begin.working")), False, True, no_update
        return html.P(say("begin.failed")), True, False, no_update
