"""Live: what the shift supervisor needs of one line now."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.back_inside import with_back
from dashboards.chart_frame import chart_frame
from dashboards.chart_moves import asked, revision, told, touch_leads
from dashboards.clock import HOUR, SECOND, PlantClock
from dashboards.data import FINISHED, JournalData
from dashboards.decimate import LIVE_POINTS
from dashboards.drawing import Drawing
from dashboards.figures.ahead_rule import ahead_rule
from dashboards.figures.barrel_strip import barrel_strip
from dashboards.figures.channel_chart import channel_chart
from dashboards.figures.findings_line import ordered
from dashboards.figures.look import look
from dashboards.figures.run_sheet import run_sheet
from dashboards.figures.strip_view import StripView
from dashboards.figures.time_axis import PHONE
from dashboards.grid import JUDGED_PHASES
from dashboards.legends import map_legend, strip_legend
from dashboards.names import channel_title
from dashboards.outlook import outlook
from dashboards.pages import live_actions, live_head, live_parts
from dashboards.pages.live_aside import away_line
from dashboards.pages.live_shift import no_room, room_list, shift_block, stopped_block
from dashboards.parts import newest, row
from dashboards.texts import say
from dashboards.urls import live_url, parameters, stretch
from dashboards.verdict import Verdict, die_words, verdict_of
from dashboards.views import LineNow

MAP_HOURS = 4
CHART_HOURS = 1
CHART_BACK_HOURS = 24
"""How far back the chart of the live page can be moved; more is what the lot's page is for."""
COLUMNS = 480
ALOUD: Any = {"aria-live": "polite"}


def layout(data: JournalData, line_name: str, refresh_s: float = 1.0) -> html.Div:
    """The empty page of one line; the first tick fills it."""
    line = data.line(line_name)
    if line is None:
        return live_parts.unknown_line(data, line_name)
    return html.Div(
        [
            dcc.Store(id=ids.LIVE_LINE, data=line_name),
            dcc.Store(id=ids.LIVE_CURSOR, data={}),
            dcc.Interval(id=ids.LIVE_TICK, interval=tick_ms(data, line_name, refresh_s)),
            html.Div(id=ids.LIVE_FACTS, className="facts"),
            html.Div(id=ids.LIVE_VERDICT, className="verdict live-only", **ALOUD),
            html.Div(id=ids.LIVE_NEXT, className="next-limit live-only"),
            html.Div(id=ids.LIVE_STOPPED, className="live-only"),
            html.Div(Drawing(id=ids.LIVE_STRIP, className="strip"), className="wide live-only"),
            html.Div(strip_legend(), className="live-only"),
            html.Div(
                [
                    row(say("live.findings"), html.Div(id=ids.LIVE_FINDINGS), class_name="half"),
                    html.Section(
                        [
                            html.H2(id=ids.LIVE_CHART_TITLE, className="chart-title"),
                            chart_frame(ids.LIVE_CHART, class_name="chart"),
                            live_actions.action_form(),
                        ],
                        className="beside",
                    ),
                ],
                className="two",
            ),
            html.Section(
                [html.H2(say("live.ahead"), className="over"), html.Div(id=ids.LIVE_AHEAD, className="wide")],
                className="map live-only",
            ),
            html.Section(id=ids.LIVE_SHIFT, className="map live-only"),
            html.Section(
                [
                    html.H2(say("live.map", hours=str(MAP_HOURS)), className="over"),
                    map_legend(),
                    html.Div(Drawing(id=ids.LIVE_SHEET), className="wide"),
                ],
                className="map",
            ),
            html.Details(
                [html.Summary(say("live.channels")), html.Div(id=ids.LIVE_CHANNELS)], className="all-channels"
            ),
        ],
        className="page live",
    )


def tick_ms(data: JournalData, line_name: str, refresh_s: float) -> int:
    """How often the page looks; a finished log changes only when its line goes on live."""
    slow = 5.0 if data.source.source(line_name) == FINISHED else 1.0
    return int(max(refresh_s, slow) * 1000)


