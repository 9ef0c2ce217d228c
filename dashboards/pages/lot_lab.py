"""On the page of a lot: results of the laboratory beside what the log says of the same product, and giving them."""

from __future__ import annotations

import base64
import binascii
from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import PlantClock
from dashboards.data import JournalData
from dashboards.lab_file import MOST_BYTES, Reading, read_results, text_of
from dashboards.lab_fit import COVERAGE, LabView, direction_of, lab_views
from dashboards.lab_results import LabResult, write_results
from dashboards.machine import subject_title
from dashboards.names import channel_title, number
from dashboards.outlook import delay_of
from dashboards.parts import row, rows_form, shape_of, table
from dashboards.shown_units import marked
from dashboards.text_field import left_in
from dashboards.texts import say
from dashboards.touched import FIRST_SHARE, LAST_SHARE
from dashboards.urls import parameters, stretch
from dashboards.views import Lot
from ingest.roles import channel_key
from monitor.line import Line

MOST_APART = 20.0
"""More uncertainties apart than this are not told more closely."""

MOST_TOLD = 40
"""Mistakes shown at once; the rest are counted."""


def lab_section(data: JournalData, lot: Lot) -> html.Section:
    """The place of the table, and the form behind a fold."""
    drop = dcc.Upload(
        [html.Strong(say("lab.drop")), html.Button(say("lab.choose"), className="choose"), html.Span(say("lab.limit"))],
        id=ids.LOT_LAB_FILE, max_size=MOST_BYTES, className="drop", className_active="drop over",
        className_reject="drop over",
    )  # fmt: skip
    form = rows_form("lab", ids.LOT_LAB_WHO, ids.LOT_LAB_ROWS, ids.LOT_LAB_WRITE, example(data, lot))
    said = html.Div(id=ids.LOT_LAB_SAID, className="soft", role="status")
    inside = [html.Summary(say("lab.form")), drop, html.Div(form, className="act"), said]
    fold = html.Details(inside, className="fold")
    return row(say("lab.title"), html.Div(id=ids.LOT_LAB), fold, id=ids.AT_LABORATORY)


