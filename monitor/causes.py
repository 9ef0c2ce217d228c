"""From a decision to a record: words, priority, and which open finding explains which.

A finding that an older or simultaneous, more specific one explains carries that one's id in `part_of`. Never
folded are priority 1 findings. What may explain what is a short list, by physics: a feed that fails takes rate,
share, torque and pressure with it; a dead heater or couple takes its zone's temperature.
"""

from __future__ import annotations

from typing import Any

from ingest.roles import split_key
from monitor.contract import NS, Condition, Context
from monitor.episodes import Turn
from monitor.records import Record, finding_id

REACH_NS = 900 * NS
"""A cause explains what begins from this long before it was said until it ends."""

EXPLAINS: dict[str, tuple[str, ...]] = {
    "feeder_bridged": ("starved", "share_wrong", "recipe_window", "feeder_off_target", "drift"),
    "feeder_tripped": ("starved", "share_wrong", "recipe_window", "feeder_off_target", "drift"),
    "feeder_weight_still": ("starved", "share_wrong", "recipe_window", "drift"),
    "feeder_off_target": ("starved", "flooded", "share_wrong", "recipe_window", "drift"),
    "starved": ("recipe_window", "drift", "melt_over_temperature", "melt_under_temperature"),
    "flooded": ("recipe_window", "drift", "melt_over_temperature", "melt_under_temperature"),
    "toward_over_pressure": ("recipe_window", "drift"),
    "heater_dead": ("zone_under_temperature",),
    "thermocouple_open": ("zone_over_temperature", "zone_under_temperature", "heater_dead"),
    "share_wrong": ("drift",),
}
"""condition -> conditions whose findings it can explain."""

SAME_PLACE = ("heater_dead", "thermocouple_open")
"""These explain only what happens in their own zone."""


def record(
    condition: Condition, subject: str, turn: Turn, ctx: Context, lot: str, seq: int, standing: dict[str, Any]
) -> tuple[Record, dict[str, Any]]:
    """The record of one turn, and the findings that stand after it.

    standing: finding id -> [condition, channel, since ns, priority, part_of] of open findings.
    """
    said = condition.explain(subject, turn.level, turn.facts, ctx)
    identity = finding_id(ctx.line.name, condition.name, subject, turn.since)
    channel = condition.channel(subject)
    known = standing[identity][4] if identity in standing else ""
    part_of = known or _explained_by(condition.name, channel, turn.since, said.priority, standing)
    if turn.kind in ("closed", "cut off"):
        after = {key: value for key, value in standing.items() if key != identity}
    else:
        after = {**standing, identity: [condition.name, channel, turn.since, said.priority, part_of]}
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
        causes=said.causes,
        checks=said.checks,
        caution=said.caution,
        lot=lot,
        recipe=ctx.recipe.name if ctx.recipe else "",
        part_of=part_of,
    ), after


def _explained_by(condition: str, channel: str, since: int, priority: int, standing: dict[str, Any]) -> str:
    if priority == 1:
        return ""
    found = [
        (value[2], key)
        for key, value in standing.items()
        if condition in EXPLAINS.get(value[0], ())
        and value[2] <= since + REACH_NS
        and (value[0] not in SAME_PLACE or split_key(value[1])[1] == split_key(channel)[1])
    ]
    return min(found)[1] if found else ""