def chosen_channel(now: LineNow, wanted: str) -> str:
    """The channel to chart.

    The wanted one, else the first finding's, else the line's rate or first channel.
    """
    known = {*now.line.channels, *now.readings}
    if wanted in known or wanted.split(":")[0] in live_parts.QUANTITIES:
        return wanted
    first = next(iter(ordered(now.findings)), None)
    if first is not None:
        return first.last.channel
    for key in ("total_feed", "line_rate", "torque"):
        if key in known:
            return key
    return now.line.channels[0]


def register(app: Dash, data: JournalData, refresh_s: float = 1.0) -> None:
    """Callbacks of the page."""

    @app.callback(
        Output(ids.LIVE_FACTS, "children"),
        Output(ids.LIVE_VERDICT, "children"),
        Output(ids.LIVE_VERDICT, "className"),
        Output(ids.LIVE_STRIP, "svg"),
        Output(ids.LIVE_CHART, "figure"),
        Output(ids.LIVE_CHART_TITLE, "children"),
        Output(ids.LIVE_FINDINGS, "children"),
        Output(ids.LIVE_NEXT, "children"),
        Output(ids.LIVE_AHEAD, "children"),
        Output(ids.LIVE_SHEET, "svg"),
        Output(ids.LIVE_CHANNELS, "children"),
        Output(ids.LIVE_STOPPED, "children"),
        Output(ids.LIVE_SHIFT, "children"),
        Output(ids.LIVE_ABOUT, "children"),
        Output(ids.LIVE_ABOUT_ID, "data"),
        Output(ids.LIVE_FORM, "className"),
        Output(ids.LIVE_CURSOR, "data"),
        Input(ids.LIVE_TICK, "n_intervals"),
        Input(ids.URL, "search"),
        Input(ids.LOOK, "data"),
        Input(ids.WIDTH, "data"),
        Input(ids.LIVE_SAID, "children"),
        State(ids.LIVE_LINE, "data"),
        State(ids.LIVE_CURSOR, "data"),
        running=[(Output(ids.LIVE_TICK, "disabled"), True, False)],
    )
    def tick(_n: int | None, search: str, look_name: str, width: int, _said: Any, name: str, cursor: dict) -> tuple:
        if not width or not look_name or data.line(name) is None:
            raise PreventUpdate
        return answer(data, name, parameters(search), look_name, width, cursor or {}, refresh_s)

    touch_leads(app, ids.LIVE_STRIP)
    touch_leads(app, ids.LIVE_SHEET)

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(ids.LIVE_CHART, "relayoutData"),
        State(ids.URL, "search"),
        State(ids.LIVE_LINE, "data"),
        prevent_initial_call=True,
    )
    def zoom(moved: dict | None, search: str, name: str) -> str:
        if data.line(name) is None:
            raise PreventUpdate
        _, t0, _ = charted(data, name, parameters(search), data.line_now(name).read_until)
        return asked(moved, search, data.clock(name), t0)

    live_actions.register(app, data)


