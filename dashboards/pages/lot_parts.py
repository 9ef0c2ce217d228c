"""What the page of a lot is put together from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.clock import duration
from dashboards.composition import Delivered, delivered
from dashboards.consequences import with_consequences
from dashboards.data import JournalData
from dashboards.files_of import report_url
from dashboards.held import Held, held_of
from dashboards.held_words import outside_in, to_hold
from dashboards.judged_by import ways_of
from dashboards.lot_notes import notes_about
from dashboards.lot_product import Product
from dashboards.machine import mass_known
from dashboards.mass_balance import mass_balance, share_errors
from dashboards.names import QUANTITY_UNITS, difference, number, rate, signed
from dashboards.outside_unheld import unheld_words
from dashboards.pages.lot_balance import balance_row
from dashboards.pages.lot_touched import containers_row, least, touched_row
from dashboards.pages.lot_watch import out_in_lot, reading_account, watched_hours
from dashboards.parts import field, row, table
from dashboards.texts import say
from dashboards.touched import Touched, outside_containers_kg
from dashboards.urls import instant_text, lot_url
from dashboards.views import ChartData, Lot, Run
from dashboards.watched import Watch, watched
from dashboards.windows import PLAIN_ZONE_INNER_C, PLAIN_ZONE_OUTER_C
from monitor.records import Finding

QUANTITIES = tuple(QUANTITY_UNITS)


def facts(data: JournalData, lot: Lot) -> list[Any]:
    """Which lot this is."""
    clock = data.clock(lot.line)
    parts = [
        lot.product,
        say("live.recipe", recipe=lot.recipe) if lot.recipe not in ("", lot.product) else "",
        clock.interval_dated(lot.start, lot.end),
    ]
    if lot.running:
        parts.append(say("lot.running"))
    title = say("lot.title", lot=lot.number, line=lot.line) if lot.number else say("lot.title_none", line=lot.line)
    save = html.A(say("report.save"), href=report_url(lot.line, lot.number), target="_blank", className="save")
    return [html.H1(title), html.Div([*(html.Span(part) for part in parts if part), save], className="what")]


def stretch_words(
    data: JournalData, lot: Lot, run: Run, state: dict[str, str], whole: bool, held: Held | None = None
) -> list[Any]:
    """How much product is touched, in one large figure, and which stretch that is about. held: where it is known."""
    held = held or held_of(data, lot, run)
    product, unheld, packed = held.product, held.unheld, held.packed
    fed, found, touched = product.fed, product.found, product.touched
    total = fed.between(run.t0, run.t1)
    worst = min((f.last.priority for f in found), default=4)
    look = "calm" if not touched else "other" if worst <= 2 else "calm"
    hold = ""
    if touched:
        big, reason = _touched_words(data, lot, product)
        reason += _began_with(data, lot, found, touched)
        hold = to_hold(packed, data.clock(lot.line), outside_containers_kg(touched, packed, fed))
    elif not run.phases:  # of what nobody looked at, nothing can be said to be clean
        big, reason = say("lot.not_judged"), say("lot.not_judged_why")
    elif math.isnan(total):
        big, reason = say("lot.untouched"), say("lot.untouched_unknown_kg")
    else:
        big, reason = say("lot.untouched"), say("lot.untouched_of", total=least(rate(total), fed, [(run.t0, run.t1)]))
    if run.phases:
        reason += " " + _watched_words(run, watched(data, run))
    also = [html.P(html.B(hold.strip()), className="hold")] if hold else []
    if unheld is not None:
        told = unheld_words(unheld, run) + outside_in(packed, data.clock(lot.line))
        also.append(html.P(html.B(told), className="unheld"))
    if not whole:
        big = say("lot.part", what=big[0].lower() + big[1:])
    shape = [html.Span("◆", className="shape")] * (look == "other")
    head = html.Div(
        [html.Strong([*shape, big], className=None if whole else "part"), html.P(reason), *also],
        className=f"verdict {look}",
    )
    clock = data.clock(lot.line)
    kept = {k: v for k, v in state.items() if k not in (ids.FROM, ids.TO)}
    exact = {**state, ids.FROM: instant_text(run.t0), ids.TO: instant_text(run.t1)}
    shared = html.A(say("lot.link"), href=lot_url(lot.line, lot.number, **exact), className="share")
    if whole:
        where: list[Any] = [say("lot.drag")]
    else:
        where = [
            say("lot.stretch", interval=clock.interval(run.t0, run.t1)) + " ",
            dcc.Link(say("lot.whole"), href=lot_url(lot.line, lot.number, **kept)),
        ]
    return [head, html.P([*where, " ", shared], className="soft")]


def _watched_words(run: Run, watch: Watch) -> str:
    """Whether all that has a window was watched; where nothing has one, what is judged in its place."""
    ways = ways_of(run.line)
    if not run.grid.keys:
        return say("lot.no_windows", ways=ways)
    if not watch.judged_s and not watch.windowless_s:
        return say("lot.never_steady")
    part = " " + say("lot.part_windows", time=duration(watch.windowless_s), ways=ways) if watch.windowless_s else ""
    return (say("lot.blind", time=duration(watch.any_s)) if watch.any_s else say("lot.all_watched")) + part


def _touched_words(data: JournalData, lot: Lot, product: Product) -> tuple[str, str]:
    """The large figure and what it is of; the hours alone where kilograms are not known."""
    fed, spans, kg = product.fed, product.spans, product.kg
    total = fed.between(product.t0, product.t1)
    ends = data.clock(lot.line).interval(spans[0][0], spans[-1][1])
    one = "_one" if len(spans) == 1 else ""
    if math.isnan(kg):
        times = say(f"lot.touched_times{one}", count=str(len(spans)), interval=ends)
        why = say("lot.unknown_kg_why") + " " if math.isnan(total) else ""
        return say("lot.touched_unknown"), why + times
    share = number(100 * kg / total if total > 0 else 0.0, 1)
    of = least(rate(total), fed, [(product.t0, product.t1)])
    reason = say(f"lot.touched_of{one}", total=of, count=str(len(spans)), percent=share, interval=ends)
    big = say("lot.touched", kg=least(rate(kg), fed, spans))
    return big[0].upper() + big[1:], reason


def _began_with(data: JournalData, lot: Lot, found: Sequence[Finding], touched: Sequence[Touched]) -> str:
    """When the first of what touched product began, and what it was; what only follows from another is not it."""
    ids_of = {item.finding for item in touched}
    tops = [f for f, _ in with_consequences([f for f in found if f.last.finding in ids_of])]
    first = min(tops, key=lambda f: (f.last.since, f.last.priority), default=None)
    if first is None:
        return ""
    at = data.clock(lot.line).since(first.last.since, lot.end)
    told = " " + say("lot.began_with", at=at, summary=first.last.summary)
    worst = min(tops, key=lambda f: (f.last.priority, f.last.since))
    if worst.last.priority < first.last.priority:
        at = data.clock(lot.line).since(worst.last.since, lot.end)
        told += " " + say("lot.most_pressing", at=at, summary=worst.last.summary)
    return told


def notes_row() -> html.Section:
    """Notes about the lot, and a form to add one."""
    form = [
        field(say("act.who"), ids.LOT_WHO, "who", persistence=True),
        field(say("lot.note_text"), ids.LOT_TEXT),
        html.Button(say("act.note"), id=ids.LOT_WRITE, n_clicks=0),
        html.P(id=ids.LOT_SAID, className="soft", role="status"),
    ]
    return row(say("lot.notes"), html.Div(id=ids.LOT_NOTES), html.Div(form, className="act"), id=ids.AT_NOTES)


def notes_written(data: JournalData, lot: Lot) -> list[Any]:
    """Notes people wrote about this lot, by time."""
    clock, now = data.clock(lot.line), data.now_ns()
    return [
        html.P([html.Span(f"{clock.since(note.at_ns, now)}, {note.who}: ", className="soft"), note.text])
        for note in notes_about(data, lot)
    ]


def window_words(chart: ChartData) -> str:
    """What the chart's window is, where that needs saying."""
    if not chart.windows:
        return say("chart.no_window" if chart.recipe_known else "chart.no_recipe")
    near, far = (difference(c, "C", 1).removeprefix("+") for c in (PLAIN_ZONE_INNER_C, PLAIN_ZONE_OUTER_C))
    return say("chart.plain_window", near=near, far=far) if chart.plain else ""


