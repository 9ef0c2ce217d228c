"""The hours of a lot that were not watched, and the account of its readings."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboards import ids
from dashboards.account_words import account_rows
from dashboards.alarm_states import out_spans
from dashboards.clock import duration
from dashboards.data import JournalData
from dashboards.names import QUANTITY_UNITS, channel_title
from dashboards.parts import row, table
from dashboards.texts import say
from dashboards.views import Run
from dashboards.watched import Watch

QUANTITIES = tuple(QUANTITY_UNITS)


def watched_hours(run: Run, watch: Watch, data: JournalData) -> html.Section:
    """What was not watched in steady running, and why."""
    clock = data.clock(run.line.name)
    if not run.grid.keys:
        none = say("watch.no_windows", total=duration(watch.total_s))
        return row(say("watch.title"), html.P(none), id=ids.AT_WATCHED)
    text = say("watch.of", judged=duration(watch.judged_s), total=duration(watch.total_s))
    if watch.windowless_s:
        text += " " + say("watch.part_windows", time=duration(watch.windowless_s))
    items = [
        html.Li(
            say(
                f"watch.{b.why}",
                title=channel_title(run.line, b.key),
                time=duration(b.seconds),
                at=clock.since(b.first, run.t1),
            )
        )
        for b in watch.blind
    ]
    phases = sorted({s.name for s in run.phases if s.name != "steady"})
    other = say("watch.phases", phases=", ".join(say(f"phase.{p}") for p in phases)) if phases else ""
    grouped = _grouped(watch, run, clock) if len(items) > 8 else items
    return row(
        say("watch.title"),
        html.P(f"{text} {other}"),
        html.Ul(grouped, className="short") if grouped else None,
        id=ids.AT_WATCHED,
    )


def out_in_lot(run: Run, data: JournalData) -> list[Any]:
    """What was out of service in this lot, one line each; [] where nothing was."""
    spans = out_spans(data.source, run.line.name, run.t0, run.t1)
    if not spans:
        return []
    clock, summaries = data.clock(run.line.name), {f.last.finding: f.last.summary for f in data.findings(run.line.name)}
    items = []
    for span in spans:
        told = {
            "summary": summaries.get(span.finding, span.finding),
            "start": clock.since(span.start_ns, run.t1),
            "who": span.who,
            "why": span.why,
        }
        if span.end_ns is None:
            items.append(html.Li(say("out.span_open", **told)))
        else:
            items.append(html.Li(say("out.span", end=clock.since(span.end_ns, run.t1), **told)))
    listed = html.Ul(items, className="short")
    return [row(say("out.title"), listed, html.P(say("out.judged"), className="soft"))]


def _grouped(watch: Watch, run: Run, clock: Any) -> list[Any]:
    """Channels that were blind together, said together."""
    groups: dict[tuple[str, float, int], list[str]] = {}
    for item in watch.blind:
        groups.setdefault((item.why, item.seconds, item.first), []).append(channel_title(run.line, item.key))
    return [
        html.Li(
            say(
                f"watch.{why}",
                title=titles[0] if len(titles) == 1 else say("watch.many", count=str(len(titles))),
                time=duration(seconds),
                at=clock.since(first, run.t1),
            )
        )
        for (why, seconds, first), titles in groups.items()
    ]


def reading_account(data: JournalData, line: str) -> html.Section:
    """How the log was read."""
    rows = [list(pair) for pair in account_rows(data.account(line))]
    if not rows:
        return row(say("account.title"), html.P(say("account.none"), className="quiet"), id=ids.AT_ACCOUNT)
    counted = table([say("account.what"), say("account.count")], rows, class_name="account")
    return row(say("account.title"), counted, id=ids.AT_ACCOUNT)