def example(data: JournalData, lot: Lot) -> str:
    """A row as it would be written for this lot."""
    local = data.clock(lot.line).local((lot.start + lot.end) // 2)
    return f"{local:%Y-%m-%d %H:%M}; {lot.number}; {say('lab.example_quantity')}; 18.7; %"


def lab_table(data: JournalData, lot: Lot, t0: int, t1: int) -> list[Any]:
    """Every result of the stretch: its word, what the log says, and the findings about that product."""
    views, line = lab_views(data, lot, t0, t1), data.line(lot.line)
    if not views or line is None:
        return [html.P(say("lab.none"), className="quiet")]
    clock = data.clock(lot.line)
    delay, _ = delay_of(data, lot.line, lot.start, max(lot.end, lot.start + 1))
    back = LAST_SHARE * delay.residence_s + delay.downstream_s
    how = say("lab.how", back=f"{back:.0f}", near=f"{FIRST_SHARE * delay.residence_s:.0f}", most=f"{COVERAGE:g}")
    head = [say(f"lab.col_{name}") for name in ("result", "word", "log", "findings", "when")]
    rows = [[_result(v.result), _word(v), _log(v, line), _findings(v), _when(v, clock)] for v in views]
    return [table(head, rows), html.P(how, className="soft")]


def plain(value: float) -> str:
    """A number as the laboratory wrote it, with the reader's decimal mark."""
    return marked(f"{value:.6g}".replace("-", "\N{MINUS SIGN}"))


def _result(one: LabResult) -> list[Any]:
    assert one.value is not None
    words = html.B(say("lab.value", quantity=one.quantity, value=plain(one.value), unit=one.unit))
    u = say("lab.u", u=plain(one.u), unit=one.unit) if one.u else say("lab.no_u")
    told: list[Any] = [words, html.Div(u, className="soft")]
    if one.side:
        limit = one.low if one.side < 0 else one.high
        assert limit is not None
        look = "under" if one.side < 0 else "over"
        told.append(html.Div([*shape_of(look), html.B(say(f"lab.{look}", limit=plain(limit)))]))
    elif one.low is not None and one.high is not None:
        told.append(html.Div(say("lab.inside", low=plain(one.low), high=plain(one.high)), className="soft"))
    return told


def _word(view: LabView) -> list[Any]:
    word = html.B(say(f"lab.word.{view.word}"))
    shape = shape_of("other") if view.word in ("apart", "opposite") else []
    why = html.Div(_why(view), className="soft")
    question = [html.Div(html.B(say("lab.question")))] if view.out_of_line and not view.findings else []
    return [html.Span([*shape, word]), why, *question]


def _why(view: LabView) -> str:
    one = view.result
    if view.apart is not None and view.share is not None:
        parts = "both" if one.u and view.share.error is not None else "lab" if one.u else "own"
        far = abs(view.apart) > MOST_APART
        apart = say("lab.over_apart", most=f"{MOST_APART:g}") if far else number(abs(view.apart), 1)
        text = say(f"lab.why.{parts}", apart=apart, most=f"{COVERAGE:g}")
        return text + (say("lab.why.one_sided") if view.word == "one_sided" else "")
    if view.word == "no_uncertainty":
        return say("lab.why.neither")
    if view.word in ("same", "opposite", "no_move"):
        side = direction_of(one)
        return say("lab.why.thick" if side == 1 else "lab.why.thin" if side == -1 else "lab.why.middle")
    return say(f"lab.why.{view.word}")


def _log(view: LabView, line: Line) -> str:
    if view.share is not None:
        title = subject_title(line, channel_key("feeder_rate", view.result.ingredient))
        error = say("lab.share_unknown") if view.share.error is None else f" ± {number(view.share.error, 2)}"
        return say("lab.share", title=title, share=number(view.share.value, 2), error=error)
    if view.pressure is not None:
        return say(f"lab.pressure.{view.pressure.move}", title=channel_title(line, view.pressure.key))
    return "–"


def _findings(view: LabView) -> Any:
    if not view.findings:
        return say("lab.quiet")
    return html.Ul([html.Li(f.last.summary) for f in view.findings], className="plain")


def _when(view: LabView, clock: PlantClock) -> str:
    one = view.result
    at = clock.day_minute(one.sampled)
    if not one.container or view.end == view.start:
        return say("lab.at", at=at)
    return say("lab.in_container", name=one.container, when=clock.interval(view.start, view.end), at=at)


def register(app: Dash, data: JournalData) -> None:
    """Shows the table and writes what was typed or dropped."""

    @app.callback(
        Output(ids.LOT_LAB, "children"),
        Output(ids.LOT_LAB_SAID, "children"),
        Output(ids.LOT_LAB_ROWS, "left"),
        Output(ids.LOT_LAB_FILE, "contents"),
        Input(ids.LOT_LAB_WRITE, "n_clicks"),
        Input(ids.LOT_LAB_FILE, "contents"),
        Input(ids.LOT_KEY, "data"),
        Input(ids.URL, "search"),
        State(ids.LOT_LAB_FILE, "filename"),
        State(ids.LOT_LAB_WHO, "value"),
        State(ids.LOT_LAB_ROWS, "value"),
    )
    def show(
        clicks: int, contents: str | None, key: dict, search: str, name: str | None, who: str | None, text: str | None
    ) -> tuple[list[Any], Any, Any, None]:
        lot = data.lot(key["line"], key["lot"]) if key else None
        if lot is None:
            raise PreventUpdate
        said, left = "", text or ""
        if ctx.triggered_id == ids.LOT_LAB_FILE and contents:
            said = dropped(data, lot, who or "", name or "", contents)
        elif ctx.triggered_id == ids.LOT_LAB_WRITE and clicks:
            said, left = written(data, lot, who or "", left)
        elif ctx.triggered_id == ids.LOT_LAB_FILE:
            raise PreventUpdate
        # What was dropped is forgotten, or the same file dropped again would be no change anybody hears of.
        shown = lab_table(data, lot, *stretch(parameters(search), lot.start, lot.end))
        return shown, said, left_in(text, left), None


def dropped(data: JournalData, lot: Lot, who: str, name: str, contents: str) -> Any:
    """What is said after a file 'data:...;base64,...' was dropped."""
    try:
        text = text_of(base64.b64decode(contents.partition(",")[2], validate=True))
    except (binascii.Error, ValueError):
        text = None
    if text is None:
        return say("lab.no_text", name=name, most=f"{MOST_BYTES // 10**6}")
    return written(data, lot, who, text)[0]


def written(data: JournalData, lot: Lot, who: str, text: str) -> tuple[Any, str]:
    """What is said after a press, and what is left in the field. Nothing is kept of rows of which one is wrong."""
    if not who.strip():
        return say("act.no_name"), text
    found = read_results(text, data, lot)
    if found.wrong:
        return _mistakes(found), text
    new = write_results(data, lot.line, who, found.results)
    known = len(found.results) - new
    said = say("lab.done_known" if known else "lab.done", count=str(new), known=str(known))
    lots = {one.start: one.number for one in data.lots(lot.line)}
    others = sorted({lots.get(one.lot, "") for one in found.results if one.lot != lot.start})
    return (f"{said} {say('lab.done_other', lots=', '.join(others))}" if others else said), ""


def _mistakes(found: Reading) -> html.Div:
    items = [html.Li(one) for one in found.wrong[:MOST_TOLD]]
    more = len(found.wrong) - MOST_TOLD
    if more > 0:
        items.append(html.Li(say("shift.more", count=str(more))))
    return html.Div([html.P(say("lab.wrong", count=str(len(found.wrong)))), html.Ul(items)])