def body(
    data: JournalData, lot: Lot, run: Run, state: dict[str, str], held: Held | None = None
) -> tuple[list[Any], ...]:
    """Containers; product touched; composition and mass balance; what was not watched, and the reading account."""
    held = held or held_of(data, lot, run)
    product = held.product
    containers = [containers_row(data, lot, held.packed, state)]
    touched = [touched_row(data, run, product.found, product.touched, product.delay, product.fed)]
    made = [_composition(data, lot, run, state), balance_row(data, run)]
    return (
        containers,
        touched,
        made,
        [
            watched_hours(run, watched(data, run), data),
            *out_in_lot(run, data),
            reading_account(data, lot.line),
        ],
    )


def _composition(data: JournalData, lot: Lot, run: Run, state: dict[str, str]) -> html.Section:
    found = delivered(data, lot.line, run.t0, run.t1)
    if not found:
        line = data.line(lot.line)
        rates = line is not None and any(key.startswith("feeder_rate") for key in line.channels)
        why = "composition.unknown_unit" if rates and line is not None and not mass_known(line) else "composition.none"
        return row(say("composition.title"), html.P(say(why), className="quiet"), id=ids.AT_COMPOSITION)
    clock = data.clock(lot.line)
    errors = share_errors({i.title: i.kg for i in found}, mass_balance(data, lot.line, run.t0, run.t1))

    def extreme(pair: tuple[float, int] | None) -> str:
        return say("composition.at", share=number(pair[0], 2), at=clock.minute(pair[1])) if pair else "–"

    def name(item: Delivered) -> Any:
        href = lot_url(lot.line, lot.number, **{**state, ids.CHANNEL: f"share:{item.feeder}"})
        return dcc.Link(item.title, href=href)

    rows = [
        [
            name(i),
            signed(i.difference, 2) if i.difference is not None else "–",
            number(i.share, 2) + _plus_minus(errors.get(i.title)),
            number(i.recipe_share, 2) if i.recipe_share is not None else "–",
            extreme(i.lowest),
            extreme(i.highest),
            rate(i.kg),
        ]
        for i in found
    ]
    head = [
        say(f"composition.{h}") for h in ("ingredient", "difference", "delivered", "recipe", "lowest", "highest", "kg")
    ]
    return row(
        say("composition.title"),
        table(head, rows, numbers=(1, 2, 3, 4, 5, 6)),
        html.P(say("composition.how"), className="soft"),
        id=ids.AT_COMPOSITION,
    )


def _plus_minus(points: float | None) -> str:
    """' ± 0.03', never ' ± 0.00'; '' where it is not known."""
    if points is None:
        return ""
    return f" ± {number(points, 2)}" if points >= 0.005 else f" ± <{number(0.01, 2)}"
