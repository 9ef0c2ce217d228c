"""From a decision to a record: words, priority, and which open finding explains which.

A finding that an older or simultaneous, more specific one explains carries that one's id in `part_of`. Never
folded are priority 1 findings; one that becomes priority 1 stands for itself from then on. What may explain what
is a short list, by physics: a feed that fails takes rate, share, torque and pressure with it; a dead heater or
couple takes its zone's temperature.
"""

from __future__ import annotations

from typing import Any

from ingest.roles import split_key
from monitor.contract import NS, Condition, Context
from monitor.episodes import Turn
from monitor.explains import (
    AFTERMATH_S,
    BACKS_UP,
    BACKS_UP_AFTER_S,
    DATED_LATE_S,
    EXPLAINS,
    NEAR_BY,
    RECOVERING,
    RECOVERY_S,
    TEMPERATURES,
)
from monitor.records import Cause, Record, finding_id

MEMORY_NS = (AFTERMATH_S + 900) * NS
"""Temperatures find back this slowly: what begins so soon after a cause has ended may still be its doing."""


def record(
    condition: Condition, subject: str, turn: Turn, ctx: Context, lot: str, seq: int, standing: dict[str, Any]
) -> tuple[Record, dict[str, Any]]:
    """The record of one turn, and the findings that stand after it.

    standing: finding id -> [condition, channel, since ns, priority, part_of, end ns or None] of findings that are open
    or ended a short while ago.
    """
    said = condition.explain(subject, turn.level, turn.facts, ctx)
    identity = finding_id(ctx.line.name, condition.name, subject, turn.since)
    channel = condition.channel(subject)
    known = standing[identity][4] if identity in standing else ""
    others = {key: value for key, value in standing.items() if not _leads_to(identity, key, standing)}
    part_of = known or _explained_by(condition.name, channel, turn.since, ctx, others)
    if said.priority == 1:
        part_of = ""
    ended = (turn.until or turn.decided_at) if turn.kind in ("closed", "cut off") else None
    recent = {
        key: value for key, value in standing.items() if value[5] is None or value[5] > turn.decided_at - MEMORY_NS
    }
    after = {**recent, identity: [condition.name, channel, turn.since, said.priority, part_of, ended]}
    return Record(
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
        priority=said.priority,
        confidence=said.confidence,
        summary=said.summary,
        evidence=said.evidence,
        causes=tuple(Cause(item) if isinstance(item, str) else item for item in said.causes),
        checks=said.checks,
        caution=said.caution,
        lot=lot,
        recipe=ctx.recipe.name if ctx.recipe else "",
        part_of=part_of,
    ), after


def dated_late_s(condition: str) -> int:
    """A cause explains nothing that began longer before it than this, seconds; a minute where nothing is said."""
    return DATED_LATE_S.get(condition, 60)


def _explained_by(condition: str, channel: str, since: int, ctx: Context, standing: dict[str, Any]) -> str:
    """The oldest finding that can explain one of this condition that began then; '' if none."""
    found = [(value[2], key) for key, value in standing.items() if _explains(value, condition, channel, since, ctx)]
    return min(found)[1] if found else ""


def _leads_to(identity: str, key: str, standing: dict[str, Any]) -> bool:
    """Whether a finding is this one or, over however many others, explained by it: it can't explain it in turn."""
    seen: set[str] = set()
    while key and key not in seen:
        if key == identity:
            return True
        seen.add(key)
        key = standing[key][4] if key in standing else ""
    return False


def _explains(cause: list[Any], condition: str, channel: str, since: int, ctx: Context) -> bool:
    name, its_channel, its_since, _, _, ended = cause
    if condition in BACKS_UP.get(name, ()):
        return ended is None and since >= its_since + BACKS_UP_AFTER_S * NS
    if condition not in EXPLAINS.get(name, ()) or its_since > since + dated_late_s(name) * NS:
        return False
    slow = AFTERMATH_S if condition in TEMPERATURES else RECOVERY_S if condition in RECOVERING else 0
    if ended is not None and since > ended + slow * NS:
        return False
    return (
        name not in NEAR_BY
        or condition == "drift"
        or _near(split_key(its_channel)[1], split_key(channel)[1], ctx.line.zone_names)
    )


def _near(zone: str, other: str, order: tuple[str, ...]) -> bool:
    """Whether two zones are the same or next to each other."""
    if zone not in order or other not in order:
        return zone == other or zone == ""
    return abs(order.index(zone) - order.index(other)) <= 1
