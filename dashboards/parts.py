"""Pieces of pages that more than one page shows."""

from __future__ import annotations

import time
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.clock import SECOND, PlantClock, duration
from dashboards.data import stopped_after_ns
from dashboards.figures.findings_line import finding_look
from dashboards.figures.marks import SHAPES
from dashboards.learned_words import learned_words
from dashboards.names import channel_title, priority_word
from dashboards.said_forecast import worth_telling
from dashboards.said_when import Present, figures_when, present_words
from dashboards.spoken_findings import fact_words
from dashboards.text_field import TextField
from dashboards.texts import say
from dashboards.views import LineNow, end_of
from monitor.line import Line
from monitor.records import Cause, Finding

NO_VOICE: Any = {"aria-hidden": "true"}
"""For marks whose word stands beside them."""


def shape_of(look: str, *, spoken: bool = False) -> list[html.Span]:
    """The mark of a look as text, none where all is calm.

    spoken: a screen reader hears its side, where no word beside it tells it.
    """
    if look not in SHAPES:
        return []
    voice: dict[str, Any] = {"role": "img", "aria-label": say(f"legend.shape_{look}")} if spoken else NO_VOICE
    return [html.Span(SHAPES[look] + " ", className=f"shape {look}", **voice)]


def row(title: str, *children: Any, class_name: str = "", id: str | None = None) -> html.Section:
    """A strip of the sheet: its name in the margin, its content beside it."""
    given: dict[str, Any] = {"id": id} if id else {}
    heading = [html.H2(title, className="margin")] if title else []
    return html.Section(
        [*heading, html.Div(list(children), className="content")],
        className=f"row {class_name}".strip(),
        **given,
    )


def answer_mark() -> str:
    """Tells one answer from the next, whatever the plant's clock shows: one that stands is no server that is silent."""
    return str(time.time_ns())


