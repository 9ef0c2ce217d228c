"""Lots: find a lot by its number, product, day, finding or raw-material lot."""

from __future__ import annotations

from typing import Any, Literal

from dash import Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import DAY, MINUTE, SECOND, duration
from dashboards.consequences import with_consequences
from dashboards.data import JournalData
from dashboards.drawing import Drawing
from dashboards.figures.lines_sheet import lines_row
from dashboards.held_words import mass
from dashboards.legends import rows_legend
from dashboards.lot_product import product_of
from dashboards.names import priority_word
from dashboards.overlay import MOST_RUNS, lots_meant, reference, references, toggled
from dashboards.packed import LONGEST_FILLING_NS, packed_between
from dashboards.pages.lot_touched import least
from dashboards.parts import table
from dashboards.raw_lots import fillings, raw_numbers
from dashboards.text_field import TextField
from dashboards.texts import say
from dashboards.touched import Container, Verdict, is_product
from dashboards.urls import lot_url, parameters, query
from dashboards.views import Listed, Lot, end_of

PATH = "/lots"
MOST = 120
MOST_DRAWN = 40
ROW_PX = 280
VERDICTS: tuple[Verdict, ...] = ("hold", "check")
"""Containers that the list counts, in this order."""
NEAR_NS = LONGEST_FILLING_NS
"""Farther from a lot no finding touches it: longer than any container is filled and any kilogram is on its way."""


def layout(data: JournalData, state: dict[str, str]) -> html.Div:
    """Search fields filled from the address; the list follows."""
    fields: list[tuple[str, str, str, Literal["search", "text"]]] = [
        (ids.LOTS_FIND, "lots.find", state.get(ids.FIND, ""), "search"),
        (ids.LOTS_FROM, "lots.from", state.get(ids.FROM, ""), "text"),
        (ids.LOTS_TO, "lots.to", state.get(ids.TO, ""), "text"),
    ]
    form = [
        html.Label(
            [
                say(label),
                TextField(
                    id=id_,
                    value=value,
                    kind=kind,
                    debounce=True,
                    className="field",
                    placeholder=say(label + "_hint"),
                ),
            ]
        )
        for id_, label, value, kind in fields
    ]
    return html.Div(
        [html.H1(say("lots.title")), html.Div(form, className="search"), html.Div(id=ids.LOTS_BODY)],
        className="page",
    )


def register(app: Dash, data: JournalData) -> None:
    """Callbacks of the page."""

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(ids.LOTS_FIND, "value"),
        Input(ids.LOTS_FROM, "value"),
        Input(ids.LOTS_TO, "value"),
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def search(find: str | None, first: str | None, last: str | None, before: str) -> str:
        kept = parameters(before).get(ids.CHOSEN, "")
        wanted = query({ids.FIND: find or "", ids.FROM: first or "", ids.TO: last or "", ids.CHOSEN: kept})
        if wanted == (before or ""):
            raise PreventUpdate
        return wanted

    @app.callback(Output(ids.LOTS_BODY, "children"), Input(ids.URL, "search"))
    def show(search: str) -> list[Any]:
        state = parameters(search)
        return lots_table(data, state)


def listed(data: JournalData, state: dict[str, str]) -> list[Listed]:
    """Lots that fit the search, the newest first."""
    found: list[Listed] = []
    for name in data.line_names():
        clock = data.clock(name)
        first = clock.parse_day(state.get(ids.FROM, ""))
        last = clock.parse_day(state.get(ids.TO, ""))
        findings, filled = data.findings(name), fillings(data, name)
        counting = [f for f in findings if is_product(f)]
        for lot in data.lots(name):
            if (first is not None and lot.end < first) or (last is not None and lot.start >= last + DAY):
                continue
            inside = [f for f in findings if f.last.since < lot.end and end_of(f, lot.end) > lot.start]
            item = Listed(
                lot,
                len([f for f, _ in with_consequences(inside) if f.last.priority <= 3]),
                min((f.last.priority for f in inside), default=None),
                raw_numbers(data, lot, filled)
                + tuple(
                    f"{f.last.summary} {f.last.condition.replace('_', ' ')} {f.last.family.replace('_', ' ')}"
                    for f in inside
                ),
                any(f.last.since < lot.end + NEAR_NS and end_of(f, lot.end) > lot.start - NEAR_NS for f in counting),
            )
            if fits(item, state.get(ids.FIND, "")):
                found.append(item)
    return sorted(found, key=lambda item: -item.lot.start)


def fits(item: Listed, wanted: str) -> bool:
    """Whether every word of the search stands in the lot's number, line, product, recipe, raw-material lots or
    findings."""
    lot = item.lot
    text = " ".join([lot.number, lot.line, lot.product, lot.recipe, *item.words]).lower()
    return all(word in text for word in wanted.lower().split())


