"""Lines: every line at a glance, or how to begin when there is none."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from weakref import WeakKeyDictionary

from dash import Dash, Input, Output, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.ahead import Coming
from dashboards.back_inside import with_back
from dashboards.clock import HOUR, SECOND, PlantClock, duration
from dashboards.consequences import with_consequences
from dashboards.data import FINISHED, JournalData
from dashboards.drawing import Drawing
from dashboards.figures.ahead_rule import first_sentence
from dashboards.figures.findings_line import ordered
from dashboards.figures.lines_sheet import lines_row
from dashboards.figures.time_axis import PHONE
from dashboards.legends import rows_legend
from dashboards.names import priority_word
from dashboards.outlook import outlook
from dashboards.pages.live_aside import away_line, latched_line
from dashboards.pages.live_parts import rate_words
from dashboards.pages.live_shift import standing_finding
from dashboards.parts import answer_mark, shape_of
from dashboards.said_when import when_said
from dashboards.texts import say
from dashboards.urls import live_url, lot_url
from dashboards.verdict import Word, to_check, verdict_of
from dashboards.views import LineNow, end_of, stands
from monitor.records import Finding

PATH = "/"
RECENT_HOURS = 8
FINE_HOURS, FINE_COLUMNS = 4, 480
"""Of the live page's map."""
SLOWEST_TICK_S = 5
MOST_FINDINGS = 3
ORDER: tuple[Word, ...] = (
    "act", "outside", "no data", "look", "stopped", "not judged", "no windows", "inside", "log",
)  # fmt: skip
"""Of the lines on the page, by their words."""
NEXT_KEPT_NS = 30 * SECOND
NAME_PX, WIDE_NAME_PX, WIDE_PX = 262, 362, 1200
"""Room that page.css gives the name beside the drawing: more where words are large, a little before it begins there."""

_kept: WeakKeyDictionary[JournalData, dict[str, tuple[int, Coming | None]]] = WeakKeyDictionary()


def layout(data: JournalData, refresh_s: float = 1.0) -> html.Div:
    """All lines, or the first-run hint."""
    if not data.line_names():
        return html.Div(
            [
                html.H1(say("first.title")),
                html.P(say("first.text")),
                html.Pre(say("first.command")),
                html.P(say("first.then")),
            ],
            className="page first-run",
        )
    return html.Div(
        [
            dcc.Interval(id=ids.LINES_TICK, interval=int(max(refresh_s, SLOWEST_TICK_S) * 1000)),
            html.Div([html.H1(say("lines.title")), html.Span(id=ids.LINES_ASKED)], className="facts"),
            rows_legend(),
            html.Div(id=ids.LINES_BODY),
        ],
        className="page lines",
    )


def register(app: Dash, data: JournalData, refresh_s: float = 1.0) -> None:
    """Callbacks of the page."""

    @app.callback(
        Output(ids.LINES_BODY, "children"),
        Output(ids.LINES_ASKED, "children"),
        Input(ids.LINES_TICK, "n_intervals"),
        Input(ids.WIDTH, "data"),
        running=[(Output(ids.LINES_TICK, "disabled"), True, False)],
    )
    def tick(_n: int | None, width: int) -> tuple[list[Any], Any]:
        if not width:
            raise PreventUpdate
        # Before the lines are looked at: a plant's clock goes on meanwhile, and no line may seem older than this.
        asked = data.now_ns()
        names = sorted(data.line_names(), key=lambda name: (data.source.source(name) == FINISHED, name))
        return in_order(data, names, width), asked_at(data, names, asked, max(refresh_s, SLOWEST_TICK_S))


def in_order(data: JournalData, names: list[str], width: int) -> list[html.Article]:
    """The blocks of these lines, what asks for somebody first and logs last; of one word in the order of the names."""
    told = [(data.source.source(name) == FINISHED, *worded_block(data, name, width)) for name in names]
    return [block for *_, block in sorted(told, key=lambda one: (one[0], ORDER.index(one[1])))]


