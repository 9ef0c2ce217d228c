"""Upkeep: what will stop a line first, with the evidence and what can be done about it."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import MINUTE, SECOND, PlantClock, duration
from dashboards.data import JournalData
from dashboards.drawing import Drawing
from dashboards.figures.barrel_strip import barrel_strip
from dashboards.figures.findings_line import finding_look
from dashboards.figures.look import look
from dashboards.figures.strip_view import StripView
from dashboards.figures.upkeep_chart import upkeep_chart
from dashboards.grid import JUDGED_PHASES
from dashboards.names import figure, unit_of, with_unit
from dashboards.pages.live_parts import refuse, said_about
from dashboards.parts import GRAPH_CONFIG, caution, field, finding_block, shape_of
from dashboards.texts import say
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_items import upkeep_items
from dashboards.upkeep_panels import Panels, before_and_after, panels_of, stop_words
from dashboards.upkeep_words import check_words, gone_words
from dashboards.urls import live_url, parameters, upkeep_url, with_parameters
from dashboards.windows import windows_of

PATH = "/upkeep"
MOST_ITEMS = 60
MOST_FINDINGS = 5


def layout(data: JournalData) -> html.Div:
    """The empty page; the address says what is chosen."""
    return html.Div(
        [
            html.H1(say("upkeep.title")),
            html.P(say("upkeep.order"), className="soft"),
            html.Div(Drawing(id=ids.UPKEEP_STRIP, className="strip"), className="wide"),
            html.P(id=ids.UPKEEP_STOOD, className="soft"),
            html.Div(
                [
                    html.Div(id=ids.UPKEEP_BODY, className="items"),
                    html.Div(
                        [
                            html.Div(id=ids.UPKEEP_DETAIL),
                            dcc.Graph(id=ids.UPKEEP_CHART, config=GRAPH_CONFIG, className="chart"),
                            html.Div(id=ids.UPKEEP_MORE),
                            _repair_form(),
                        ],
                        className="detail",
                    ),
                ],
                className="two upkeep-two",
            ),
        ],
        className="page upkeep",
    )


def _repair_form() -> html.Div:
    return html.Div(
        [
            html.P(say("upkeep.repair_about"), className="soft"),
            field(say("act.who"), ids.UPKEEP_WHO, "who", persistence=True),
            field(say("upkeep.repair_text"), ids.UPKEEP_TEXT),
            html.Button(say("upkeep.repaired"), id=ids.UPKEEP_REPAIRED, n_clicks=0),
            html.P(id=ids.UPKEEP_SAID, className="soft", role="status"),
        ],
        className="act",
    )


def register(app: Dash, data: JournalData) -> None:
    """Callbacks of the page."""

    @app.callback(
        Output(ids.UPKEEP_STRIP, "svg"),
        Output(ids.UPKEEP_STOOD, "children"),
        Output(ids.UPKEEP_BODY, "children"),
        Output(ids.UPKEEP_DETAIL, "children"),
        Output(ids.UPKEEP_CHART, "figure"),
        Output(ids.UPKEEP_MORE, "children"),
        Input(ids.URL, "search"),
        Input(ids.LOOK, "data"),
        Input(ids.WIDTH, "data"),
        Input(ids.UPKEEP_SAID, "children"),
    )
    def show(search: str, look_name: str, width: int, _said: Any) -> tuple:
        if not look_name or not width:
            raise PreventUpdate
        return answer(data, parameters(search), look_name, width)

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(ids.UPKEEP_STRIP, "touched"),
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def touch(touched: dict | None, search: str) -> str:
        state = parameters(search)
        items = all_items(data, state)
        shown = chosen_item(items, state)
        found = item_of_channel(items, shown.line, touched["key"]) if touched and shown else None
        if found is None:
            raise PreventUpdate
        return with_parameters(search, item=found.name)

    @app.callback(
        Output(ids.UPKEEP_SAID, "children"),
        Output(ids.UPKEEP_TEXT, "value"),
        Input(ids.UPKEEP_REPAIRED, "n_clicks"),
        State(ids.UPKEEP_WHO, "value"),
        State(ids.UPKEEP_TEXT, "value"),
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def repaired(clicks: int, who: str | None, text: str | None, search: str) -> tuple[str, str]:
        if not clicks:
            raise PreventUpdate
        item = chosen_item(all_items(data, parameters(search)), parameters(search))
        about = next(iter(item.findings), None) if item else None
        refusal = refuse(about, "repaired", who, text)
        if refusal or item is None or about is None or who is None:
            return refusal, text or ""
        data.act(item.line, about.last.finding, "repaired", who.strip(), (text or "").strip())
        return say("act.done", at=data.clock(item.line).time(data.now_ns())), ""


def all_items(data: JournalData, state: dict[str, str]) -> list[UpkeepItem]:
    """Items of the wanted line, or of all lines, the most pressing first."""
    wanted = state.get(ids.LINE, "")
    names = [wanted] if data.line(wanted) is not None else data.line_names()
    return sorted((item for name in names for item in upkeep_items(data, name)), key=UpkeepItem.order)


def chosen_item(items: list[UpkeepItem], state: dict[str, str]) -> UpkeepItem | None:
    """The item of the address, else the first."""
    name = state.get(ids.ITEM, "")
    return next((i for i in items if i.name == name), items[0] if items else None)


def item_of_channel(items: list[UpkeepItem], line: str, key: str) -> UpkeepItem | None:
    """The item a channel of a line belongs to."""
    return next((i for i in items if i.line == line and key in i.keys), None)


def answer(data: JournalData, state: dict[str, str], look_name: str, width: int) -> tuple:
    """The machine, the list, the chosen item, and its chart."""
    items = all_items(data, state)
    item = chosen_item(items, state)
    if item is None:
        return "", "", [html.P(say("upkeep.none"), className="quiet")], [], no_update, []
    blocks: list[Any] = []
    if data.line(state.get(ids.LINE, "")) is not None and len(data.line_names()) > 1:
        blocks.append(html.P(dcc.Link(say("upkeep.all_lines"), href=upkeep_url(item=item.name))))
    several = len({i.line for i in items}) > 1
    calling = [i for i in items if i.calls][:MOST_ITEMS]
    usual = [i for i in items if not i.calls]
    blocks += [_entry(i, str(n), i is item, several, state) for n, i in enumerate(calling, 1)]
    if usual:
        entries = [_entry(i, "", i is item, several, state) for i in usual[:MOST_ITEMS]]
        summary = html.Summary(say("upkeep.as_usual", count=str(len(usual))))
        blocks.append(html.Details([summary, *entries], open=item in usual, className="as-usual"))
    svg, stood = strip_of(data, item, items, width)
    panels = panels_of(data, item)
    chart = upkeep_chart(panels, look(look_name))
    return svg, stood, blocks, _detail(data, item, panels), chart, _more(data, item)


def strip_of(data: JournalData, item: UpkeepItem, items: list[UpkeepItem], width: int) -> tuple[str, str]:
    """The machine of the chosen item as its log ends, the item ringed; and the words under it."""
    line = data.source.line(item.line)
    _, end = data.span(item.line)
    recipe = data.recipe_at(item.line, end - 1)
    flags = {
        f.last.channel: f.last.priority for i in items if i.line == item.line for f in i.standing if not f.last.part_of
    }
    phases = data.phase_run(item.line, end - MINUTE, end)
    judged = bool(phases) and phases[-1].name in JUDGED_PHASES
    windows = windows_of(line, recipe)
    shown = {"zone": "zone_temperature:", "feeder": "feeder_rate:"}.get(item.kind)
    touched = f"{shown}{item.subject}" if shown else item.key
    view = StripView(line, data.readings_at(line, end), windows, flags, touched, judged=judged)
    at = data.clock(item.line).since(end, data.now_ns())
    return barrel_strip(view, width), say("upkeep.stood", line=item.line, at=at)


def item_title(item: UpkeepItem) -> str:
    """'zone Z4', 'feeder talc T4', 'pressure P1', 'drive'."""
    return say(f"upkeep.kind.{item.kind}", subject=item.title).strip()


def _entry(item: UpkeepItem, rank: str, on: bool, several: bool, state: dict[str, str]) -> dcc.Link:
    finding = next(iter(item.standing), None)
    shape: list[Any] = []
    if finding is not None and finding.last.priority <= 3:
        shape = list(shape_of(finding_look(finding)))
    lines: list[Any] = [html.Span(item.words, className="soft")]
    if finding is not None:
        lines.insert(0, html.Span(finding.last.summary, className="told"))
    if item.stop is not None:
        lines.insert(0, html.Span(stop_words(item, short=True), className="told"))
    clock = PlantClock(item.zone)
    if finding is None and item.gone:
        lines.insert(0, html.Span(gone_words(item, clock), className="told"))
    lines[:0] = [html.Span(check_words(check, clock), className="told") for check in item.checks]
    title = item_title(item) + (f" · {item.line}" if several else "")
    return dcc.Link(
        [
            html.Span(rank, className="rank"),
            html.Span([html.Strong([*shape, title]), *lines], className="entry-words"),
        ],
        href=upkeep_url(line=state.get(ids.LINE, ""), item=item.name),
        className="entry on" if on else "entry",
    )


def _detail(data: JournalData, item: UpkeepItem, panels: Panels) -> list[Any]:
    now, clock = data.now_ns(), data.clock(item.line)
    lasted = duration((item.end - item.since) / SECOND) if item.since is not None else ""
    words = [item.words]
    stop = stop_words(item)
    head: list[Any] = [html.H2([item_title(item), html.Span(f" {item.line}", className="soft")])]
    if stop:
        head.append(html.P(html.B(stop)))
    if item.since is not None:
        words.append(say("upkeep.since", at=clock.since(item.since, now), time=lasted))
    head.append(html.P(", ".join(words)))
    head += [html.P(html.B(check_words(check, clock))) for check in item.checks]
    head += [html.P(_repair_words(data, item, *told, clock)) for told in before_and_after(panels, item)]
    return head


def _more(data: JournalData, item: UpkeepItem) -> list[Any]:
    """Its findings, what can be done running and what needs the stop, and the caution."""
    now, clock = data.now_ns(), data.clock(item.line)
    actions = data.actions(item.line)
    blocks = [
        finding_block(
            data.source.line(item.line),
            f,
            now,
            clock,
            live_url(item.line, channel=f.last.channel),
            open_=i == 0 and f in (*item.standing, *item.gone),
            said=said_about(actions, f, now, clock),
        )
        for i, f in enumerate(item.findings[:MOST_FINDINGS])
    ]
    advice = html.Div(
        [
            html.Div([html.H3(say("upkeep.running")), html.P(say(f"upkeep.running.{item.kind}"))]),
            html.Div([html.H3(say("upkeep.stopped")), html.P(say(f"upkeep.stopped.{item.kind}"))]),
        ],
        className="advice",
    )
    return [*blocks, advice, caution(say(f"upkeep.caution.{item.kind}"))]


def _repair_words(
    data: JournalData, item: UpkeepItem, at: int, before: float, after: float | None, clock: PlantClock
) -> str:
    """Did it help: the main channel before and after."""
    unit = unit_of(data.line(item.line), item.key)
    first = with_unit(figure(before, item.key, data.line(item.line)), unit)
    when = clock.since(at, data.now_ns())
    if after is None:
        return say("upkeep.before_only", at=when, before=first)
    last = with_unit(figure(after, item.key, data.line(item.line)), unit)
    return say("upkeep.before_after", at=when, before=first, after=last)