def lots_table(data: JournalData, state: dict[str, str]) -> list[Any]:
    """The list, or why it is empty."""
    data = data.once()
    found = listed(data, state)
    if not found:
        if any(data.lots(name) for name in data.line_names()):
            return [html.P(say("lots.none"), className="quiet")]
        return [html.P([say("lots.none_yet"), " ", dcc.Link(say("lots.begin"), href="/")], className="quiet")]
    rows = [[_choose(item.lot, state), *_row(data, item, drawn=i < MOST_DRAWN)] for i, item in enumerate(found[:MOST])]
    names = ("beside", "lot", "touched", "containers", "line", "product", "began", "lasted", "over_time", "findings")
    head = [say(f"lots.{name}") for name in names]
    more = [html.P(say("findings.more", count=str(len(found) - MOST)), className="quiet")] if len(found) > MOST else []
    return [*_chosen(data, state), rows_legend(), table(head, rows, class_name="lots", stack=False), *more]


def _choose(lot: Lot, state: dict[str, str]) -> Any:
    """A box to tick: puts the lot among those laid over each other, or takes it out."""
    told = state.get(ids.CHOSEN, "")
    on = reference(lot) in references(told)
    href = PATH + query({**state, ids.CHOSEN: toggled(told, lot, MOST_RUNS)})
    label = say("lots.unchoose" if on else "lots.choose", lot=lot.number or say("lot.none"))
    return dcc.Link("☑" if on else "☐", href=href, title=label, className="tick")


def _chosen(data: JournalData, state: dict[str, str]) -> list[Any]:
    """How many are chosen, and the way to them laid over each other."""
    chosen = lots_meant(data, state.get(ids.CHOSEN, ""))
    if not chosen:
        return []
    first, others = chosen[0], ",".join(reference(lot) for lot in chosen[1:])
    words: list[Any] = [html.Span(say("lots.chosen", count=str(len(chosen))) + " ")]
    if others:
        href = lot_url(first.line, first.number, **{ids.BESIDE: others}) + f"#{ids.AT_OTHERS}"
        words.append(dcc.Link(say("lots.lay"), href=href, className="strong"))
    return [html.P(words)]


def _row(data: JournalData, item: Listed, *, drawn: bool) -> list[Any]:
    lot: Lot = item.lot
    clock = data.clock(lot.line)
    judged = bool(data.source.phase_runs(lot.line, lot.start, max(lot.end, lot.start + 1)))
    words = say("lots.no_findings" if judged else "lots.not_judged")
    if item.findings:
        words = say("lots.count", count=str(item.findings), worst=priority_word(item.worst or 4))
    look = "strong" if item.worst is not None and item.worst <= 2 else "soft" if not item.findings else ""
    lasted = duration((lot.end - lot.start) / SECOND) + (say("lots.running") if lot.running else "")
    return [
        dcc.Link(lot.number or say("lot.none"), href=lot_url(lot.line, lot.number), className="strong"),
        *(_held(data, item) if judged else ("", "")),
        lot.line,
        lot.product or lot.recipe or "–",
        clock.dated(lot.start, data.now_ns()),
        lasted,
        _folded(data, lot) if drawn else "",
        html.Span(words, className=look),
    ]


def _held(data: JournalData, item: Listed) -> tuple[Any, Any]:
    """Kilograms touched, and which containers are to hold or to check, as the page of the lot has them."""
    lot, nothing = item.lot, html.Span(say("lots.untouched"), className="soft")
    if not item.near:
        return nothing, ""
    product = product_of(data, lot.line, lot.start, max(lot.end, lot.start + 1))
    packed = packed_between(data, lot, product.t0, product.t1, product)
    counted = [part for verdict in VERDICTS for part in _counted(packed, verdict)]
    if not product.spans:
        return nothing, counted
    touched = html.Strong(least(mass(product.kg), product.fed, product.spans))
    nowhere = say("lots.in_none" if packed else "lots.no_containers")
    return touched, counted or html.Span(nowhere, className="soft")


def _counted(packed: list[Container], verdict: Verdict) -> list[html.Div]:
    """'■ hold: 3 and all after B9': how many containers of one status; none where there are none."""
    held = [item for item in packed if item.verdict == verdict]
    named = sum(not item.after for item in held)
    told = [str(named)] * (named > 0) + [say("lots.all_after", number=item.number) for item in held if item.after]
    if not told:
        return []
    text = say("lots.status", status=say(f"container.{verdict}"), count=say("lot.and").join(told))
    return [html.Div(text, className=f"container {verdict}")]


def _folded(data: JournalData, lot: Lot) -> Any:
    """The lot's window map folded into one row."""
    run = data.run(lot.line, lot.start, max(lot.end, lot.start + MINUTE), ROW_PX // 4)
    return Drawing(svg=lines_row(run, ROW_PX, ticks=False))
