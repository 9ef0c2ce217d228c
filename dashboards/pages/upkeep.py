"""Upkeep: what will stop a line first, with the evidence and what can be done about it."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import SECOND, duration
from dashboards.data import JournalData
from dashboards.figures.findings_line import finding_look
from dashboards.figures.look import look
from dashboards.figures.upkeep_chart import upkeep_chart
from dashboards.pages.live_parts import refuse, said_about
from dashboards.parts import GRAPH_CONFIG, caution, field, finding_block, shape_of
from dashboards.texts import say
from dashboards.upkeep_items import UpkeepItem, upkeep_items
from dashboards.upkeep_panels import panels_of, stop_words
from dashboards.urls import live_url, parameters, upkeep_url

PATH = "/upkeep"
MOST_ITEMS = 60
MOST_FINDINGS = 5


def layout(data: JournalData) -> html.Div:
    """The empty page; the address says what is chosen."""
    return html.Div(
        [
            html.H1(say("upkeep.title")),
            html.P(say("upkeep.order"), className="soft"),
            html.Div(
                [
                    html.Div(id=ids.UPKEEP_BODY, className="items"),
                    html.Div(
                        [
                            html.Div(id=ids.UPKEEP_DETAIL),
                            dcc.Graph(id=ids.UPKEEP_CHART, config=GRAPH_CONFIG, className="chart"),
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
        Output(ids.UPKEEP_BODY, "children"),
        Output(ids.UPKEEP_DETAIL, "children"),
        Output(ids.UPKEEP_CHART, "figure"),
        Input(ids.URL, "search"),
        Input(ids.LOOK, "data"),
        Input(ids.UPKEEP_SAID, "children"),
    )
    def show(search: str, look_name: str, _said: Any) -> tuple:
        if not look_name:
            raise PreventUpdate
        return answer(data, parameters(search), look_name)

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
    name, line = state.get(ids.ITEM, ""), state.get(ids.LINE, "")
    return next((i for i in items if i.name == name and line in ("", i.line)), items[0] if items else None)


def answer(data: JournalData, state: dict[str, str], look_name: str) -> tuple:
    """The list, the chosen item, and its chart."""
    items = all_items(data, state)
    item = chosen_item(items, state)
    if item is None:
        return [html.P(say("upkeep.none"), className="quiet")], [], no_update
    only = data.line(state.get(ids.LINE, "")) is not None
    blocks: list[Any] = []
    if only and len(data.line_names()) > 1:
        blocks.append(html.P(dcc.Link(say("upkeep.all_lines"), href=upkeep_url())))
    several = len({i.line for i in items}) > 1
    blocks += [_entry(i, n, i is item, several) for n, i in enumerate(items[:MOST_ITEMS], 1)]
    return blocks, _detail(data, item), upkeep_chart(panels_of(data, item), look(look_name))


def item_title(item: UpkeepItem) -> str:
    """'zone Z4', 'feeder talc T4', 'pressure P1', 'drive'."""
    return say(f"upkeep.kind.{item.kind}", subject=item.title).strip()


def _entry(item: UpkeepItem, rank: int, on: bool, several: bool) -> dcc.Link:
    finding = next((f for f in item.findings if f.open), None)
    shape: list[Any] = []
    if finding is not None and finding.last.priority <= 3:
        shape = list(shape_of(finding_look(finding)))
    lines: list[Any] = [html.Span(item.words, className="soft")]
    if finding is not None:
        lines.insert(0, html.Span(finding.last.summary, className="told"))
    if item.stop is not None:
        lines.insert(0, html.Span(stop_words(item, short=True), className="told"))
    title = item_title(item) + (f" · {item.line}" if several else "")
    return dcc.Link(
        [
            html.Span(str(rank), className="rank"),
            html.Span([html.Strong([*shape, title]), *lines], className="entry-words"),
        ],
        href=upkeep_url(line=item.line, item=item.name),
        className="entry on" if on else "entry",
    )


def _detail(data: JournalData, item: UpkeepItem) -> list[Any]:
    now, clock = data.now_ns(), data.clock(item.line)
    words = [item.words]
    stop = stop_words(item)
    head: list[Any] = [html.H2([item_title(item), html.Span(f" {item.line}", className="soft")])]
    if stop:
        head.append(html.P(html.B(stop)))
    if item.since is not None:
        words.append(
            say("upkeep.since", at=clock.since(item.since, now), time=duration((now - item.since) / SECOND))
        )
    head.append(html.P(", ".join(words)))
    actions = data.actions(item.line)
    blocks = [
        finding_block(
            data.source.line(item.line),
            f,
            now,
            clock,
            live_url(item.line, channel=f.last.channel),
            open_=i == 0 and f.open,
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
    return [*head, *blocks, advice, caution(say(f"upkeep.caution.{item.kind}"))]
