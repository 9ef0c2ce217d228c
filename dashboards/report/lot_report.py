"""One lot as a file: what happened, against which windows, what it touched, and what was not watched."""

from __future__ import annotations

import html
import math
from importlib import metadata
from importlib.resources import files
from typing import Any

from dash import html as parts_of

from dashboards.clock import MINUTE, PlantClock, duration
from dashboards.consequences import with_consequences
from dashboards.data import JournalData
from dashboards.figures.findings_line import ordered
from dashboards.figures.run_sheet import run_sheet
from dashboards.figures.still_chart import still_chart
from dashboards.held import held_of
from dashboards.judged_by import ways_of
from dashboards.legends import shapes_legend
from dashboards.names import channel_title, difference, figure, unit_of
from dashboards.pages import lot_parts
from dashboards.pages.live_parts import said_about
from dashboards.pages.lot_beside import different_rows
from dashboards.pages.lot_lab import lab_table
from dashboards.pages.lot_raw import raw_table
from dashboards.parts import finding_block, row, table
from dashboards.report.as_html import as_html
from dashboards.report.window_table import windows_kept
from dashboards.returns import with_returns
from dashboards.texts import language, say
from dashboards.views import Lot, Run
from dashboards.windows import PLAIN_ZONE_INNER_C, PLAIN_ZONE_OUTER_C
from monitor.records import Finding

COLUMN_NAMES = ("channel", "outside", "unit", "least", "mean", "most", "low", "target", "high")
STYLES = ("marks.css", "page.css", "print.css")
WIDTH, COLUMNS, POINTS = 980, 480, 700
MOST_CHARTS = 30
"""Findings with a chart of their own; the rest are told in words."""


def lot_report(data: JournalData, lot: Lot, now_ns: int) -> str:
    """The whole file as HTML text. now_ns: when it is made, UTC."""
    run = data.run(lot.line, lot.start, lot.end, COLUMNS)
    clock = data.clock(lot.line)
    held_of_lot = held_of(data, lot, run)
    containers, held, made, rest = lot_parts.body(data, lot, run, {}, held_of_lot)
    body = [
        as_html(lot_parts.facts(data, lot)),
        as_html(parts_of.P(say("report.made", at=clock.dated(now_ns), zone=clock.name), className="soft")),
        as_html(lot_parts.stretch_words(data, lot, run, {}, True, held_of_lot)[0]),
        as_html(_decision()),
        as_html([*containers, *held]),
        f'<div class="wide">{run_sheet(run, WIDTH)}</div>',
        as_html(_windows(data, run)),
        _findings(data, run, clock),
        as_html(different_rows(data, lot, {})),
        as_html(_notes(data, lot)),
        as_html(row(say("raw.title"), *raw_table(data, lot, lot.start, lot.end))),
        as_html(row(say("lab.title"), *lab_table(data, lot, lot.start, lot.end))),
        as_html([*made, *rest]),
        as_html(_versions(data, lot)),
        as_html(_cautions()),
    ]
    title = say("title.lot", lot=lot.number or say("report.no_number"), line=lot.line)
    return _page(title, _reachable("\n".join(body)))


def _decision() -> Any:
    """Blank lines for what was decided, by whom and when, to be filled in by hand."""
    lines = [
        parts_of.P([say(f"report.decision.{name}"), parts_of.Span(className="blank")], className=f"for-{name}")
        for name in ("what", "who", "day")
    ]
    return row(say("report.decision"), parts_of.Div(lines, className="sign"))


def _windows(data: JournalData, run: Run) -> Any:
    kept = windows_kept(data, run)
    if not kept:
        none = say("report.no_windows", ways=ways_of(run.line))
        return row(say("report.windows"), parts_of.P(none, className="quiet"))
    rows = []
    for one in kept:
        low, high = one.limits
        numbers = (one.low, one.mean, one.high, low, one.window.target, high)
        outside = [
            say(f"report.{side}", time=duration(seconds))
            for side, seconds in (("under", one.under_s), ("over", one.over_s))
            if seconds
        ]
        rows.append(
            [
                channel_title(run.line, one.key) + (" *" if one.plain else ""),
                ", ".join(outside) or say("report.inside" if math.isfinite(one.mean) else "report.not_measured"),
                unit_of(run.line, one.key),
                *(figure(value, one.key, run.line) for value in numbers),
            ]
        )
    head = [say(f"report.{name}") for name in COLUMN_NAMES]
    how = say("report.windows_how")
    if any(one.plain for one in kept):
        near, far = (difference(c, "C", 1).removeprefix("+") for c in (PLAIN_ZONE_INNER_C, PLAIN_ZONE_OUTER_C))
        how += say("report.plain", near=near, far=far)
    return row(say("report.windows"), table(head, rows, numbers=(3, 4, 5, 6, 7, 8)), parts_of.P(how, className="soft"))


