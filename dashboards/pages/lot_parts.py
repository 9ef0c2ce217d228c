"""What the page of a lot is put together from."""

from __future__ import annotations

import math
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.clock import duration
from dashboards.composition import Delivered, delivered
from dashboards.consequences import with_consequences
from dashboards.data import JournalData
from dashboards.files_of import report_url
from dashboards.held_words import container_name, kilograms, mass, to_hold
from dashboards.lot_notes import notes_about
from dashboards.machine import mass_known
from dashboards.mass_balance import mass_balance, share_errors
from dashboards.names import QUANTITY_UNITS, difference, number, priority_word, rate, signed
from dashboards.outlook import delay_of
from dashboards.packed import packed_in
from dashboards.pages.lot_balance import balance_row
from dashboards.pages.lot_watch import out_in_lot, reading_account, watched_hours
from dashboards.parts import field, row, table
from dashboards.shown_units import marked
from dashboards.texts import say
from dashboards.touched import (
    FIRST_SHARE,
    LAST_SHARE,
    Container,
    Delay,
    Fed,
    Touched,
    merged,
    outside_containers_kg,
    touched_by,
)
from dashboards.urls import instant_text, lot_url
from dashboards.views import ChartData, Lot, Run
from dashboards.watched import watched
from dashboards.windows import PLAIN_ZONE_INNER_C, PLAIN_ZONE_OUTER_C
from monitor.records import Finding

QUANTITIES = tuple(QUANTITY_UNITS)


def facts(data: JournalData, lot: Lot) -> list[Any]:
    """Which lot this is."""
    clock = data.clock(lot.line)
    parts = [
        lot.product,
        say("live.recipe", recipe=lot.recipe) if lot.recipe not in ("", lot.product) else "",
        clock.interval(lot.start, lot.end),
    ]
    if lot.running:
        parts.append(say("lot.running"))
    title = say("lot.title", lot=lot.number, line=lot.line) if lot.number else say("lot.title_none", line=lot.line)
    save = html.A(say("report.save"), href=report_url(lot.line, lot.number), target="_blank", className="save")
    return [html.H1(title), html.Div([*(html.Span(part) for part in parts if part), save], className="what")]


def stretch_words(data: JournalData, lot: Lot, run: Run, state: dict[str, str], whole: bool) -> list[Any]:
    """How much product is touched, in one large figure, and which stretch that is about."""
    delay, fed = delay_of(data, lot.line, run.t0, run.t1)
    touched = touched_by(run.findings, delay, fed, run.t0, run.t1)
    total = fed.between(run.t0, run.t1)
    spans = merged([(item.start, item.end) for item in touched])
    worst = min((f.last.priority for f in run.findings), default=4)
    look = "calm" if not touched else "other" if worst <= 2 else "calm"
    if touched:
        big, reason = _touched_words(data, lot, spans, total, fed)
        packed = packed_in(data, lot, run)
        reason += to_hold(packed, outside_containers_kg(touched, packed, fed))
    elif math.isnan(total):
        big, reason = say("lot.unknown_kg"), say("lot.unknown_kg_why")
    else:
        big, reason = say("lot.untouched"), say("lot.untouched_of", total=rate(total))
    watch = watched(data, run)
    reason += " " + (say("lot.blind", time=duration(watch.any_s)) if watch.any_s else say("lot.all_watched"))
    head = html.Div(
        [html.Strong([html.Span("◆", className="shape")] * (look == "other") + [big]), html.P(reason)],
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


def _touched_words(
    data: JournalData, lot: Lot, spans: list[tuple[int, int]], total: float, fed: Fed
) -> tuple[str, str]:
    """The large figure and what it is of; the hours alone where kilograms are not known."""
    ends, kg = data.clock(lot.line).interval(spans[0][0], spans[-1][1]), fed.over(spans)
    one = "_one" if len(spans) == 1 else ""
    if math.isnan(kg):
        times = say(f"lot.touched_times{one}", count=str(len(spans)), interval=ends)
        why = say("lot.unknown_kg_why") + " " if math.isnan(total) else ""
        return say("lot.touched_unknown"), why + times
    share = number(100 * kg / total if total > 0 else 0.0, 1)
    reason = say(f"lot.touched_of{one}", total=rate(total), count=str(len(spans)), percent=share, interval=ends)
    return say("lot.touched", kg=rate(kg)), reason


def notes_row() -> html.Section:
    """Notes about the lot, and a form to add one."""
    form = [
        field(say("act.who"), ids.LOT_WHO, "who", persistence=True),
        field(say("lot.note_text"), ids.LOT_TEXT),
        html.Button(say("act.note"), id=ids.LOT_WRITE, n_clicks=0),
        html.P(id=ids.LOT_SAID, className="soft", role="status"),
    ]
    return row(say("lot.notes"), html.Div(id=ids.LOT_NOTES), html.Div(form, className="act"))


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
        return say("chart.no_window")
    near, far = (difference(c, "C", 1).removeprefix("+") for c in (PLAIN_ZONE_INNER_C, PLAIN_ZONE_OUTER_C))
    return say("chart.plain_window", near=near, far=far) if chart.plain else ""


def body(data: JournalData, lot: Lot, run: Run, state: dict[str, str]) -> list[Any]:
    """Composition, product touched, containers, what was not watched, and the reading account."""
    delay, fed = delay_of(data, lot.line, run.t0, run.t1)
    touched = touched_by(run.findings, delay, fed, run.t0, run.t1)
    packed = packed_in(data, lot, run)
    rows = [_composition(data, lot, run, state), balance_row(data, run), _touched(data, lot, run, touched, delay, fed)]
    if packed:
        rows.append(_containers(data, lot, packed, state))
    return [
        *rows,
        watched_hours(run, watched(data, run), data),
        *out_in_lot(run, data),
        reading_account(data, lot.line),
    ]


def _composition(data: JournalData, lot: Lot, run: Run, state: dict[str, str]) -> html.Section:
    found = delivered(data, lot.line, run.t0, run.t1)
    if not found:
        line = data.line(lot.line)
        rates = line is not None and any(key.startswith("feeder_rate") for key in line.channels)
        why = "composition.unknown_unit" if rates and line is not None and not mass_known(line) else "composition.none"
        return row(say("composition.title"), html.P(say(why), className="quiet"))
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
            number(i.recipe_share, 2) if i.recipe_share is not None else "–",
            number(i.share, 2) + _plus_minus(errors.get(i.title)),
            signed(i.difference, 2) if i.difference is not None else "–",
            extreme(i.lowest),
            extreme(i.highest),
            rate(i.kg),
        ]
        for i in found
    ]
    head = [
        say(f"composition.{h}") for h in ("ingredient", "recipe", "delivered", "difference", "lowest", "highest", "kg")
    ]
    return row(
        say("composition.title"),
        table(head, rows, numbers=(1, 2, 3, 4, 5, 6)),
        html.P(say("composition.how"), className="soft"),
    )


