"""From a decision to records: words, priority, which open finding explains which, which cause is likeliest.

A finding that an older or simultaneous, more specific one explains carries that one's id in `part_of`. Never folded
are priority 1 findings, nor a consequence that began before its cause or is larger than the cause can bring about:
these stand for themselves. A cause that is found later than its consequence revises it at that moment. What may
explain what is a short list, by physics (explains.py).
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ingest.roles import split_key
from monitor import explains_heat, pressure_path
from monitor.contract import NS, Condition, Context
from monitor.episodes import CAME_BACK, Turn
from monitor.explains import (
    AFTERMATH_S,
    BACKS_UP,
    BACKS_UP_AFTER_S,
    BRAKED,
    COLDER_MELT,
    DATED_LATE_S,
    EXPLAINS,
    FOLLOWS_THE_LOAD,
    LATE_FOR_S,
    NEAR_BY,
    NEEDS_NO_HEAT,
    OF_ONE_FEEDER,
    OF_SEVERAL,
    OF_TWO_ZONES,
    RECOVERING,
    RECOVERS_SLOWLY,
    RECOVERY_S,
    SHARES,
    SPREADS,
    SPREADS_BY_SHARE,
    STILL_HOT,
    TEMPERATURES,
    ZONES,
)
from monitor.explains_amounts import too_large_for
from monitor.explains_drift import one_event
from monitor.explains_feed import MORE_COMES, more_comes
from monitor.explains_heat import PER_ZONE_BESIDE, SCATTER_C
from monitor.explains_pressure import (
    BY_ITS_PRESSURE,
    BY_THE_WALL,
    UNSEEN_WALL,
    can_have_moved,
    goes_the_other_way,
    raised_behind,
    thinned,
    wall_moves,
)
from monitor.explains_slug import LETS_GO, lets_go
from monitor.records import Cause, Evidence, Record, finding_id
from monitor.reference.apply import LEANS
from monitor.witnesses import Standing, Witnesses, ranked

ENDS_LATE_S = 1800
"""So long after it an end is decided at most: the off-delay of a temperature."""

OUTLASTS_NS, HOT_OUTLASTS_NS = (AFTERMATH_S + 300) * NS, (AFTERMATH_S + 1500) * NS
"""What goes on for so long after its cause has ended is no longer its doing, decided some minutes after it began; a
zone that comes back past its set-point takes half an hour to settle."""

MEMORY_NS = HOT_OUTLASTS_NS + (600 + ENDS_LATE_S) * NS
"""Temperatures find back this slowly: what begins so soon after a cause has ended may still be its doing, and what it
explained may end as late."""


JUST_BEFORE_NS = 600 * NS
"""A feeder that has begun to fail so shortly before is more likely behind what comes than one that has stood for long.
Common practice, no source."""

FOLLOWS_SET_C = 5.0
"""A zone further than this beyond its own set-point does not follow it: no set-point explains that. The usual outer
tolerance; common practice, no source."""

LEAST = 4
"""The least urgent of all priorities: a note."""


def said(
    condition: Condition, subject: str, turn: Turn, ctx: Context, lot: str, seq: int, standing: Standing
) -> tuple[list[Record], Standing]:
    """The records of one turn, the first numbered `seq`, and the findings that stand after it.

    The first record is the turn's own. Others follow where it tells something new about findings that are open.
    """
    words = condition.explain(subject, turn.level, turn.facts, ctx)
    if ctx.reference is not None and turn.facts.get(LEANS) == 1:
        words = replace(words, evidence=(*words.evidence, ctx.reference.evidence()))
    if (times := turn.facts.get(CAME_BACK)) is not None:
        words = replace(words, evidence=(*words.evidence, Evidence("came back", times, "times")))
    identity = finding_id(ctx.line.name, condition.name, subject, turn.since)
    channel = condition.channel(subject)
    raised = standing[identity]["raised"] if identity in standing else LEAST
    priority = min(words.priority, raised)
    me = {
        "condition": condition.name,
        "channel": channel,
        "since": turn.since,
        "priority": priority,
        "raised": raised,
        "moved": {key: float(value) for key, value in words.moved.items() if value == value},
    }
    ended = (turn.until or turn.decided_at) if turn.kind in ("closed", "cut off") else None
    part_of = ""
    if priority > 1:
        able = _Able(standing, condition.name, priority, ended or turn.decided_at)
        known = standing[identity]["part_of"] if identity in standing else ""
        part_of = known if known in able and _still(standing[known], me) else _explained_by(identity, me, ctx, able)
    causes = tuple(Cause(item) if isinstance(item, str) else item for item in words.causes)
    record = Record(
        decided_at=turn.decided_at,
        seq=seq,
        finding=identity,
        kind=turn.kind,
        line=ctx.line.name,
        family=condition.family,
        condition=condition.name,
        channel=channel,
        since=turn.since,
        until=turn.until,
        priority=priority,
        confidence=words.confidence,
        summary=words.summary,
        # What was to be measured and was not read says nothing; what is told without a unit is a sentence.
        evidence=tuple(fact for fact in words.evidence if fact.value is not None or not fact.unit),
        causes=ranked(causes, identity, Witnesses(standing, turn.decided_at)),
        checks=words.checks,
        caution=words.caution,
        lot=lot,
        recipe=ctx.recipe.name if ctx.recipe else "",
        part_of=part_of,
    )
    newest = record if ended is None else None
    recent = {
        key: one for key, one in standing.items() if one["ended"] is None or one["ended"] > turn.decided_at - MEMORY_NS
    }
    after = {**recent, identity: {**me, "part_of": part_of, "ended": ended, "summary": words.summary, "record": newest}}
    told = [record]
    if turn.kind == "opened":
        told, after = _tell_others(record, ctx, after)
    return _raise_leaders(told, after)


class _Able:
    """Findings under which one of this priority may stand: open ones, and those that ended a short while ago and were
    as urgent, since nobody would be called by them any more."""

    def __init__(self, standing: Standing, condition: str, priority: int, now_ns: int) -> None:
        self.standing, self.priority, self.now_ns = standing, priority, now_ns
        self.outlasts_ns = HOT_OUTLASTS_NS if condition in ZONES else OUTLASTS_NS

    def __contains__(self, key: str) -> bool:
        one = self.standing.get(key)
        return one is not None and (
            one["ended"] is None
            or (one["priority"] <= self.priority and self.now_ns <= one["ended"] + self.outlasts_ns)
        )


def _raise_leaders(told: list[Record], standing: Standing) -> tuple[list[Record], Standing]:
    """Findings that explain something more urgent become as urgent, and those that explain them."""
    records, after = list(told), standing
    for record in told:
        seen, key = {record.finding}, record.part_of
        while key in after and key not in seen:
            one = after[key]
            if one["ended"] is None and one["priority"] > record.priority:
                revised = replace(
                    one["record"],
                    decided_at=record.decided_at,
                    seq=told[0].seq + len(records),
                    kind="revised",
                    priority=record.priority,
                )
                records.append(revised)
                raised = {"priority": record.priority, "raised": record.priority, "record": revised}
                after = {**after, key: {**one, **raised}}
            seen.add(key)
            key = one["part_of"]
    return records, after


def dated_late_s(condition: str) -> int:
    """A cause explains nothing that began longer before it than this, seconds; a minute where nothing is said."""
    return DATED_LATE_S.get(condition, 60)


def _tell_others(opened: Record, ctx: Context, standing: Standing) -> tuple[list[Record], Standing]:
    """Revises the open findings that the new one explains or whose causes it bears witness for."""
    records, after, witnesses = [opened], dict(standing), Witnesses(standing, opened.decided_at)
    for identity, one in sorted(standing.items(), key=lambda item: (item[1]["since"], item[0])):
        if identity == opened.finding or one["ended"] is not None:
            continue
        last: Record = one["record"]
        part_of = last.part_of
        if not part_of and last.priority > 1:
            part_of = _explained_by(identity, one, ctx, _Able(after, last.condition, last.priority, opened.decided_at))
        causes = ranked(last.causes, identity, witnesses)
        if part_of == last.part_of and causes == last.causes:
            continue
        revised = replace(
            last,
            decided_at=opened.decided_at,
            seq=opened.seq + len(records),
            kind="revised",
            part_of=part_of,
            causes=causes,
        )
        records.append(revised)
        after[identity] = {**one, "part_of": part_of, "record": revised}
    return records, after


@functools.cache
def _may_explain(condition: str) -> frozenset[str]:
    """Conditions whose findings may explain one of this condition: most may not, and need not be looked at."""
    return frozenset(
        name
        for table in (EXPLAINS, BACKS_UP, LETS_GO, MORE_COMES)
        for name, explained in table.items()
        if condition in explained
    )


def _explained_by(identity: str, me: Mapping[str, Any], ctx: Context, able: _Able) -> str:
    """The oldest finding that can explain this one; '' if none. Of two feeders the one that has just begun."""
    may = _may_explain(me["condition"])
    found = [
        (one["since"], key)
        for key, one in able.standing.items()
        if one["condition"] in may and key in able and _explains(one, me, ctx) and not _leads_to(identity, key, able)
    ]
    if not found:
        return ""
    oldest = able.standing[min(found)[1]]
    if oldest["condition"] in OF_ONE_FEEDER and me["since"] - oldest["since"] > JUST_BEFORE_NS:
        others = [one for one in found if _of_another_feeder(able.standing[one[1]], oldest)]
        found = [one for one in others if me["since"] - one[0] <= JUST_BEFORE_NS] or found
    return min(found)[1]


def _of_another_feeder(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    return one["condition"] in OF_ONE_FEEDER and split_key(one["channel"])[1] != split_key(other["channel"])[1]


def _still(cause: Mapping[str, Any], me: Mapping[str, Any]) -> bool:
    """Whether what explained a pressure, or a zone too hot, as it began can have made all of it that there is now."""
    if explains_heat.outgrown(cause, me):
        return False
    return me["condition"] not in BY_ITS_PRESSURE or can_have_moved(cause["condition"], me["moved"])


def _leads_to(identity: str, key: str, able: _Able) -> bool:
    """Whether a finding is this one or, over however many others, explained by it: it can't explain it in turn."""
    seen: set[str] = set()
    while key and key not in seen:
        if key == identity:
            return True
        seen.add(key)
        key = able.standing[key]["part_of"] if key in able else ""
    return False


