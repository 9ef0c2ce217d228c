"""One word about a line, with its reason: inside, outside, look, act now, stopped, not judged, no windows, no data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from dashboards.clock import SECOND, PlantClock, duration
from dashboards.figures.findings_line import ordered
from dashboards.grid import JUDGED_PHASES
from dashboards.judged_by import ways_of
from dashboards.machine import machine_order
from dashboards.names import channel_title, figures_apart, unit_of, with_unit
from dashboards.said_when import when_said
from dashboards.texts import say
from dashboards.touched import MELT_DENSITY_KG_M3, RESIDENCE_S, Delay, is_product, touched_span
from dashboards.views import LineNow, Run, WindowGrid, end_of
from dashboards.why_stopped import BEFORE_NS
from dashboards.windows import INSIDE, NO_READING, NOT_JUDGED, inner_limits, place_of, position, sign_of
from monitor.records import Finding

LOOK_THIS_SHIFT = 3

Word = Literal["inside", "outside", "look", "act", "stopped", "not judged", "no windows", "no data", "log"]


@dataclass(frozen=True)
class Verdict:
    """The word, its reason in one sentence, and the channel meant.

    look: 'calm', 'under', 'over' or 'other'. 'act' is the word while a priority 1 finding stands.
    """

    word: Word
    look: str
    reason: str
    key: str = ""


def outside_now(now: LineNow) -> list[tuple[str, float]]:
    """Channels outside their window, the farthest out first, with their positions."""
    found = []
    for key in machine_order(now.line, list(now.windows)):
        value, window = now.readings.get(key), now.windows[key]
        if value is not None and sign_of(place_of(value, window)):
            found.append((key, float(position(value, window))))
    return sorted(found, key=lambda item: -abs(item[1]))


def verdict_of(now: LineNow, clock: PlantClock, recent: Run | None = None) -> Verdict:
    """The word for this moment. recent: the last hours, to say since when."""
    if now.finished and now.reading_at is not None:
        return Verdict("log", "calm", say("reason.log", day=clock.day_minute(now.read_until)))
    if now.stopped:
        if now.reading_at is None:
            return Verdict("no data", "other", say("reason.never"))
        age = duration((now.now - now.reading_at) / SECOND)
        return Verdict("no data", "other", say("reason.stopped", age=age, at=clock.since(now.reading_at, now.now)))
    first = next(iter(pressing(now)), None)
    if first is not None and first.last.priority == 1:
        return _act(now, first, clock)
    if now.phase not in JUDGED_PHASES:
        if now.phase == "stopped":
            return _stands(now, first, clock)
        phase = say(f"phase.{now.phase}")
        reason = say("reason.phase", phase=phase, since=clock.since(now.phase_since, now.now))
        if first is not None:
            return Verdict("look", "other", f"{_dated(first, now, clock)}. {reason}", first.last.channel)
        return Verdict("not judged", "calm", reason)
    if not now.windows:
        if first is not None:
            return Verdict("look", "other", _dated(first, now, clock), first.last.channel)
        return Verdict("no windows", "calm", say("reason.no_windows", ways=ways_of(now.line)))
    out = outside_now(now)
    if out:
        return _outside(now, out, clock, recent)
    if first is not None:
        reason = say("reason.look", at=clock.since(first.last.since, now.now), summary=_dated(first, now, clock))
        return Verdict("look", "other", reason, first.last.channel)
    read = sum(key in now.readings for key in now.windows)
    reason = say("reason.inside", count=str(read))
    inside_for = _inside_since(recent)
    if inside_for is not None and now.now - inside_for > 60 * SECOND:
        reason += say("reason.inside_for", time=duration((now.now - inside_for) / SECOND))
    if read < len(now.windows):
        reason += say("reason.unread", count=str(len(now.windows) - read))
    return Verdict("inside", "calm", reason + ".")


def pressing(now: LineNow) -> list[Finding]:
    """Findings that ask to act, priority 1 before all others, whatever explains it; then those that still hold.

    On a line that stands, what is found of its standing comes before what was so while it ran.
    """
    found = ordered([f for f in now.findings if f.last.priority <= 2])
    return sorted(found, key=lambda f: (f.last.priority > 1, ran_before(f, now), f.last.finding in now.back))


def ran_before(finding: Finding, now: LineNow) -> bool:
    """Whether the line stands now, and ran when the finding began."""
    return now.phase == "stopped" and finding.last.since < now.phase_since - BEFORE_NS


def to_check(now: LineNow) -> Finding | None:
    """The most pressing open finding that says what to check first; None where none does.

    One that is less pressing than another that says nothing does not speak in its place.
    """
    found = pressing(now) or ordered([f for f in now.findings if f.last.priority == LOOK_THIS_SHIFT])
    found = [f for f in found if f.last.priority == 1 or not ran_before(f, now)]
    if not found:
        return None
    same = [f for f in found if f.last.priority == found[0].last.priority]
    return next((f for f in same if f.last.checks), None)


def _dated(finding: Finding, now: LineNow, clock: PlantClock) -> str:
    """Its words, and when they were said: what they tell in figures may have changed since, and may be over."""
    said, back = when_said(finding.last, now.now, clock), now.back.get(finding.last.finding)
    if back is not None:
        said += say("back.short", at=clock.since(back, now.now))
    return f"{finding.last.summary} ({said})"


def _act(now: LineNow, finding: Finding, clock: PlantClock) -> Verdict:
    """Priority 1 stands before windows and phases."""
    last = finding.last
    reason = say("reason.act", summary=_dated(finding, now, clock), at=clock.since(last.since, now.now))
    out = [key for key, _ in outside_now(now) if key != last.channel] if now.phase in JUDGED_PHASES else []
    if out:
        reason += say("reason.act_outside", others=", ".join(channel_title(now.line, key) for key in out[:3]))
    return Verdict("act", "other", reason, last.channel)


def _stands(now: LineNow, finding: Finding | None, clock: PlantClock) -> Verdict:
    """A line that stands; what is open beside it is told, and is not what the line does."""
    reason = say("reason.stands", since=clock.since(now.phase_since, now.now))
    if finding is None:
        return Verdict("stopped", "calm", reason)
    open_ = say("reason.stands_open", summary=_dated(finding, now, clock))
    return Verdict("stopped", "other", f"{reason} {open_}", finding.last.channel)


def _outside(now: LineNow, out: list[tuple[str, float]], clock: PlantClock, recent: Run | None) -> Verdict:
    key, offset = out[0]
    window = now.windows[key]
    low, high = inner_limits(window)
    limit, side = (high, "over") if offset > 0 else (low, "under")
    unit = unit_of(now.line, key)
    value_text, limit_text = figures_apart(now.readings[key], limit, key, now.line)
    reason = say(
        f"reason.{side}",
        title=channel_title(now.line, key),
        value=with_unit(value_text, unit),
        limit=with_unit(limit_text, unit),
    )
    since = outside_since(recent.grid, key, 1 if offset > 0 else -1) if recent is not None else None
    if since is not None:
        reason += say("reason.since", at=clock.since(since, now.now), time=duration((now.now - since) / SECOND))
    if len(out) > 1:
        others = ", ".join(channel_title(now.line, other) for other, _ in out[1:4])
        more = say("reason.and_more", count=str(len(out) - 4)) if len(out) > 4 else ""
        reason += say("reason.also", others=others + more)
    return Verdict("outside", side, reason + ".", key)


def die_words(now: LineNow, verdict: Verdict, clock: PlantClock, recent: Run) -> str:
    """What that means for what leaves the die now, by the same findings as the lot's report, and by its windows.

    May one switch from scrap to bag? '' where nothing can be said.
    """
    if now.phase not in JUDGED_PHASES or verdict.word in ("no data", "log"):
        return ""
    delay, counting = delay_now(now), [f for f in recent.findings if is_product(f)]
    begun = [(f.last.since, f.last.summary) for f in counting if f.open]
    if verdict.word == "outside":
        left = outside_since(recent.grid, verdict.key)
        begun += [(left, "")] if left else []
    if begun:
        since, summary = min(begun)
        at = clock.since(touched_span(since, since, delay)[0], now.now)
        # Of a line that is inside its windows, by what, or the two would seem to disagree.
        if verdict.word == "inside" and summary:
            return say("reason.die_touched_by", at=at, summary=summary)
        return say("reason.die_touched", at=at)
    since = _inside_since(recent)
    if verdict.word != "inside" or since is None:
        return ""
    ended = [since, *(end_of(f, now.now) for f in counting)]
    if max(ended) <= recent.grid.t0:
        return ""
    clean = touched_span(max(ended), max(ended), delay)[1]
    return say("reason.die_clean" if clean <= now.now else "reason.die_soon", at=clock.since(clean, now.now))


def delay_now(now: LineNow) -> Delay:
    """From screw to die at the present rate, else the recipe's."""
    recipe = now.recipe.recipe if now.recipe else None
    residence, rate = now.readings.get("residence_time"), now.rate_kg_h
    wanted = recipe.rate_kg_h if recipe else None
    return Delay(
        residence or RESIDENCE_S,
        now.line.geometry.downstream_volume_l,
        (recipe.melt_density_kg_m3 if recipe else None) or MELT_DENSITY_KG_M3,
        (rate if rate is not None else wanted) or 0.0,
        residence is not None,
        rate is not None,
    )