def answer(
    data: JournalData,
    name: str,
    state: dict[str, str],
    look_name: str,
    width: int,
    cursor: dict,
    refresh_s: float,
) -> tuple:
    """One reply: what changes every second always, the rest only when it has changed."""
    now, clock = data.line_now(name), data.clock(name)
    end = now.read_until
    run = data.run(name, end - MAP_HOURS * HOUR, end, COLUMNS)
    now = with_back(data, now, run)
    key = chosen_channel(now, state.get(ids.CHANNEL, ""))
    verdict = verdict_of(now, clock, run)
    follows = _what_follows(now) or die_words(now, verdict, clock, run)
    words = (follows, live_head.unjudged_words(now, verdict), away_line(now, clock))
    more = " ".join(text if text.endswith(".") else f"{text}." for text in words if text)
    flags = {f.last.channel: f.last.priority for f in now.findings if not f.last.part_of}
    judged = now.phase in JUDGED_PHASES
    view = StripView(now.line, now.readings, now.windows, flags, key, judged=judged, worst=verdict.key)
    lately, t0, t1 = charted(data, name, state, end)
    chart = data.chart(name, key, t0, t1, LIVE_POINTS)
    figure = channel_chart(chart, look(look_name), height=308, ticks=3 if width < PHONE else 7)
    figure["layout"]["uirevision"] = revision(key, state)
    told(figure, now.line, chart, (end - CHART_HOURS * HOUR, end), lately)
    actions = data.actions(name)
    about = live_actions.about_of(now, key)
    marks = {
        "map": [run.grid.end, width, key, look_name],
        "findings": live_parts.signature(now, actions, key),
        "ahead": [now.now // (10 * SECOND), width, now.stopped, verdict.word, verdict.key, len(now.findings)],
        "channels": key,
        "shift": [now.now // (30 * SECOND), len(actions), now.phase],
        "form": about.signature,
    }
    changed = {part: mark for part, mark in marks.items() if cursor.get(part) != mark}
    findings = live_parts.findings_list(data, now, clock, key) if "findings" in changed else no_update
    return (
        [*live_parts.facts(now, clock), newest(now, clock, refresh_s), live_head.no_answer(now, clock)],
        live_parts.verdict_words(verdict, more),
        f"verdict live-only {verdict.look}",
        barrel_strip(view, width),
        figure,
        [channel_title(now.line, key), chart_stretch(clock, (t0, t1), end, state, name)],
        findings,
        *(_ahead(data, now, verdict, clock, width) if "ahead" in changed else (no_update, no_update)),
        run_sheet(run, width, key, with_findings=False) if "map" in changed else no_update,
        live_parts.all_channels(now, key, lambda k: live_url(name, channel=k)) if "channels" in changed else no_update,
        stopped_block(data, now, clock) if "shift" in changed else no_update,
        shift_block(data, now, clock) if "shift" in changed else no_update,
        *(live_actions.form_parts(about) if "form" in changed else (no_update,) * 3),
        {**cursor, **changed} if changed else no_update,
    )


def charted(data: JournalData, name: str, state: dict[str, str], end: int) -> tuple[tuple[int, int], int, int]:
    """How far back the chart can be moved, and the stretch it shows: what the address asks for, else the last hour."""
    first = max(min(data.span(name)[0], end - CHART_HOURS * HOUR), end - CHART_BACK_HOURS * HOUR)
    t0, t1 = stretch(state, first, end)
    if (t0, t1) == (first, end):
        t0 = t0 if ids.FROM in state else end - CHART_HOURS * HOUR
    return (first, end), t0, t1


def chart_stretch(clock: PlantClock, shown: tuple[int, int], end: int, state: dict[str, str], name: str) -> html.Span:
    """Which stretch that is, and the way back to the last hour."""
    if shown == (end - CHART_HOURS * HOUR, end):
        return html.Span(say("live.last_hour"), className="soft")
    kept = {key: value for key, value in state.items() if key not in (ids.FROM, ids.TO)}
    back = dcc.Link(say("live.to_last_hour"), href=live_url(name, **kept))
    return html.Span([f" {clock.interval(*shown)} · ", back], className="soft")


def _what_follows(now: LineNow) -> str:
    """Says so where what the page shows is not live."""
    if now.finished:
        return say("reason.as_it_stood")
    return say("reason.not_live") if now.stopped else ""


def _ahead(
    data: JournalData, now: LineNow, verdict: Verdict, clock: PlantClock, width: int
) -> tuple[list[Any], list[Any]]:
    """What to check first and how long there is, for the head of the page; and all that comes next."""
    coming, rooms = outlook(data, now)
    parts: list[Any] = []
    if coming:
        parts.append(Drawing(id=ids.LIVE_RULE, svg=ahead_rule(now.line, coming, now.now, clock, width)))
    else:
        known = not (now.finished or now.stopped)
        unknown = "ahead.ended" if now.finished else "ahead.unknown"
        parts.append(html.P(live_head.nothing_words(now) if known else say(unknown), className="quiet"))
    if any(item.low_s is not None for item in coming):
        parts.append(html.P(say("ahead.trend"), className="soft"))
    sentence, against = live_parts.room_sentence(now, rooms), no_room(now, verdict)
    if sentence and against:
        parts.append(html.P(against, className="room"))
    elif sentence:
        parts += [html.P(sentence, className="room"), *room_list(now, rooms)]
    return live_head.head_words(now, verdict, coming, clock), parts
