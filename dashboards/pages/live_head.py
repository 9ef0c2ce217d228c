"""Under the big word of the live page: what to check first, how long there is, and what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dash import html

from dashboards.ahead import HERE, Coming
from dashboards.clock import SECOND, PlantClock, duration
from dashboards.figures.ahead_rule import first_sentence
from dashboards.grid import JUDGED_PHASES
from dashboards.names import channel_title, figures_apart, unit_of, with_unit
from dashboards.parts import shape_of
from dashboards.said_forecast import forecast_now
from dashboards.texts import say
from dashboards.verdict import Verdict, outside_now, to_check
from dashboards.views import LineNow
from dashboards.windows import inner_limits
from ingest.roles import split_key
from monitor.records import Finding

NEAR_S = 3600.0
"""While something is wrong now, what is another matter and comes later than this is not said loudly; no source."""

MOST_OUT = 8
"""So many readings outside are listed on a phone, where the picture of the line is not seen whole."""

WRONG = ("outside", "act", "look")


@dataclass(frozen=True)
class Left:
    """A sentence about time, the channel it is about ('' of none), and the seconds left."""

    text: str
    key: str = ""
    in_s: float = 0.0


def head_words(now: LineNow, verdict: Verdict, coming: Sequence[Coming], clock: PlantClock) -> list[Any]:
    """What to check first of the most pressing open finding, its time left where one is known, and what comes next.

    What comes next stands back where something is wrong now and it is about another part, later than in an hour.
    """
    if now.stopped or now.finished:
        return []
    parts: list[Any] = []
    finding, following = to_check(now), time_left(now, coming, clock)
    if finding is not None:
        told = finding.last.checks[0]
        if _at(finding.last.channel) != _at(verdict.key):
            told = say("head.check_of", check=told, summary=finding.last.summary)
        parts.append(html.P([html.B(say("finding.first") + " "), told], className="check-first"))
        its = _own(now, finding, coming, clock)
        if its is not None and its.text != following.text:
            parts.append(html.P(its.text))
    out = outside_now(now) if verdict.word in ("outside", "act") else []
    if len(out) > 1 or (out and out[0][0] != verdict.key):
        parts.append(html.Ul([html.Li(_out(now, *one)) for one in out[:MOST_OUT]], className="all-out"))
    meant = {_at(verdict.key), _at(finding.last.channel)} if finding is not None else {_at(verdict.key)}
    another = not following.key or (following.in_s > NEAR_S and _at(following.key) not in meant)
    later = verdict.word in WRONG and another
    # A line that stands uses nothing up; what it may take harm of by standing is a finding's to say.
    if following.key or now.phase != "stopped":
        parts.append(html.P(following.text, className="later" if later else ""))
    return parts


def _out(now: LineNow, key: str, offset: float) -> list[Any]:
    """A reading outside its window, with the limit it is past."""
    low, high = inner_limits(now.windows[key])
    value, limit = figures_apart(now.readings[key], high if offset > 0 else low, key, now.line)
    unit = unit_of(now.line, key)
    told = say(
        "head.out", title=channel_title(now.line, key), value=with_unit(value, unit), limit=with_unit(limit, unit)
    )
    return [*shape_of("over" if offset > 0 else "under"), told]


def no_answer(now: LineNow, clock: PlantClock) -> html.Div:
    """What stands in the place of the big word while the server does not answer; the style sheet hides it till then."""
    told = [say("silent.last", at=clock.time(now.now)), html.Br(), html.B(say("silent.do"))]
    return html.Div([html.Strong([*shape_of("other"), say("silent.word")]), html.P(told)], className="no-answer")


def _at(key: str) -> str:
    """The part a channel is of; the channel itself where it names none."""
    return split_key(key)[1] or key if key else ""


def _own(now: LineNow, finding: Finding, coming: Sequence[Coming], clock: PlantClock) -> Left | None:
    """The time a finding has left, by its own forecast, else by what is ahead of its part."""
    for left, one in said_ahead(now):
        if one.last.finding == finding.last.finding:
            return _of_finding(now, left, one, clock)
    item = next((item for item in coming if _at(item.key) == _at(finding.last.channel)), None)
    return _of_item(now, item, clock) if item is not None else None


def said_ahead(now: LineNow) -> list[tuple[float, Finding]]:
    """Findings whose own forecast of a limit holds still, each with the seconds left, 0 where they have run out."""
    running, told = now.phase in JUDGED_PHASES, []
    for finding in now.findings:
        key = finding.last.channel
        high = now.windows[key].high if key in now.windows else None
        left = forecast_now(finding, now.now, running=running, back=now.back, reading=now.readings.get(key), high=high)
        if left is not None:
            told.append((left[0], finding))
    return told


def unjudged_words(now: LineNow, verdict: Verdict) -> str:
    """That no reading is held against its window, where the verdict is about something more urgent; else ''."""
    if verdict.word != "act" or now.phase in JUDGED_PHASES or now.stopped or now.finished:
        return ""
    return say("reason.unjudged", phase=say(f"phase.{now.phase}"))


def nothing_words(now: LineNow) -> str:
    """That nothing runs out; nothing else, where something is at its limit already."""
    at_limit = any(f.last.priority == 1 and f.last.finding not in now.back for f in now.findings)
    at_limit |= now.phase in JUDGED_PHASES and bool(outside_now(now))
    return say("ahead.nothing_else" if at_limit or said_ahead(now) else "ahead.nothing")


def time_left(now: LineNow, coming: Sequence[Coming], clock: PlantClock) -> Left:
    """What runs out or meets a limit first and when: a plain trend, a hopper, or what a finding forecasts.

    Without words while data are stopped or the log has ended.
    """
    if now.stopped or now.finished:
        return Left("")
    first = next(iter(coming), None)
    ahead = {item.key for item in coming}
    # A limit that was met as forecast is behind it; the next one on its way is what there is time to.
    told = [(left, f) for left, f in said_ahead(now) if left > 0 or f.last.channel not in ahead]
    said = min(told, default=None, key=lambda pair: pair[0])
    if said is not None and (first is None or said[0] < first.in_s):
        return _of_finding(now, *said, clock)
    return Left(nothing_words(now)) if first is None else _of_item(now, first, clock)


def _of_finding(now: LineNow, left_s: float, finding: Finding, clock: PlantClock) -> Left:
    key, at = finding.last.channel, clock.since(now.now + round(left_s * SECOND), now.now)
    title = channel_title(now.line, key)
    if left_s <= 0:
        return Left(say("live.left_reached", title=title), key)
    return Left(say("live.left_finding", title=title, time=duration(left_s), at=at), key, left_s)


def _of_item(now: LineNow, item: Coming, clock: PlantClock) -> Left:
    text = first_sentence(now.line, item, now.now, clock)
    return Left(text, item.key, 0.0 if item.kind in HERE else item.in_s)
