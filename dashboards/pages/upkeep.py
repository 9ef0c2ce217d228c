"""Upkeep: what will stop a line first, with the evidence and what can be done about it."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.chart_frame import chart_frame
from dashboards.clock import MINUTE
from dashboards.contents import contents
from dashboards.data import JournalData
from dashboards.drawing import Drawing
from dashboards.figures.barrel_strip import barrel_strip
from dashboards.figures.chart_base import tell
from dashboards.figures.look import look
from dashboards.figures.strip_view import StripView
from dashboards.figures.time_axis import PHONE
from dashboards.figures.upkeep_chart import title_room, upkeep_chart
from dashboards.grid import JUDGED_PHASES
from dashboards.load_history import screens_of
from dashboards.pages import upkeep_form
from dashboards.pages.upkeep_detail import head, item_title, more
from dashboards.pages.upkeep_list import Entries, calling_list, usual_list
from dashboards.texts import say
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_items import HISTORY_NS, upkeep_items
from dashboards.upkeep_panels import Panels, panels_of
from dashboards.upkeep_weeks import weeks_of
from dashboards.urls import parameters, upkeep_table_url, upkeep_url, with_parameters
from dashboards.windows import windows_of

PATH = "/upkeep"
SECTIONS = tuple(
    (id_, f"upkeep.contents.{id_}")
    for id_ in (ids.AT_PARTS, ids.AT_EVIDENCE, ids.AT_CHECKS, ids.AT_REPAIR, ids.AT_USUAL)
)


def layout(data: JournalData) -> html.Div:
    """The empty page; the address says what is chosen."""
    return html.Div(
        [
            html.H1(say("upkeep.title")),
            html.Details([html.Summary(say("upkeep.order_of")), html.P(say("upkeep.order"))], className="soft"),
            contents(*((id_, say(heading)) for id_, heading in SECTIONS)) if data.line_names() else None,
            html.Div(Drawing(id=ids.UPKEEP_STRIP, className="strip"), className="wide"),
            html.P(id=ids.UPKEEP_STOOD, className="soft"),
            html.Div(id=ids.UPKEEP_OUT_LIST),
            html.Div(
                [
                    html.Div(html.Div(id=ids.UPKEEP_BODY), className="items", id=ids.AT_PARTS),
                    html.Div(html.Div(id=ids.UPKEEP_USUAL), className="usual", id=ids.AT_USUAL),
                    html.Div(
                        [
                            html.A(say("upkeep.back_to_list"), href=f"#{ids.AT_PARTS}", className="to-list"),
                            html.Div(id=ids.UPKEEP_DETAIL),
                            chart_frame(ids.UPKEEP_CHART, class_name="chart"),
                            html.Div(
                                [
                                    html.H3(say("upkeep.weeks")),
                                    chart_frame(ids.UPKEEP_WEEKS, class_name="chart"),
                                ],
                                id=ids.UPKEEP_WEEKS_BOX,
                                className="gone",
                            ),
                            html.Div(id=ids.UPKEEP_MORE),
                            html.Div(upkeep_form.repair_form(), id=ids.AT_REPAIR),
                        ],
                        className="detail",
                        id=ids.AT_EVIDENCE,
                    ),
                ],
                className="two upkeep-two",
            ),
        ],
        className="page upkeep",
    )


def register(app: Dash, data: JournalData) -> None:
    """Callbacks of the page."""

    @app.callback(
        Output(ids.UPKEEP_STRIP, "svg"),
        Output(ids.UPKEEP_STOOD, "children"),
        Output(ids.UPKEEP_BODY, "children"),
        Output(ids.UPKEEP_USUAL, "children"),
        Output(ids.UPKEEP_DETAIL, "children"),
        Output(ids.UPKEEP_CHART, "figure"),
        Output(ids.UPKEEP_MORE, "children"),
        Output(ids.UPKEEP_WEEKS, "figure"),
        Output(ids.UPKEEP_WEEKS_BOX, "className"),
        Output(ids.UPKEEP_FORM, "className"),
        Output(ids.UPKEEP_OUT_LIST, "children"),
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

    upkeep_form.register(app, data, lambda search: chosen_item(all_items(data, parameters(search)), parameters(search)))


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
        return (
            "",
            "",
            [html.P([say("upkeep.none") + " ", dcc.Link(say("upkeep.none_next"), href="/import")])],
            [],
            [],
            no_update,
            [],
            no_update,
            "gone",
            "act nothing",
            [],
        )
    blocks: list[Any] = []
    if data.line(state.get(ids.LINE, "")) is not None and len(data.line_names()) > 1:
        blocks.append(html.P(dcc.Link(say("upkeep.all_lines"), href=upkeep_url(item=item.name))))
    away = upkeep_form.away_on(data, items)
    entries = Entries(item, len({i.line for i in items}) > 1, state, upkeep_form.out_parts(items, away))
    blocks += calling_list(data, items, entries)
    rest = usual_list(items, entries)
    svg, stood = strip_of(data, item, items, width)
    chart = _drawn(item, panels_of(data, item, changes_of(data, item)), look_name, "days", width)
    return (
        svg,
        stood,
        blocks,
        rest,
        head(data, item),
        chart,
        more(data, item),
        *weeks_shown(data, item, look_name, width),
        upkeep_form.form_class(data, item),
        upkeep_form.out_list(data, items, away),
    )


def changes_of(data: JournalData, item: UpkeepItem) -> tuple[int, ...]:
    """When the screen was changed, as its pressure tells; none for other parts."""
    if item.kind != "screen":
        return ()
    first, end = data.span(item.line)
    return tuple(screens_of(data, data.source.line(item.line), item.key, max(first, end - HISTORY_NS), end)[0])


def weeks_shown(data: JournalData, item: UpkeepItem, look_name: str, width: int) -> tuple[Any, str]:
    """The chart over weeks and its class; hidden while there are too few days."""
    weeks = weeks_of(data, item)
    if weeks is None:
        return no_update, "gone"
    return _drawn(item, weeks, look_name, "weeks", width), "chart-weeks"


def _drawn(item: UpkeepItem, panels: Panels, look_name: str, chart: str, width: int) -> dict[str, Any]:
    """The chart of an item with what its frame must know; it comes back whole when another item is chosen."""
    figure = upkeep_chart(panels, look(look_name), ticks=3 if width < PHONE else 6, room=title_room(width))
    figure["layout"]["uirevision"] = item.name
    return tell(
        figure,
        title=say("chart.picture", line=item.line, title=item_title(item)),
        name=f"{item.name} {chart}".replace("/", " ").replace(":", " "),
        csv=upkeep_table_url(item.name, chart),
        unit=panels.panels[0].unit if panels.panels else "",
    )


def item_named(data: JournalData, name: str) -> UpkeepItem | None:
    """The item of that name, None if there is none."""
    line = name.rpartition("/")[0]
    return next((item for item in upkeep_items(data, line) if item.name == name), None)


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
    shown = {"zone": "zone_temperature:", "cooling": "zone_temperature:", "feeder": "feeder_rate:"}.get(item.kind)
    touched = f"{shown}{item.subject}" if shown and item.subject else item.key
    view = StripView(line, data.readings_at(line, end), windows, flags, touched, judged=judged)
    at = data.clock(item.line).since(end, data.now_ns())
    return barrel_strip(view, width), say("upkeep.stood", line=item.line, at=at)
