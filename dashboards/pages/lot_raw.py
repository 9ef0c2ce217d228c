"""On the page of a lot: the raw-material lots it was made of, the containers they went into, and writing them down."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import SECOND, PlantClock
from dashboards.data import JournalData
from dashboards.held_words import container_name, kilograms, mass
from dashboards.machine import subject_title
from dashboards.parts import row, rows_form, table
from dashboards.raw_lots import RawSpan, raw_spans, read_rows, write_rows
from dashboards.text_field import left_in
from dashboards.texts import say
from dashboards.urls import parameters, query, stretch
from dashboards.views import Lot
from ingest.roles import channel_key

MOST_CONTAINERS = 12


def raw_section(data: JournalData, lot: Lot) -> html.Section:
    """The place of the table, and the form behind a fold: it is filled in more seldom than it is read."""
    form = [
        *rows_form("raw", ids.LOT_RAW_WHO, ids.LOT_RAW_ROWS, ids.LOT_RAW_WRITE, example(data, lot)),
        html.P(id=ids.LOT_RAW_SAID, className="soft", role="status"),
    ]
    line = data.line(lot.line)
    shown = "fold" if line is not None and line.feeder else "gone"
    fold = html.Details([html.Summary(say("raw.form")), html.Div(form, className="act")], className=shown)
    return row(say("raw.title"), html.Div(id=ids.LOT_RAW), fold, id=ids.AT_RAW)


def example(data: JournalData, lot: Lot) -> str:
    """A row as it would be written for this lot."""
    line, local = data.line(lot.line), data.clock(lot.line).local(lot.start)
    first = next(iter(line.feeder), None) if line else None
    title = subject_title(line, channel_key("feeder_rate", first.name)) if line and first else say("raw.feeder")
    return f"{local:%Y-%m-%d %H:%M}; {title}; {say('raw.example')}"


def raw_table(data: JournalData, lot: Lot, t0: int, t1: int) -> list[Any]:
    """Every raw-material lot of the stretch: from when to when, how much, into which containers."""
    found = raw_spans(data, lot, t0, t1)
    if not found:
        line = data.line(lot.line)
        key = "raw.none" if line is not None and line.feeder else "raw.no_feeders"
        return [html.P(say(key), className="quiet")]
    clock = data.clock(lot.line)
    rows = [_cells(one, clock, t1) for one in found]
    head = [say(f"raw.{name}") for name in ("ingredient", "number", "touched", "containers", "filled", "fed")]
    return [table(head, rows, numbers=(5,)), html.P(say("raw.how"), className="soft")]


def _cells(one: RawSpan, clock: PlantClock, t1: int) -> list[Any]:
    number: Any = html.B(say("raw.not_known"))
    if one.number:
        href = "/lots" + query({ids.FIND: one.number})
        number = dcc.Link(one.number, href=href, title=say("raw.find", lot=one.number))
    open_end = f"{clock.day_minute(one.start)} –"
    when: list[Any] = [clock.interval(one.start, one.end) if one.end < t1 else open_end]
    if one.last - one.end >= 60 * SECOND:
        when.append(html.Div(say("raw.rest", at=clock.since(one.last, one.end)), className="soft"))
    kg = kilograms(one.kg) if one.whole else say("lot.at_least", kg=kilograms(one.kg))
    return [one.title, number, _touched(one), _containers(one, clock) or "–", when, kg]


def _touched(one: RawSpan) -> Any:
    """The word about the product it went into, and how much of that is touched."""
    if one.verdict == "clear":
        return "–"
    word = html.Span(say(f"container.{one.verdict}"), className=f"container {one.verdict}")
    return [word, html.Div(say("raw.touched_product", mass=mass(one.kg_touched)), className="soft")]


def _containers(one: RawSpan, clock: PlantClock) -> list[Any]:
    """The containers it may be in, those to hold or to check marked; what is more than the cell takes is counted."""
    # Those to hold must not be the ones that are only counted.
    kept = sorted(one.containers, key=lambda item: item.verdict == "clear")[:MOST_CONTAINERS]
    told: list[Any] = []
    for item in (item for item in one.containers if item in kept):
        name = say(f"raw.{item.verdict}", name=container_name(item, clock))
        marked = html.Span(name, className=f"container {item.verdict}")
        told += [", "] * bool(told) + [name if item.verdict == "clear" else marked]
    more = len(one.containers) - len(kept)
    return told + ([f" + {more}"] if more else [])


def register(app: Dash, data: JournalData) -> None:
    """Shows the table and writes what was typed."""

    @app.callback(
        Output(ids.LOT_RAW, "children"),
        Output(ids.LOT_RAW_SAID, "children"),
        Output(ids.LOT_RAW_ROWS, "left"),
        Input(ids.LOT_RAW_WRITE, "n_clicks"),
        Input(ids.LOT_KEY, "data"),
        Input(ids.URL, "search"),
        State(ids.LOT_RAW_WHO, "value"),
        State(ids.LOT_RAW_ROWS, "value"),
    )
    def show(clicks: int, key: dict, search: str, who: str | None, text: str | None) -> tuple[list[Any], Any, Any]:
        lot = data.lot(key["line"], key["lot"]) if key else None
        if lot is None:
            raise PreventUpdate
        pressed = ctx.triggered_id == ids.LOT_RAW_WRITE and bool(clicks)
        said, left = written(data, lot, who or "", text or "") if pressed else ("", text or "")
        return raw_table(data, lot, *stretch(parameters(search), lot.start, lot.end)), said, left_in(text, left)


def written(data: JournalData, lot: Lot, who: str, text: str) -> tuple[Any, str]:
    """What is said after a press, and what is left in the field. Nothing is kept of rows of which one is wrong."""
    line = data.line(lot.line)
    if not who.strip():
        return say("act.no_name"), text
    if line is None or not text.strip():
        return say("raw.no_rows"), text
    rows, wrong = read_rows(text, line, data.clock(lot.line), data.now_ns())
    if wrong:
        return html.Ul([html.Li(one) for one in wrong]), text
    write_rows(data, lot.line, who, rows)
    return say("raw.done", count=str(len(rows))), ""
