"""What the page of a lot says about other lots: runs laid over each other, and what was different about this one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.chart_frame import chart_frame
from dashboards.data import JournalData
from dashboards.figures.chart_base import tell
from dashboards.figures.look import look
from dashboards.figures.overlay_chart import overlay_chart
from dashboards.laid_runs import Over, Overlay
from dashboards.lot_difference import COUNTS, FEWEST_LOTS, Difference, differences, telling
from dashboards.lot_steady import comparable, steady_lot
from dashboards.names import (
    channel_title,
    number,
    shown_figure,
    unit_inside,
    unit_known,
    unit_of,
    with_unit,
)
from dashboards.overlay import MOST_RUNS, OVERS, label_of, lots_meant, overlay, reference, references, toggled
from dashboards.parts import SHAPES, row, table
from dashboards.shown_units import shown_difference, shown_value
from dashboards.texts import say
from dashboards.urls import beside_table_url, lot_url
from dashboards.views import Lot
from monitor.line import Line

MOST_OFFERED = 24
MOST_DIFFERENCES = 10
MOST_SAID = 20
"""Spreads beyond which a number says no more: so few lots do not tell 30 from 300."""


def beside_rows(data: JournalData, lot: Lot, state: dict[str, str], key: str, look_name: str) -> list[Any]:
    """The picker of other lots, and the overlay once one is chosen."""
    told = state.get(ids.BESIDE, "")
    chosen, over = _asked(data, lot, state)
    offered = _offered(data, lot, chosen)
    if not offered:
        return [row(say("overlay.title"), html.P(say("overlay.no_others"), className="quiet"), id=ids.AT_OTHERS)]
    here = lambda **more: lot_url(lot.line, lot.number, **{**state, **more}) + f"#{ids.AT_OTHERS}"  # noqa: E731
    full = len(chosen) >= MOST_RUNS - 1
    links = []
    for other in offered:
        on = reference(other) in references(told)
        label = say("overlay.lot", lot=label_of(other, lot), day=data.clock(other.line).day(other.start))
        if full and not on:
            links.append(html.Span(f"☐ {label}", className="channel soft"))
            continue
        href = here(**{ids.BESIDE: toggled(told, other, MOST_RUNS - 1)})
        links.append(dcc.Link(f"{'☑' if on else '☐'} {label}", href=href, className="channel on" if on else "channel"))
    picker = html.Details(
        [html.Summary(say("overlay.pick", most=str(MOST_RUNS - 1))), html.Div(links, className="channels")],
        open=not chosen and bool(told),
        className="pick",
    )
    if not chosen:
        return [row(say("overlay.title"), picker, id=ids.AT_OTHERS)]
    ways = [
        dcc.Link(
            say(f"overlay.by_{way}"), href=here(**{ids.OVER: way}), className="channel on" if way == over else "channel"
        )
        for way in OVERS
    ]
    laid = overlay(data, [lot, *chosen], key, over)
    body: list[Any] = [html.Div([html.Strong(laid.title), *ways], className="channels ways")]
    if laid.runs:
        figure = tell(
            overlay_chart(laid, look(look_name)),
            title=", ".join(part for part in (laid.title, laid.unit) if part),
            name=f"{lot.line} {key} {lot.number}".replace(":", "-"),
            csv=beside_table_url(lot.line, lot.number, **{ids.CHANNEL: key, ids.BESIDE: told, ids.OVER: over}),
            unit=laid.unit,
        )
        body.append(chart_frame(ids.LOT_BESIDE_CHART, figure))
    body.append(html.P(_how(laid), className="soft"))
    title = html.H2(say("overlay.title"), className="chart-title")
    return [html.Section([title, *body, picker], className="map", id=ids.AT_OTHERS)]


def laid_over(data: JournalData, lot: Lot, state: Mapping[str, str], key: str) -> Overlay:
    """The runs an address lays over each other, this lot first."""
    chosen, over = _asked(data, lot, state)
    return overlay(data, [lot, *chosen], key, over)


def _asked(data: JournalData, lot: Lot, state: Mapping[str, str]) -> tuple[list[Lot], Over]:
    """Which other lots, and over what."""
    meant = lots_meant(data, state.get(ids.BESIDE, ""))
    chosen = [other for other in meant if (other.line, other.start) != (lot.line, lot.start)]
    ways_known: dict[str, Over] = {way: way for way in OVERS}
    return chosen[: MOST_RUNS - 1], ways_known.get(state.get(ids.OVER, ""), OVERS[0])


def _offered(data: JournalData, lot: Lot, chosen: list[Lot]) -> list[Lot]:
    """Lots to lay beside: those chosen, then the same recipe, then the same product, the nearest in time first."""
    every = [other for name in data.line_names() for other in data.lots(name)]
    every = [other for other in every if (other.line, other.start) != (lot.line, lot.start) and other.end > other.start]

    def far(other: Lot) -> tuple[bool, bool, bool, int]:
        return (
            other not in chosen,
            other.recipe != lot.recipe or other.line != lot.line,
            other.product != lot.product,
            abs(other.start - lot.start),
        )

    return sorted(every, key=far)[:MOST_OFFERED]


def _how(laid: Overlay) -> str:
    text = say("overlay.how", seconds=f"{laid.cell_s:.0f}") + (say("overlay.band") if laid.window is not None else "")
    if laid.left_out:
        text += " " + say(f"overlay.left_out_{laid.over}", lots=", ".join(laid.left_out))
    return text


def different_rows(data: JournalData, lot: Lot, state: dict[str, str]) -> list[Any]:
    """What was different about this lot, the farthest first."""
    line = data.line(lot.line)
    assert line is not None
    laid = [(other, found) for other in comparable(data, lot) if (found := steady_lot(data, other))]
    others = [found for _, found in laid]
    own = steady_lot(data, lot)
    title = say("different.title")
    if not lot.recipe:
        return [row(title, html.P(say("different.no_recipe"), className="quiet"), id=ids.AT_DIFFERENT)]
    if not own:
        return [row(title, html.P(say("different.never_steady"), className="quiet"), id=ids.AT_DIFFERENT)]
    if len(others) < FEWEST_LOTS:
        text = say("different.too_few", count=str(len(others)), fewest=str(FEWEST_LOTS))
        return [row(title, html.P(text, className="quiet"), id=ids.AT_DIFFERENT)]
    ranked = differences(own, others)
    told = telling(ranked, unit_inside)
    strong = [item for item in told if abs(item.spreads) >= COUNTS]
    shown = (strong or told)[:MOST_DIFFERENCES]
    if not strong:
        shown = shown[:3]
    head = [say(f"different.{name}") for name in ("what", "apart", "this", "usual", "range", "rank")]
    rows = [_difference_row(line, lot, item, state) for item in shown]
    key = "different.some" if strong else "different.none" if shown else "different.within"
    opening = say(key, count=str(len(strong)), of=str(len(ranked)), lots=str(len(others)), least=number(COUNTS, 0))
    newest = max(other.start for other, _ in laid)
    opening += say("different.as_of", at=data.clock(lot.line).day_minute(newest))
    return [
        row(
            title,
            html.P(opening),
            *(
                [table(head, rows, numbers=(1, 2, 3, 4)), html.P(say("different.how"), className="soft")]
                if rows
                else []
            ),
            id=ids.AT_DIFFERENT,
        )
    ]


def _difference_row(line: Line, lot: Lot, item: Difference, state: dict[str, str]) -> list[Any]:
    name = channel_title(line, item.key)
    if item.what == "scatter":
        name = say("different.scatter", title=name)
    rank = say("different.highest" if item.value > item.high else "different.lowest", lots=str(item.lots + 1))
    unit = unit_of(line, item.key)
    side = "over" if item.spreads > 0 else "under"
    told: dict[str, Any] = {"aria-label": say(f"different.{side}_others")}
    return [
        dcc.Link(name, href=lot_url(lot.line, lot.number, **{**state, ids.CHANNEL: item.key})),
        [html.Span(f"{SHAPES[side]} ", role="img", **told), _apart(abs(item.spreads))],
        with_unit(_value(line, item, item.value), unit),
        _value(line, item, item.usual),
        f"{_value(line, item, item.low)} – {_value(line, item, item.high)}",
        rank,
    ]


def _apart(spreads: float) -> str:
    return number(spreads, 1) if spreads < MOST_SAID else say("different.over", most=str(MOST_SAID))


def _value(line: Line, item: Difference, value: float) -> str:
    """With a digit more than a reading, since middles of lots lie close together."""
    unit = unit_inside(item.key) if unit_known(line, item.key) else ""
    shown = (shown_difference if item.what == "scatter" else shown_value)(value, unit)
    finest = abs(shown_difference(item.value - item.usual, unit))
    usual = shown_figure(shown, item.key)
    places = next((n for n in range(5) if finest * 10**n >= 1.0), 4) if finest else 0
    return number(shown, min(places, 4)) if places > len(usual.replace(",", ".").partition(".")[2]) else usual
