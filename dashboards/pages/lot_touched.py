"""What a lot's findings touched: when at the die, how many kilograms, in which containers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.consequences import with_consequences
from dashboards.data import JournalData
from dashboards.held_words import container_name, kilograms, mass
from dashboards.names import number, priority_word
from dashboards.parts import row, table
from dashboards.shown_units import marked
from dashboards.texts import say
from dashboards.touched import FIRST_SHARE, LAST_SHARE, Container, Delay, Fed, Touched, merged
from dashboards.urls import instant_text, lot_url
from dashboards.views import Lot, Run, end_of
from monitor.records import Finding

VERDICTS = ("hold", "check", "clear")


def least(kg: str, fed: Fed, spans: list[tuple[int, int]]) -> str:
    """'340', 'at least 340' where a part of what was fed was not read. kg: of these spans, in words."""
    known = math.isnan(fed.over(spans)) or all(fed.whole(a, b) for a, b in spans)
    return kg if known else say("lot.at_least", kg=kg)


def touched_row(
    data: JournalData,
    run: Run,
    findings: Sequence[Finding],
    touched: list[Touched],
    delay: Delay,
    fed: Fed,
) -> html.Section:
    """Every finding that touched product of the run, when at the die and how much; what overlaps, counted once."""
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
            id=ids.AT_HELD,
        )
    clock = data.clock(run.line.name)
    spans_of = {i.finding: i for i in touched}
    told = [f for f in findings if f.last.finding in spans_of]
    tops = sorted(with_consequences(told), key=lambda pair: spans_of[pair[0].last.finding].start)

    def when(i: Touched) -> str:
        return clock.stretch(i.start, i.end, run.t1)

    def follower(f: Finding) -> html.Li:
        i = spans_of[f.last.finding]
        return html.Li(f"{f.last.summary}, {when(i)}, {mass(i.kg)}")

    rows: list[list[Any]] = []
    for finding, parts in tops:
        item = spans_of[finding.last.finding]
        name: list[Any] = [html.Div(finding.last.summary)]
        until = end_of(finding, run.t1)
        if until <= run.t0:
            name.append(html.Div(say("touched.before", at=clock.since(until, run.t1)), className="soft"))
        if parts:
            key = "finding.follow_one" if len(parts) == 1 else "finding.follow_many"
            summary = html.Summary(say(key, count=str(len(parts))))
            followers = html.Ul([follower(p) for p in sorted(parts, key=lambda p: spans_of[p.last.finding].start)])
            name.append(html.Details([summary, followers], className="followers soft"))
        rows.append([name, when(item), kilograms(item.kg), priority_word(finding.last.priority)])
    spans = merged([(i.start, i.end) for i in touched])
    for a, b in spans:
        rows.append(
            [
                say("touched.span"),
                clock.stretch(a, b, run.t1),
                least(kilograms(fed.between(a, b)), fed, [(a, b)]),
                "",
            ]
        )
    rows.append([html.B(say("touched.sum")), "", html.B(least(kilograms(fed.over(spans)), fed, spans)), ""])
    head = [say(f"touched.{h}") for h in ("finding", "interval", "kg", "priority")]
    told_sum = html.P(say("touched.sum_how"), className="soft")
    notes = [told_sum, html.P(how, className="soft")]
    return row(say("touched.title"), table(head, rows, numbers=(2,)), *notes, id=ids.AT_HELD)


def containers_row(data: JournalData, lot: Lot, packed: list[Container], state: dict[str, str]) -> html.Section:
    """Every container with its status: those to hold first, then those to check, then the others, each by time."""
    if not packed:
        return row(say("container.title"), html.P(say("container.none"), className="quiet"), id=ids.AT_PACKED)
    clock = data.clock(lot.line)

    def told(item: Container) -> list[Any]:
        href = lot_url(
            lot.line, lot.number, **{**state, "from": instant_text(item.start), "to": instant_text(item.end)}
        )
        return [
            dcc.Link(container_name(item, clock), href=href),
            [
                html.Span(say(f"container.{item.verdict}"), className=f"container {item.verdict}"),
                say("container.outside", mass=mass(item.kg_outside)) if item.kg_outside != 0 else "",
            ],
            kilograms(item.kg_touched) if item.kg_touched else "0",
            kilograms(item.kg),
            clock.interval(item.start, item.end),
        ]

    head = [say(f"container.{h}") for h in ("number", "word", "touched", "kg", "filled")]
    meant = [told(i) for i in sorted(packed, key=lambda i: VERDICTS.index(i.verdict)) if i.verdict != "clear"]
    clear = [told(i) for i in packed if i.verdict == "clear"]
    parts: list[Any] = [table(head, meant, numbers=(2, 3))] if meant else []
    if clear:
        summary = html.Summary(say("container.untouched", count=str(len(clear))))
        parts.append(html.Details([summary, table(head, clear, numbers=(2, 3))], open=not meant))
    return row(say("container.title"), *parts, html.P(say("container.how"), className="soft"), id=ids.AT_PACKED)