def asked_at(data: JournalData, names: list[str], now: int, refresh_s: float) -> html.Span:
    """When the page was last answered; the browser counts on by itself and says so when the answers stop."""
    clock = data.clock(names[0])
    zones = {data.clock(name).name for name in names}
    text = say("lines.asked", at=clock.time(now)) + (f" {clock.name}" if len(zones) > 1 else "")
    told: Any = {
        "data-answer": answer_mark(),
        "data-server": str(now // 1_000_000),
        "data-at": "",
        "data-reading": str(now // 1_000_000),  # of this page itself: how old each line is, its block says
        "data-limit": str(10**12),
        "data-refresh": str(int(refresh_s * 1000)),
        "data-fresh": text,
        "data-stopped": text,
        "data-none": text,
        "data-silent": say("newest.silent"),
    }
    return html.Span(text, id=ids.NEWEST, className="newest", role="status", **told)


def line_block(data: JournalData, name: str, width: int) -> html.Article:
    """One line as the page shows it."""
    return worded_block(data, name, width)[1]


def worded_block(data: JournalData, name: str, width: int) -> tuple[Word, html.Article]:
    """A line's word, and its block: the word, the reason, what it makes, as of when, and its last hours in one row."""
    now, clock = data.line_now(name), data.clock(name)
    end = now.read_until
    run = data.run(name, end - RECENT_HOURS * HOUR, end, 240)
    now = with_back(data, now, run)
    verdict = verdict_of(now, clock, run)
    if verdict.word == "outside":  # since when, as fine as on the line's own page, lest the two tell two times
        verdict = verdict_of(now, clock, data.run(name, end - FINE_HOURS * HOUR, end, FINE_COLUMNS))
    ended = now.finished
    makes = [text for text in _makes(now, clock) if text]
    # Of a line whose data stopped, the reason says when; it is said again only of what it dates.
    dated = _as_of(now, clock) if makes or not now.stopped else ""
    making = " · ".join([*makes, dated] if dated else makes)
    pressing = [f for f, _ in with_consequences(ordered(now.findings)) if f.last.priority <= 3]
    pressing.sort(key=lambda f: (f.last.priority > 1, f.last.finding in now.back, f.last.priority))
    findings = [
        html.Li(
            [
                html.Span(priority_word(f.last.priority), className=f"priority p{f.last.priority}"),
                f.last.summary,
                html.Span(f" ({when_said(f.last, now.now, clock)}{_back(f, now, clock)})", className="soft"),
            ]
        )
        for f in pressing[:MOST_FINDINGS]
    ]
    live_only = "" if ended else " live-only"
    stop = standing_finding(data, now)
    aside = " ".join(text for text in (latched_line(now, clock), away_line(now, clock)) if text)
    ahead = "" if now.stopped else next_limit(data, now, clock)
    look, check = verdict.look, to_check(now) if verdict.word == "act" else None
    return verdict.word, html.Article(
        [
            html.Div(
                [
                    html.H2(dcc.Link(name, href=lot_url(name, now.lot) if ended else live_url(name))),
                    html.P(now.line.line.title, className="soft") if now.line.line.title else None,
                    html.P([*shape_of(look), say(f"verdict.{verdict.word}")], className=f"word {look}{live_only}"),
                    html.P(dcc.Link(say("lines.log_end"), href=live_url(name))) if ended else None,
                ],
                className="name",
            ),
            html.Div(
                [
                    html.P(verdict.reason, className="reason"),
                    html.P([html.B(say("finding.first") + " "), check.last.checks[0]]) if check is not None else None,
                    html.P(making, className="soft"),
                    html.P([html.B(stop.last.summary), f" ({when_said(stop.last, now.now, clock)})"])
                    if stop is not None
                    else None,
                    html.P(ahead, className="next") if ahead else None,
                    html.P(say("lines.open_then")) if findings and now.stopped and not ended else None,
                    html.Ul(findings, className="short") if findings and not ended else None,
                    html.P(found_in_all(data, now, clock), className="next") if ended else None,
                    html.P(aside, className="soft") if aside else None,
                    Drawing(
                        svg=lines_row(run, row_width(width)),
                    ),
                ],
                className=f"what{live_only}",
            ),
        ],
        className=f"line-block {look}{' log' if ended else ''}",
    )


def _back(finding: Finding, now: LineNow, clock: PlantClock) -> str:
    """Since when it is not so any more, though open."""
    since = now.back.get(finding.last.finding)
    return "" if since is None else say("back.short", at=clock.since(since, now.now))


def found_in_all(data: JournalData, now: LineNow, clock: PlantClock) -> str:
    """How many findings a finished log has, and the most pressing of them with its time."""
    every = with_consequences(data.findings(now.line.name))
    found = [f for f, _ in every if f.last.priority <= 3]
    if not found:
        return say("lines.found_notes", count=str(len(every))) if every else say("lines.found_none")
    end = now.read_until
    first = min(found, key=lambda f: (f.last.priority, not stands(f, end), f.last.since))
    word, when = (
        priority_word(first.last.priority),
        clock.stretch(first.last.since, end if stands(first, end) else end_of(first, end), now.now),
    )
    return say("lines.found", count=str(len(found)), worst=word, when=when, summary=first.last.summary)


def row_width(width: int) -> int:
    """Room for the row: beside the name, on a telephone below it."""
    if width < PHONE:
        return width
    return max(400, width - (WIDE_NAME_PX if width >= WIDE_PX else NAME_PX))


def _makes(now: LineNow, clock: PlantClock) -> tuple[str, ...]:
    """Phase and since when, product, lot, rate; what is not known is ''."""
    live = not now.stopped
    phase = say(f"phase.{now.phase}")
    return (
        f"{phase} {say('live.since', at=clock.since(now.phase_since, now.now))}" if live else "",
        now.recipe.recipe.product if now.recipe else "",
        say("live.lot", lot=now.lot) if now.lot else "",
        rate_words(now) if live else "",
    )


def _as_of(now: LineNow, clock: PlantClock) -> str:
    """Which moment all in the block is of that tells no other; the reason of a finished log says it already."""
    if now.finished or now.reading_at is None:
        return ""
    if now.stopped:
        return say("lines.as_of_last", at=clock.since(now.reading_at, now.now))
    return say("lines.as_of", at=clock.time(now.reading_at), age=duration((now.now - now.reading_at) / SECOND))


def next_limit(data: JournalData, now: LineNow, clock: PlantClock) -> str:
    """What runs out or meets a limit next, in one sentence; '' where nothing does. Looked up twice a minute."""
    kept = _kept.setdefault(data, {})
    at, coming = kept.get(now.line.name, (-NEXT_KEPT_NS, None))
    if not 0 <= now.now - at < NEXT_KEPT_NS:
        coming = next(iter(outlook(data, now)[0]), None)
        kept[now.line.name] = (at := now.now, coming)
    if coming is None:
        return ""
    left = replace(coming, in_s=max(0.0, coming.in_s - (now.now - at) / SECOND))
    return first_sentence(now.line, left, now.now, clock)
