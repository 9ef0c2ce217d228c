"""The choice of units and of the manner of writing, in the header of every page; a cookie carries it to the server."""

from __future__ import annotations

from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html
from flask import request

from dashboards import ids
from dashboards.shown_units import CHOICES, Choice, chosen
from dashboards.texts import say

COOKIE = "evenmelt-units"


def read_choice() -> None:
    """Takes the choice of the request being answered from its cookie."""
    chosen.set(Choice.from_text(request.cookies.get(COOKIE)))


def menu() -> html.Details:
    """A list that opens under its word; the browser program ticks what its cookie says."""
    groups = []
    for name, values in CHOICES.items():
        options: Any = [{"label": say(f"units.{name}.{value}"), "value": value} for value in values]
        label = html.Span(say(f"units.{name}"), id=f"units-{name}-label", className="soft")
        control = dcc.RadioItems(id=_id(name), options=options, value=None, inline=True, className="units-choice")
        given: Any = {"aria-labelledby": f"units-{name}-label"}
        groups.append(html.Div([label, html.Div(control, **given)], className="units-row"))
    body = [*groups, html.P(say("units.how"), className="soft")]
    return html.Details([html.Summary(say("units.menu")), html.Div(body, className="units-sheet")], className="units")


def register(app: Dash) -> None:
    """Reading the cookie, and writing it when something is chosen."""
    app.server.before_request(lambda: read_choice())
    names = list(CHOICES)
    app.clientside_callback(
        ClientsideFunction("evenmelt", "units"),
        *(Output(_id(name), "value") for name in names),
        Input(ids.PAGE, "id"),
    )
    app.clientside_callback(
        ClientsideFunction("evenmelt", "units_chosen"),
        Output(ids.UNITS_DONE, "data"),
        *(Input(_id(name), "value") for name in names),
        State(ids.UNITS_DONE, "data"),
        prevent_initial_call=True,
    )


def _id(name: str) -> str:
    return f"units-{name}"
