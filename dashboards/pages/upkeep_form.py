"""What a person can do about the part that is shown: say it is repaired, take its alarm out of service, put it back."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.alarm_states import OutOfService
from dashboards.data import FINISHED, JournalData
from dashboards.pages import live_actions
from dashboards.pages.live_actions import refuse
from dashboards.parts import field
from dashboards.presses import pressed_now
from dashboards.text_field import left_in
from dashboards.texts import say
from dashboards.upkeep_item import UpkeepItem
from dashboards.urls import upkeep_url
from monitor.alarms import never_out_of_service
from monitor.records import Finding


def repair_form() -> html.Div:
    """The form; which of its buttons apply comes with the part."""
    return html.Div(
        [
            html.P(say("upkeep.repair_about"), className="soft"),
            html.P(say("upkeep.out_about"), className="soft if-out"),
            field(say("act.who"), ids.UPKEEP_WHO, "who", persistence=True),
            field(say("upkeep.repair_text"), ids.UPKEEP_TEXT),
            html.Button(say("upkeep.repaired"), id=ids.UPKEEP_REPAIRED, n_clicks=0),
            html.Button(say("act.out"), id=ids.UPKEEP_OUT, n_clicks=0, className="if-out"),
            html.Button(say("out.back"), id=ids.UPKEEP_IN, n_clicks=0, className="if-in"),
            html.P(id=ids.UPKEEP_SAID, className="soft", role="status"),
        ],
        id=ids.UPKEEP_FORM,
        className="act",
    )


def form_class(data: JournalData, item: UpkeepItem | None) -> str:
    """Which buttons apply: 'can-out' where the part's alarm can be taken out of service, 'can-in' where it is out."""
    about = about_of(item)
    if item is None or about is None or not item.live:
        return "act"
    if out_of(away_on(data, [item])[item.line], item) is not None:
        return "act can-in"
    alarms = data.alarms.states(item.line, data.now_ns())
    held = about.last.finding in alarms.latching or bool(never_out_of_service(about.last.priority))
    return "act" if held or about.last.finding not in alarms.letters else "act can-out"


def about_of(item: UpkeepItem | None) -> Finding | None:
    """The finding that what is pressed is about: the part's first."""
    return next(iter(item.findings), None) if item else None


def out_of(out: tuple[OutOfService, ...], item: UpkeepItem) -> OutOfService | None:
    """What of the part is out of service, the longest first."""
    mine = {f.last.finding for f in item.findings}
    return next((one for one in out if one.finding.last.finding in mine), None)


def away_on(data: JournalData, items: list[UpkeepItem]) -> dict[str, tuple[OutOfService, ...]]:
    """What is out of service on each line shown; a line with nothing so is not read further."""
    found: dict[str, tuple[OutOfService, ...]] = {}
    for name in dict.fromkeys(item.line for item in items):
        some = data.source.source(name) != FINISHED and data.alarms.states(name, data.now_ns()).out
        found[name] = data.line_now(name).out_of_service if some else ()
    return found


def out_parts(items: list[UpkeepItem], away: dict[str, tuple[OutOfService, ...]]) -> frozenset[str]:
    """Names of the parts with something out of service."""
    return frozenset(item.name for item in items if out_of(away[item.line], item) is not None)


def out_words(data: JournalData, out: OutOfService, line: str) -> str:
    """'Out of service since 14:05, by Ana: new band.'"""
    clock = data.clock(line)
    told = say("out.told", at=clock.since(out.at_ns, data.now_ns()), who=out.who, why=out.why)
    return f"{say('out.title')} {told}"


def out_list(data: JournalData, items: list[UpkeepItem], away: dict[str, tuple[OutOfService, ...]]) -> list[Any]:
    """Everything that is out of service on the lines shown, named in a line each; [] where nothing is."""
    found: list[Any] = []
    for name, outs in away.items():
        for out in outs:
            part = next((i for i in items if i.line == name and out_of((out,), i) is not None), None)
            link = upkeep_url(line="", item=part.name) if part else ""
            summary = out.finding.last.summary
            words: list[Any] = [f"{name}: ", dcc.Link(summary, href=link) if link else summary, ". "]
            found.append(html.Li([*words, html.Span(out_words(data, out, name), className="soft")]))
    if not found:
        return []
    return [html.Div([html.B(say("upkeep.out_count", count=str(len(found)))), html.Ul(found)], className="out-list")]


def register(app: Dash, data: JournalData, shown: Any) -> None:
    """Writes what was pressed. shown: gives the part that an address shows, or None."""

    @app.callback(
        Output(ids.UPKEEP_SAID, "children"),
        Output(ids.UPKEEP_TEXT, "left"),
        Input(ids.UPKEEP_REPAIRED, "n_clicks"),
        Input(ids.UPKEEP_OUT, "n_clicks"),
        Input(ids.UPKEEP_IN, "n_clicks"),
        State(ids.UPKEEP_WHO, "value"),
        State(ids.UPKEEP_TEXT, "value"),
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def pressed(*given: Any) -> tuple[str, Any]:
        who, text, search = given[-3:]
        if not pressed_now():
            raise PreventUpdate
        kind = {ids.UPKEEP_OUT: "out of service", ids.UPKEEP_IN: "back in service"}.get(
            str(ctx.triggered_id), "repaired"
        )
        said, left = done(data, shown(search), kind, who or "", text or "")
        return said, left_in(text, left)


def done(data: JournalData, item: UpkeepItem | None, kind: str, who: str, text: str) -> tuple[str, str]:
    """What is said after a press, and what is left in the text field."""
    about = about_of(item)
    refusal = refuse(about, who)
    if refusal or item is None or about is None:
        return refusal, text
    if kind == "repaired":
        data.act(item.line, about.last.finding, kind, who.strip(), text.strip())
        return say("act.done", at=data.clock(item.line).time(data.now_ns())), ""
    out = out_of(data.line_now(item.line).out_of_service, item)
    finding = out.finding if out is not None else about
    return live_actions.done(data, item.line, finding.last.finding, kind, who, text)