def newest(now: LineNow, clock: PlantClock, refresh_s: float) -> html.Span:
    """How old the newest reading is; the browser counts on by itself and says so when the answers stop."""
    at = clock.time(now.reading_at) if now.reading_at is not None else ""
    if now.finished and now.reading_at is not None:
        return html.Span(say("newest.log", at=clock.day_minute(now.read_until)), id=ids.NEWEST, className="newest")
    text = say("newest.none")
    if now.reading_at is not None:
        text = say(
            "newest.stopped" if now.stopped else "newest.fresh",
            at=at,
            age=duration((now.now - now.reading_at) / SECOND),
        )
    told: Any = {
        "data-answer": answer_mark(),
        "data-server": str(now.now // 1_000_000),
        "data-at": at,
        "data-reading": str(now.reading_at // 1_000_000) if now.reading_at is not None else "",
        "data-limit": str(stopped_after_ns(now.line) // 1_000_000),
        "data-refresh": str(int(refresh_s * 1000)),
        "data-fresh": say("newest.fresh"),
        "data-stopped": say("newest.stopped"),
        "data-none": say("newest.none"),
        "data-silent": say("newest.silent"),
    }
    return html.Span(text, id=ids.NEWEST, className="newest", role="status", **told)


def finding_block(
    line: Line,
    finding: Finding,
    now: int,
    clock: PlantClock,
    href: str,
    *,
    parts: tuple[Finding, ...] = (),
    open_: bool = True,
    said: tuple[str, ...] = (),
    cause: Finding | None = None,
    present: Present | None = None,
    back: str = "",
    times: tuple[Finding, ...] = (),
) -> html.Article:
    """One finding: what, since when, why, what to check first, and the caution that belongs to it.

    parts: what only follows from it, closed under it. cause: what it follows from itself, where it still stands alone.
    present: what the line reads now, told beside the finding's own figures, which are older. back: that it is not so
    any more, though open. times: all the times it
    came, where there were several.
    """
    last = finding.last
    look = finding_look(finding)
    end = end_of(finding, now)
    state = "" if finding.open else say("finding.until", at=clock.since(end, now))
    if last.kind == "cut off":
        state = say("finding.cut_off", at=clock.since(last.decided_at, now))
    began, length = clock.since(last.since, now), duration((end - last.since) / SECOND)
    when = say("finding.since", at=began, time=length)
    if not finding.open and last.kind != "cut off" and clock.since(end, now) == began:
        when, state = say("clock.moment", at=began, time=length), ""
    head = html.Header(
        [
            html.Span(priority_word(last.priority), className=f"priority p{last.priority}"),
            html.Span(f"{when}{state}", className="when"),
        ]
    )
    title = html.H3(
        dcc.Link(
            [
                *shape_of(look, spoken=True),
                last.summary,
            ],
            href=href,
        )
    )
    figures = [figures_when(finding, now, clock), present_words(finding, line, present, clock)]
    dated = html.P(" ".join(text for text in figures if text), className="soft dated")
    over = [html.P(html.B(back), className="back")] if back else []
    body: list[Any] = []
    if last.checks:
        body.append(html.P([html.B(say("finding.first") + " "), last.checks[0]], className="first"))
        if len(last.checks) > 1:
            body.append(html.P([html.B(say("finding.then") + " "), "; ".join(last.checks[1:])]))
    if last.causes:
        body += _causes(last.causes)
    if last.evidence:
        told = [fact for fact in last.evidence if not finding.open or worth_telling(fact, last.decided_at, now)]
        facts = "; ".join(dict.fromkeys(fact_words(fact, line) for fact in told))
        body.append(
            html.P(
                [
                    html.B(say("finding.measured") + " "),
                    facts,
                    say("finding.sure", how=last.confidence),
                    learned_words(last),
                ],
                className="soft",
            )
        )
    if cause is not None:
        body.append(html.P([html.B(say("finding.follows") + " "), cause.last.summary], className="soft"))
    if len(times) > 1:
        body.insert(0, _times(times, now, clock))
    if parts:
        body.append(_followers(parts, now, clock))
    body += [html.P(text, className="said") for text in said]
    if last.caution:
        body.append(caution(last.caution))
    if not open_:
        body = [html.Details([html.Summary(say("finding.more")), *body])] if body else []
    marks: Any = {"data-finding": last.finding}
    return html.Article([head, title, *over, dated, *body], className=f"finding {look} p{last.priority}", **marks)


def _followers(parts: tuple[Finding, ...], now: int, clock: PlantClock) -> html.Details:
    """What only follows from a finding: how many at first sight, each with its time when opened."""
    items = [
        html.Li([html.Span(clock.since(p.last.since, now) + " ", className="when"), p.last.summary])
        for p in sorted(parts, key=lambda p: p.last.since)
    ]
    key = "finding.follow_one" if len(parts) == 1 else "finding.follow_many"
    return html.Details([html.Summary(say(key, count=str(len(parts)))), html.Ul(items)], className="followers soft")


def _times(times: tuple[Finding, ...], now: int, clock: PlantClock) -> html.Details:
    """How often the same came, each time with its words when opened."""
    first, last = (clock.since(f.last.since, now) for f in (times[0], times[-1]))
    items = [
        html.Li([html.Span(clock.stretch(f.last.since, end_of(f, now), now) + " ", className="when"), f.last.summary])
        for f in times
    ]
    head = html.Summary(say("finding.came", count=str(len(times)), first=first, last=last))
    return html.Details([head, html.Ul(items)], className="followers soft")


def _causes(causes: tuple[Cause, ...]) -> list[Any]:
    """Causes, the likeliest first; each with what speaks for and against it, where something does."""
    if not any(cause.speaks_for or cause.speaks_against for cause in causes):
        return [html.P([html.B(say("finding.causes") + " "), "; ".join(cause.text for cause in causes)])]
    items = []
    for cause in causes:
        told: list[Any] = [cause.text]
        for side, mark, words in (("for", "+", cause.speaks_for), ("against", "−", cause.speaks_against)):
            if words:
                heard = [
                    html.Span(f"{mark} ", **NO_VOICE),
                    html.B(say(f"finding.speaks_{side}") + " "),
                    "; ".join(dict.fromkeys(words)),
                ]
                told.append(html.Span(heard, className=f"speaks {side}"))
        items.append(html.Li(told))
    return [html.P(html.B(say("finding.causes")), className="causes"), html.Ol(items, className="causes")]


def caution(text: str) -> html.P:
    """A caution as it stands beside what it belongs to."""
    return html.P([html.B(say("caution.word") + " "), text], className="caution")


def rows_form(words: str, who: str, rows: str, write: str, example: str) -> list[Any]:
    """Name, rows to type and the button that writes them down; `words` is the part of the texts it speaks with."""
    typed = TextField(rows, "area", className="editor", rows=3, placeholder=example)
    return [
        field(say("act.who"), who, "who", persistence=True),
        html.Label([say(f"{words}.rows"), typed], className="rows"),
        html.Button(say(f"{words}.write"), id=write, n_clicks=0),
    ]


def field(label: str, id_: str, class_name: str = "", **more: Any) -> html.Label:
    """A labelled text field."""
    return html.Label([label, TextField(id=id_, className="field", **more)], className=class_name)


def channel_links(line: Line, keys: list[str], chosen: str, href: Any) -> html.Div:
    """Every channel as a link; the chosen one is marked."""
    return html.Div(
        [
            dcc.Link(
                channel_title(line, key),
                href=href(key),
                className="channel on" if key == chosen else "channel",
            )
            for key in keys
        ],
        className="channels",
    )


MANY = 7
"""Columns from which a table takes less room between them on a tablet."""

LEAST_STACKED = 4
"""Tables of so many columns have one block for each row on a telephone, every value behind its column's name."""


def table(
    head: list[str], rows: list[list[Any]], numbers: tuple[int, ...] = (), class_name: str = "", *, stack: bool = True
) -> html.Div:
    """A plain table; columns in `numbers` are set right. The column that decides stands first or next to the name.

    stack: False where the page has a layout of its own for a telephone.
    """
    wide = len(head) >= LEAST_STACKED
    stacked = stack and wide

    def cell(i: int, content: Any) -> html.Td:
        named: dict[str, Any] = {"data-label": head[i]} if wide and i else {}
        return html.Td(content, className="number" if i in numbers else None, role="cell", **named)

    # A table laid out as blocks is no table to a screen reader any more, unless its parts say so.
    heads = [
        html.Th(text, className="number" if i in numbers else None, role="columnheader") for i, text in enumerate(head)
    ]
    told = [html.Tr([cell(i, content) for i, content in enumerate(r)], role="row") for r in rows]
    return html.Div(
        html.Table(
            [html.Thead(html.Tr(heads, role="row"), role="rowgroup"), html.Tbody(told, role="rowgroup")],
            className=f"{class_name} stack{' many' * (len(head) >= MANY)}".strip() if stacked else class_name,
            role="table",
        ),
        className="table",
    )
