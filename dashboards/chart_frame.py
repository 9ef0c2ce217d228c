"""A chart with what belongs to every chart: keys and buttons to move through it, a read-out, and its files.

`assets/chart.js` does the moving and the files; what it must know of a chart is the `meta` of the figure's layout.
"""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards.legends import chart_legend
from dashboards.texts import say

MOVES = ("left", "right", "in", "out", "whole")
FILES = ("csv", "png", "svg")
SIGNS = {"left": "◂", "right": "▸", "in": "+", "out": "−"}


def graph_config() -> Any:
    """How plotly shows a chart, with names of months and halves of the day in the reader's language."""
    words = {
        "shortMonths": [say(f"month.{n}") for n in range(1, 13)],
        "periods": [say("clock.am"), say("clock.pm")],
    }
    return {
        "displaylogo": False,
        "displayModeBar": False,
        "responsive": True,
        "doubleClick": "autosize",
        "showTips": False,
        "locale": "plant",
        "locales": {"plant": {"format": words}},
    }


def chart_frame(id_: str, figure: Any = None, *, class_name: str = "") -> html.Div:
    """The chart `id_` in its frame; empty without a figure."""
    graph: Any = {"figure": figure if figure is not None else in_its_place(say("chart.loading"))}
    hold: Any = {"aria-label": say("chart.about"), "aria-describedby": f"{id_}-keys"}
    said: Any = {"role": "status"}
    told: Any = {
        "data-read": say("chart.read"),
        "data-unread": say("chart.unread"),
        "data-months": ",".join(say(f"month.{n}") for n in range(1, 13)),
        "data-half": f"{say('clock.am')},{say('clock.pm')}",
    }
    return html.Div(
        [
            html.Div(
                dcc.Graph(id=id_, config=graph_config(), className=class_name, **graph),
                id=f"{id_}-hold",
                className="chart-hold",
                tabIndex=0,
                role="group",
                **hold,
            ),
            chart_legend(),
            html.Div(
                [
                    html.Span(
                        [_button(what, SIGNS.get(what) or say("chart.do_whole"), say(f"chart.to_{what}"))
                         for what in MOVES], className="moves"
                    ),
                    html.Span([_button(kind, kind.upper(), say(f"chart.{kind}")) for kind in FILES]),
                ],
                className="chart-tools",
            ),
            html.P(say("chart.keys"), id=f"{id_}-keys", className="chart-keys"),
            html.P(className="chart-said soft", **said),
        ],
        className="chart-frame",
        **told,
    )  # fmt: skip


def in_its_place(text: str) -> dict[str, Any]:
    """What stands in a chart's place until it comes, or where there is none: words on the page's own ground."""
    words = {"text": text, "showarrow": False, "xref": "paper", "yref": "paper", "x": 0, "y": 1}
    return {
        "data": [],
        "layout": {
            "paper_bgcolor": "rgba(0,0,0,0)",
            "plot_bgcolor": "rgba(0,0,0,0)",
            "xaxis": {"visible": False, "fixedrange": True},
            "yaxis": {"visible": False, "fixedrange": True},
            "margin": {"l": 0, "r": 0, "t": 24, "b": 0},
            "annotations": [{**words, "font": {"size": 15, "color": "#7a7f83"}}],
        },
    }


def _button(what: str, sign: str, name: str) -> html.Button:
    given: Any = {"data-do": what, "aria-label": name}
    return html.Button(sign, type="button", className="plain tool", title=name, **given)