def _explains(cause: Mapping[str, Any], effect: Mapping[str, Any], ctx: Context) -> bool:
    name, condition, since = cause["condition"], effect["condition"], effect["since"]
    # A screw that gets too much holds no feeder back, and its throat none that feeds elsewhere.
    backs_up = condition in BACKS_UP.get(name, ()) and not cause["moved"].get("torque", 0.0) > 0
    if backs_up and not _feeds_by_the_side(split_key(effect["channel"])[1], ctx):
        return cause["ended"] is None and since >= cause["since"] + BACKS_UP_AFTER_S * NS
    if lets_go(cause, effect):
        return True
    late_s = LATE_FOR_S.get((name, condition), dated_late_s(name))
    may = condition in EXPLAINS.get(name, ()) or more_comes(cause, condition)
    if not may or cause["since"] > since + late_s * NS:
        return False
    recovers = (condition in RECOVERING and name in RECOVERS_SLOWLY) or (condition in BRAKED and name == "flushing")
    recovers |= condition in FOLLOWS_THE_LOAD and name == "flooded"
    # Over a flood-fed screw a throat holds some minutes of feed: it runs out after its feeder was given up.
    recovers |= condition == "starved" and name in OF_ONE_FEEDER and not ctx.starve_fed
    cools = condition in TEMPERATURES or (condition in NEEDS_NO_HEAT and name in STILL_HOT)
    slow = AFTERMATH_S if cools else RECOVERY_S if recovers else 0
    if cause["ended"] is not None and since > cause["ended"] + slow * NS:
        return False
    if too_large_for(cause["moved"], effect["moved"], name in OF_ONE_FEEDER):
        return False
    by_heat = explains_heat.by_heat(cause, effect, ctx)
    if by_heat is not None:
        return by_heat
    if condition == name == "drift":
        return one_event(cause, effect)
    if condition == name:
        zone, other = split_key(cause["channel"])[1], split_key(effect["channel"])[1]
        beside = name in SPREADS and cause["since"] < since and _near(zone, other, ctx.line.zone_names, 1)
        if name in SPREADS_BY_SHARE:
            off_c, cause_c = (abs(one["moved"].get("off_c", math.nan)) for one in (effect, cause))
            beside &= off_c <= PER_ZONE_BESIDE * cause_c + SCATTER_C
        return beside or cause["channel"] == OF_SEVERAL.get(name) != effect["channel"]
    if name == "melt_over_temperature":
        return thinned(cause["moved"], effect["moved"])
    if goes_the_other_way(name, effect["moved"]):
        return False
    role, at = split_key(effect["channel"])
    if role == "melt_pressure" and raised_behind(name, effect["moved"], pressure_path.place(at, ctx)):
        return False
    if name == "setpoint_not_recipe" and effect["moved"].get("beyond_set_c", 0.0) > FOLLOWS_SET_C:
        return False
    if name == "setpoint_not_recipe" and "zone_c" in cause["moved"] and "off_c" in effect["moved"]:
        own = split_key(cause["channel"])[1] == split_key(effect["channel"])[1]
        return own or abs(effect["moved"]["off_c"]) <= PER_ZONE_BESIDE * abs(cause["moved"]["zone_c"]) + SCATTER_C
    if name == "setpoint_not_recipe" and condition in SHARES:
        # Only what is asked of a feeder makes a share.
        return split_key(cause["channel"])[0] == "feeder_setpoint" or cause["channel"] == OF_SEVERAL[name]
    if name == "setpoint_not_recipe" and split_key(cause["channel"])[0] == "feeder_setpoint":
        return role != "feeder_rate" or at == split_key(cause["channel"])[1]
    if name in OF_ONE_FEEDER and condition in OF_ONE_FEEDER:
        return split_key(cause["channel"])[1] == split_key(effect["channel"])[1]
    zone, other = split_key(cause["channel"])[1], split_key(effect["channel"])[1]
    beyond = zone in ctx.line.zone_names and ctx.line.zone_named(zone).beyond_the_screw
    if condition in BY_ITS_PRESSURE and not can_have_moved(name, effect["moved"]):
        return False
    if condition in BY_ITS_PRESSURE and (name in UNSEEN_WALL or any(name in names for names in BY_THE_WALL.values())):
        return zone == "" or beyond
    if name in BY_THE_WALL[1] and condition in ("recipe_window", "drift") and role == "melt_pressure":
        return beyond and wall_moves(name, effect["moved"])
    if name == "zone_over_temperature" or (name in BY_THE_WALL[1] and condition == "recipe_window"):
        return beyond and condition == "drift" and role == "melt_temperature"
    if name not in NEAR_BY:
        return True
    if condition == "viscous_lot" and name in UNSEEN_WALL:
        return zone == "" or beyond
    if condition in ("drift", "viscous_lot", "moisture"):
        # A feed zone is kept cool before anything melts: no pressure and no load goes with it.
        return zone not in ctx.line.zone_names or ctx.line.zone_named(zone).kind != "feed" or other == zone
    if condition in COLDER_MELT:
        return zone == "" or beyond
    if name in OF_TWO_ZONES and zone in ctx.line.zone_names:
        first = ctx.line.zone_names.index(zone)
        second = ctx.line.zone_names[first + int(cause["moved"].get("apart", 1.0))]
        return any(_near(one, other, ctx.line.zone_names, 1) for one in (zone, second))
    return _near(zone, other, ctx.line.zone_names, 1)


def _feeds_by_the_side(feeder: str, ctx: Context) -> bool:
    return any(one.name == feeder and one.side for one in ctx.line.feeder)


def _near(zone: str, other: str, order: tuple[str, ...], reach: int) -> bool:
    """Whether two zones are the same or no further from each other than `reach`."""
    if zone not in order or other not in order:
        return zone == other or zone == ""
    return abs(order.index(zone) - order.index(other)) <= reach
