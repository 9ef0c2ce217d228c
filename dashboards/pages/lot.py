"""One lot on one page: what the quality engineer needs to decide about it."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.chart_frame import chart_frame
from dashboards.chart_moves import asked, revision, told, touch_leads
from dashboards.clock import SECOND, PlantClock
from dashboards.consequences import cause_of, with_consequences
from dashboards.contents import contents
from dashboards.data import JournalData
from dashboards.decimate import STILL_POINTS
from dashboards.drawing import Drawing
from dashboards.figures.channel_chart import channel_chart
from dashboards.figures.findings_line import ordered
from dashboards.figures.look import look
from dashboards.figures.run_sheet import run_sheet
from dashboards.figures.time_axis import NARROW, PHONE, left_of
from dashboards.held import held_of
from dashboards.legends import map_legend, shapes_legend
from dashboards.lot_notes import refusal, write_note
from dashboards.machine import machine_order
from dashboards.names import channel_title
from dashboards.pages import lot_beside, lot_lab, lot_parts, lot_raw
from dashboards.pages.live_parts import said_about, unknown_line
from dashboards.parts import channel_links, finding_block, row
from dashboards.returns import with_returns
from dashboards.said_when import present_of
from dashboards.text_field import left_in
from dashboards.texts import say
from dashboards.urls import (
    NO_NUMBER,
    instant_text,
    lot_url,
    parameters,
    stretch,
    with_parameters,
)
from dashboards.views import Lot, Run

COLUMNS = 600
MOST_FINDINGS = 40
OPEN_FINDINGS = 2
REFRESH_MS = 20_000
SECTIONS = (
    (ids.AT_PACKED, "container.title"),
    (ids.AT_FINDINGS, "live.findings"),
    (ids.AT_HELD, "touched.contents"),
    (ids.AT_RAW, "raw.title"),
    (ids.AT_LABORATORY, "lab.title"),
    (ids.AT_COMPOSITION, "composition.title"),
    (ids.AT_BALANCE, "balance.title"),
    (ids.AT_DIFFERENT, "different.title"),
    (ids.AT_OTHERS, "overlay.title"),
    (ids.AT_WATCHED, "watch.title"),
    (ids.AT_ACCOUNT, "account.title"),
    (ids.AT_NOTES, "lot.notes"),
)
"""In the order of the page: what was wrong, what to hold, where it came from; then what else is known of the lot."""

MOST_REFRESHES = 4320
"""A page left open on a running lot looks again for a day; then somebody must load it anew."""


def layout(data: JournalData, line_name: str, number: str) -> html.Div:
    """The empty page of a lot; the first callback fills it."""
    if data.line(line_name) is None:
        return unknown_line(data, line_name)
    lot = find_lot(data, line_name, number)
    if lot is None:
        return html.Div(
            [
                html.H1(say("lot.unknown", lot=number, line=line_name)),
                dcc.Link(say("lot.to_list"), href="/lots"),
            ],
            className="page",
        )
    return html.Div(
        [
            dcc.Store(id=ids.LOT_KEY, data={"line": line_name, "lot": lot.number}),
            dcc.Interval(id=ids.LOT_TICK, interval=REFRESH_MS, max_intervals=MOST_REFRESHES if lot.running else 0),
            html.Div(lot_parts.facts(data, lot), className="facts"),
            html.Div(id=ids.LOT_STRETCH),
            contents(*((id_, say(heading)) for id_, heading in SECTIONS)),
            html.Div(id=ids.LOT_PACKED),
            html.Section([map_legend(), html.Div(Drawing(id=ids.LOT_SHEET), className="wide")], className="map"),
            html.Section(
                [
                    html.H2(id=ids.LOT_CHART_TITLE, className="chart-title"),
                    chart_frame(ids.LOT_CHART),
                ],
                className="wide",
            ),
            html.Div(id=ids.LOT_CHANNELS),
            html.Div(id=ids.LOT_FINDINGS),
            html.Div(id=ids.LOT_HELD),
            lot_raw.raw_section(data, lot),
            lot_lab.lab_section(data, lot),
            html.Div(id=ids.LOT_MADE),
            html.Div(id=ids.LOT_DIFFERENT),
            html.Div(id=ids.LOT_BESIDE),
            html.Div(id=ids.LOT_BODY),
            lot_parts.notes_row(),
        ],
        className="page lot",
    )


def find_lot(data: JournalData, line_name: str, number: str) -> Lot | None:
    """The lot of an address."""
    return data.lot(line_name, "" if number == NO_NUMBER else number)


def register(app: Dash, data: JournalData) -> None:
    """Callbacks of the page."""
    lot_raw.register(app, data)
    lot_lab.register(app, data)

    @app.callback(
        Output(ids.LOT_STRETCH, "children"),
        Output(ids.LOT_SHEET, "svg"),
        Output(ids.LOT_CHART, "figure"),
        Output(ids.LOT_CHART_TITLE, "children"),
        Output(ids.LOT_PACKED, "children"),
        Output(ids.LOT_HELD, "children"),
        Output(ids.LOT_MADE, "children"),
        Output(ids.LOT_BODY, "children"),
        Output(ids.LOT_FINDINGS, "children"),
        Output(ids.LOT_CHANNELS, "children"),
        Input(ids.URL, "search"),
        Input(ids.LOOK, "data"),
        Input(ids.WIDTH, "data"),
        Input(ids.LOT_KEY, "data"),
        Input(ids.LOT_TICK, "n_intervals"),
        running=[(Output(ids.LOT_TICK, "disabled"), True, False)],
    )
    def show(search: str, look_name: str, width: int, key: dict, _n: int | None) -> tuple:
        if not width or not look_name or not key:
            raise PreventUpdate
        lot = data.lot(key["line"], key["lot"])
        if lot is None:
            raise PreventUpdate
        return answer(data, lot, parameters(search), look_name, width)

    @app.callback(
        Output(ids.LOT_BESIDE, "children"),
        Input(ids.URL, "search"),
        Input(ids.LOOK, "data"),
        Input(ids.LOT_KEY, "data"),
    )
    def show_beside(search: str, look_name: str, key: dict) -> list[Any]:
        lot = data.lot(key["line"], key["lot"]) if key and look_name else None
        if lot is None:
            raise PreventUpdate
        state = parameters(search)
        t0, t1 = stretch(state, lot.start, lot.end)
        channel = chosen_channel(data.run(lot.line, t0, t1, 1), state.get(ids.CHANNEL, ""))
        return lot_beside.beside_rows(data, lot, state, channel, look_name)

    @app.callback(Output(ids.LOT_DIFFERENT, "children"), Input(ids.LOT_KEY, "data"), Input(ids.URL, "search"))
    def show_different(key: dict, search: str) -> list[Any]:
        lot = data.lot(key["line"], key["lot"]) if key else None
        if lot is None:
            raise PreventUpdate
        return lot_beside.different_rows(data, lot, parameters(search))

    @app.callback(
        Output(ids.LOT_SAID, "children"),
        Output(ids.LOT_TEXT, "left"),
        Output(ids.LOT_NOTES, "children"),
        Input(ids.LOT_WRITE, "n_clicks"),
        Input(ids.LOT_KEY, "data"),
        State(ids.LOT_WHO, "value"),
        State(ids.LOT_TEXT, "value"),
    )
    def write(clicks: int, key: dict, who: str | None, text: str | None) -> tuple[str, Any, list[Any]]:
        lot = data.lot(key["line"], key["lot"]) if key else None
        if lot is None:
            raise PreventUpdate
        if ctx.triggered_id != ids.LOT_WRITE or not clicks:
            return "", no_update, lot_parts.notes_written(data, lot)
        why = refusal(who, text)
        if why:
            return say(why), no_update, lot_parts.notes_written(data, lot)
        write_note(data, lot, who or "", text or "")
        done = say("act.done", at=data.clock(lot.line).time(data.now_ns()))
        return done, left_in(text, ""), lot_parts.notes_written(data, lot)

    touch_leads(app, ids.LOT_SHEET)

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(ids.LOT_SHEET, "span"),
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def drag(span: dict | None, search: str) -> str:
        if not span:
            raise PreventUpdate
        return with_parameters(search, from_=instant_text(span["from"] * 10**6), to=instant_text(span["to"] * 10**6))

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(ids.LOT_CHART, "relayoutData"),
        State(ids.URL, "search"),
        State(ids.LOT_KEY, "data"),
        prevent_initial_call=True,
    )
    def zoom(moved: dict | None, search: str, key: dict) -> str:
        lot = data.lot(key["line"], key["lot"]) if key else None
        if lot is None:
            raise PreventUpdate
        t0, _ = stretch(parameters(search), lot.start, lot.end)
        return asked(moved, search, data.clock(lot.line), t0)


def answer(data: JournalData, lot: Lot, state: dict[str, str], look_name: str, width: int) -> tuple:
    """Everything that depends on the stretch and the channel of the address."""
    t0, t1 = stretch(state, lot.start, lot.end)
    run = data.run(lot.line, t0, t1, COLUMNS)
    clock = data.clock(lot.line)
    key = chosen_channel(run, state.get(ids.CHANNEL, ""))
    chart = data.chart(lot.line, key, t0, t1, STILL_POINTS)
    ticks = 3 if width < PHONE else 6 if width < NARROW else 10
    figure = channel_chart(chart, look(look_name), height=338, left=int(left_of(width)), ticks=ticks)
    figure["layout"]["uirevision"] = revision(key, state)
    told(figure, run.line, chart, (lot.start, lot.end), (lot.start, lot.end))
    whole = (t0, t1) == (lot.start, lot.end)
    title = [channel_title(run.line, key), html.Span(lot_parts.window_words(chart), className="soft")]
    listed = list(machine_order(run.line, list(run.line.channels))) + _derived(data, run)
    links = html.Details(
        [
            html.Summary(say("live.channels")),
            channel_links(run.line, listed, key, lambda k: lot_url(lot.line, lot.number, **{**state, ids.CHANNEL: k})),
        ],
        className="all-channels",
    )
    held = held_of(data, lot, run)
    return (
        lot_parts.stretch_words(data, lot, run, {**state, ids.CHANNEL: key}, whole, held),
        run_sheet(run, width, key),
        figure,
        title,
        *lot_parts.body(data, lot, run, state, held),
        findings_rows(data, lot, run, clock, state),
        links,
    )


def chosen_channel(run: Run, wanted: str) -> str:
    """The wanted channel, else that of the most pressing finding, else the first row of the map."""
    known = {*run.line.channels, *(f.last.channel for f in run.findings)}
    if wanted and (wanted in known or wanted.split(":")[0] in lot_parts.QUANTITIES):
        return wanted
    tops = [f for f, _ in with_consequences(run.findings)]
    first = min(tops, key=lambda f: (f.last.priority, f.last.since), default=None)
    if first is not None:
        return first.last.channel
    return run.grid.keys[0] if run.grid.keys else run.line.channels[0]


def _derived(data: JournalData, run: Run) -> list[str]:
    """Names of derived quantities that are there at the end of the stretch."""
    return sorted(data.source.quantities(run.line.name, (), run.t1 - 60 * SECOND, run.t1))


def findings_rows(data: JournalData, lot: Lot, run: Run, clock: PlantClock, state: dict[str, str]) -> list[Any]:
    """Findings of the stretch, in full."""
    if not run.findings:
        return [row(say("live.findings"), html.P(say("lot.no_findings"), className="quiet"), id=ids.AT_FINDINGS)]
    actions = data.actions(lot.line)
    newest = lot.running and run.t1 >= lot.end
    present = present_of(data.line_now(lot.line)) if newest and any(f.open for f in run.findings) else None
    blocks = [
        finding_block(
            run.line,
            finding,
            run.t1,
            clock,
            lot_url(lot.line, lot.number, **{**state, ids.CHANNEL: finding.last.channel}),
            parts=shown.parts,
            cause=cause_of(finding, run.findings),
            open_=i < OPEN_FINDINGS,
            said=tuple(text for f in shown.times for text in said_about(actions, f, run.t1, clock)),
            present=present,
            times=shown.times,
        )
        for i, shown in enumerate(with_returns(with_consequences(ordered(run.findings)))[:MOST_FINDINGS])
        for finding in (shown.finding,)
    ]
    return [row(say("live.findings"), shapes_legend(), *blocks, id=ids.AT_FINDINGS)]