def outside_since(grid: WindowGrid, key: str, side: int = 0) -> int | None:
    """Start of the column in which the present stay outside began; None if the map does not show one.

    side: -1 under, +1 over: only the stay on that side, whatever was on the other before; 0: either. Columns without a
    reading or outside judged phases neither end a stay nor begin one.
    """
    if key not in grid.keys:
        return None
    row = grid.code[grid.keys.index(key)]
    seen = np.flatnonzero(~np.isin(row, (NO_READING, NOT_JUDGED)))
    outside = np.sign(row[seen]) == side if side else row[seen] != INSIDE
    if not len(seen) or not outside[-1]:
        return None
    inside = np.flatnonzero(~outside)
    first = seen[inside[-1] + 1] if len(inside) else seen[0]
    return grid.t0 + int(first) * grid.step


def _inside_since(recent: Run | None) -> int | None:
    """Since when every judged channel has been inside, as far as the map reaches."""
    if recent is None or not recent.grid.keys:
        return None
    bad = np.isin(recent.grid.code, (-2, -1, 1, 2)).any(axis=0)
    judged = (recent.grid.code != NOT_JUDGED).any(axis=0)
    broken = np.flatnonzero(bad | ~judged)
    return recent.grid.t0 + (int(broken[-1]) + 1) * recent.grid.step if len(broken) else recent.grid.t0
