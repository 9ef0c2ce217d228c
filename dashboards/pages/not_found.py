"""An address that leads nowhere."""

from __future__ import annotations

from dash import dcc, html

from dashboards.texts import say


def layout(pathname: str) -> html.Div:
    """Says so and points home."""
    return html.Div(
        [
            html.H1(say("not_found.title")),
            html.P(say("not_found.text", path=pathname)),
            dcc.Link(say("not_found.home"), href="/"),
        ],
        className="page",
    )