def _plus_minus(points: float | None) -> str:
    """' ± 0.03', never ' ± 0.00'; '' where it is not known."""
    if points is None:
        return ""
    return f" ± {number(points, 2)}" if points >= 0.005 else f" ± <{number(0.01, 2)}"


def _touched(data: JournalData, lot: Lot, run: Run, touched: list[Touched], delay: Delay, fed: Fed) -> html.Section:
    known = "touched.residence_known" if delay.residence_known else "touched.residence_start"
    how = say(
        "touched.how",
        first=number(FIRST_SHARE, 1),
        last=number(LAST_SHARE, 0),
        residence=f"{delay.residence_s:.0f}",
        known=say(known),
        volume=marked(f"{delay.downstream_l:g}"),
        density=f"{delay.density_kg_m3:.0f}",
        seconds=f"{delay.downstream_s:.0f} s" if delay.downstream_s else say("touched.time_not_known"),
        rate=say("touched.at_recipe_rate") if delay.downstream_s and not delay.rate_known else "",
    )
    if not touched:
        return row(
            say("touched.title"),
            html.P(say("touched.none"), className="quiet"),
            html.P(how, className="soft"),
        )
    clock = data.clock(lot.line)
    spans_of = {i.finding: i for i in touched}
    told = [f for f in run.findings if f.last.finding in spans_of]
    tops = sorted(with_consequences(told), key=lambda pair: spans_of[pair[0].last.finding].start)

    def when(i: Touched) -> str:
        return f"{clock.since(i.start, run.t1)} – {clock.since(i.end, run.t1)}"

    def follower(f: Finding) -> html.Li:
        i = spans_of[f.last.finding]
        return html.Li(f"{f.last.summary}, {when(i)}, {mass(i.kg)}")

    rows: list[list[Any]] = []
    for finding, parts in tops:
        item = spans_of[finding.last.finding]
        name: list[Any] = [html.Div(finding.last.summary)]
        if parts:
            key = "finding.follow_one" if len(parts) == 1 else "finding.follow_many"
            summary = html.Summary(say(key, count=str(len(parts))))
            followers = html.Ul([follower(p) for p in sorted(parts, key=lambda p: spans_of[p.last.finding].start)])
            name.append(html.Details([summary, followers], className="followers soft"))
        rows.append([name, priority_word(finding.last.priority), when(item), kilograms(item.kg)])
    spans = merged([(i.start, i.end) for i in touched])
    for a, b in spans:
        rows.append(
            [
                say("touched.span"),
                "",
                f"{clock.since(a, run.t1)} – {clock.since(b, run.t1)}",
                kilograms(fed.between(a, b)),
            ]
        )
    rows.append([html.B(say("touched.sum")), "", "", html.B(kilograms(fed.over(spans)))])
    head = [say(f"touched.{h}") for h in ("finding", "priority", "interval", "kg")]
    return row(say("touched.title"), table(head, rows, numbers=(3,)), html.P(how, className="soft"))


def _containers(data: JournalData, lot: Lot, packed: list[Container], state: dict[str, str]) -> html.Section:
    clock = data.clock(lot.line)
    rows = []
    for item in packed:
        href = lot_url(
            lot.line, lot.number, **{**state, "from": instant_text(item.start), "to": instant_text(item.end)}
        )
        word = html.Span(say(f"container.{item.verdict}"), className=f"container {item.verdict}")
        rows.append(
            [
                dcc.Link(container_name(item), href=href),
                word,
                clock.interval(item.start, item.end),
                kilograms(item.kg),
                kilograms(item.kg_touched) if item.kg_touched else "0",
            ]
        )
    head = [say(f"container.{h}") for h in ("number", "word", "filled", "kg", "touched")]
    return row(
        say("container.title"),
        table(head, rows, numbers=(3, 4)),
        html.P(say("container.how"), className="soft"),
    )