def _findings(data: JournalData, run: Run, clock: PlantClock) -> str:
    told = with_returns(with_consequences(ordered(run.findings)))
    if not told:
        return as_html(row(say("live.findings"), parts_of.P(say("lot.no_findings"), className="quiet")))
    blocks, actions = [], data.actions(run.line.name)
    for number, shown in enumerate(told):
        finding, times = shown.finding, shown.times
        said = tuple(text for f in times for text in said_about(actions, f, run.t1, clock))
        block = finding_block(run.line, finding, run.t1, clock, "", parts=shown.parts, said=said, times=times)
        blocks.append(as_html(block))
        if number < MOST_CHARTS:
            blocks.append(_evidence(data, run, finding))
    blocks.insert(0, as_html(shapes_legend()))
    heading = html.escape(say("live.findings"))
    return (
        f'<section class="row"><h2 class="margin">{heading}</h2><div class="content">{"".join(blocks)}</div></section>'
    )


def _notes(data: JournalData, lot: Lot) -> Any:
    """What people wrote about the lot; what they wrote about a finding stands with it."""
    written = lot_parts.notes_written(data, lot)
    return row(say("lot.notes"), *(written or [parts_of.P(say("report.no_notes"), className="quiet")]))


def _evidence(data: JournalData, run: Run, finding: Finding) -> str:
    """Its channel, from a while before it began to a while after it ended."""
    last = finding.last
    end = min(run.t1, last.until or last.decided_at)
    room = max(10 * MINUTE, (end - last.since) // 2)
    t0, t1 = max(run.t0, last.since - room), min(run.t1, end + room)
    if t1 <= t0 or not last.channel:
        return ""
    chart = data.chart(run.line.name, last.channel, t0, t1, POINTS)
    return f'<div class="wide">{still_chart(chart, WIDTH)}</div>' if len(chart.trace.t) else ""


def _versions(data: JournalData, lot: Lot) -> Any:
    """What judged this lot: content versions of the files, and the software."""
    clock = data.clock(lot.line)
    rows = [[say("report.software"), f"Evenmelt {software_version()}"]]
    for used in data.source.used_files(lot.line, lot.start, max(lot.end, lot.start + 1)):
        if used.kind == "recipe" and used.name != lot.recipe:
            continue
        version = f"{used.name}, {used.version}"
        if used.until_ns is not None and used.until_ns < lot.end:
            version = say("report.until", version=version, at=clock.since(used.until_ns, lot.end))
        elif used.since_ns > lot.start:
            version = say("report.from", version=version, at=clock.since(used.since_ns, lot.end))
        rows.append([say(f"report.{used.kind}_file"), version])
    return row(say("report.versions"), table([say("report.what"), say("report.version")], rows))


def software_version() -> str:
    """Version of the installed package; a checkout that is not installed has none."""
    try:
        return metadata.version("evenmelt")
    except metadata.PackageNotFoundError:
        return say("report.checkout")


def _cautions() -> Any:
    return row(say("caution.word"), parts_of.P(say("caution.short")))


def _reachable(body: str) -> str:
    """What is wider than a narrow screen scrolls in its own box, which the keyboard must reach."""
    for box in ("wide", "table"):
        body = body.replace(f'<div class="{box}">', f'<div class="{box}" tabindex="0">')
    return body


def _page(title: str, body: str) -> str:
    assets = files("dashboards").joinpath("assets")
    styles = "\n".join(assets.joinpath(name).read_text(encoding="utf-8") for name in STYLES)
    return (
        f'<!DOCTYPE html>\n<html lang="{language.get()}" data-theme="light"><head><meta charset="utf-8">'
        f"<title>{html.escape(title)}</title><style>{styles}</style></head>"
        f'<body class="report"><main>{body}</main></body></html>\n'
    )
