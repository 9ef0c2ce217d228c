"""What a person chose in place of what was proposed, and the line files that follow from it.

choices.json: {"0": {"name": ..., "kind": ..., "time_zone": ..., "zones": [throat, ..., die],
"tags": {tag: {"role", "at", "unit", "position"}}}, "time_format": ..., "recipes": [...], "schedule": ...}; the
number keys are the lines of the log.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from dashboards.workshop.job import Job
from dashboards.workshop.proposal_json import from_json
from dashboards.workshop.whole_file import locked
from ingest.propose import LineProposal, Proposal, TagProposal, line_text
from ingest.propose.subject_names import zone_rank
from ingest.roles import ROLES

CHOSEN = "chosen by hand"
_TIME_ZONE = re.compile(r'^time_zone = "UTC".*$', re.MULTILINE)
_TIME_FORMAT = re.compile(r"^(time_format = \"[^\"]*\").*$", re.MULTILINE)
_TOP = re.compile(r"\A# Proposed from the log alone.*\n")


@dataclass(frozen=True)
class Corrected:
    """A proposal with the choices in it. zones: time zone of every line. chosen: tags chosen by hand, by line."""

    proposal: Proposal
    time_zones: tuple[str, ...]
    chosen: tuple[frozenset[str], ...]
    order_chosen: bool = False


def corrected(job: Job) -> Corrected:
    """The proposal of a job as it stands now."""
    choices = job.read("choices.json")
    proposal = from_json(job.read("proposal.json"))
    lines = [_line(line, choices.get(str(number), {})) for number, line in enumerate(proposal.lines)]
    log = proposal.log
    if choices.get("time_format"):
        log = replace(log, time_format=choices["time_format"])
    each = [choices.get(str(number), {}) for number in range(len(lines))]
    return Corrected(
        replace(proposal, log=log, lines=tuple(lines)),
        tuple(one.get("time_zone") or "UTC" for one in each),
        tuple(frozenset(one.get("tags", ())) for one in each),
        bool(choices.get("time_format")),
    )


def choose_tag(job: Job, part: int, tag: str, choice: Mapping[str, str]) -> None:
    """Keeps what a tag is. role '' = it is left out."""
    with locked(job.folder):
        choices = job.read("choices.json")
        choices.setdefault(str(part), {}).setdefault("tags", {})[tag] = dict(choice)
        job.write("choices.json", choices)


def choose_line(job: Job, part: int, key: str, value: str) -> None:
    """Keeps name, kind, time zone or file name of a line."""
    with locked(job.folder):
        choices = job.read("choices.json")
        choices.setdefault(str(part), {})[key] = value
        job.write("choices.json", choices)


def choose_log(job: Job, key: str, value: Any) -> None:
    """Keeps a fact of the whole log."""
    with locked(job.folder):
        choices = job.read("choices.json")
        choices[key] = value
        job.write("choices.json", choices)


def texts_of(found: Corrected) -> list[str]:
    """The line file of every line."""
    return [text_of(found, number) for number in range(len(found.proposal.lines))]


def text_of(found: Corrected, part: int) -> str:
    """The line file of one line, commented as `ingest.propose` does it."""
    text = line_text(found.proposal, found.proposal.lines[part])
    zone = found.time_zones[part]
    if zone != "UTC":
        text = _TIME_ZONE.sub(lambda _: f"time_zone = {_quoted(zone)}", text, count=1)
    if found.order_chosen:
        text = _TIME_FORMAT.sub(r"\1", text, count=1)
    return _TOP.sub("# Proposed from the log, then looked through on the import page.\n", text, count=1)


def in_order(zones: Sequence[str], order: Sequence[str]) -> tuple[str, ...]:
    """The zones in the order chosen; one that was not there then stays behind the one it follows by name."""
    placed = [zone for zone in order if zone in zones]
    for i, zone in enumerate(zones):
        if zone not in placed:
            before = next((other for other in reversed(zones[:i]) if other in placed), None)
            placed.insert(placed.index(before) + 1 if before is not None else 0, zone)
    return tuple(placed)


def move_zone(job: Job, part: int, zone: str, steps: int) -> bool:
    """Puts a zone nearer to the throat (-1) or to the die (+1); False where it cannot go there."""
    with locked(job.folder):
        zones = list(corrected(job).proposal.lines[part].zones)
        here = zones.index(zone) if zone in zones else -1
        there = here + steps
        if here < 0 or not 0 <= there < len(zones):
            return False
        zones.insert(there, zones.pop(here))
        choices = job.read("choices.json")
        choices.setdefault(str(part), {})["zones"] = zones
        job.write("choices.json", choices)
    return True


def other_order(time_format: str) -> str:
    """The same time format with day and month in the other order."""
    return time_format.replace("%d", "\0").replace("%m", "%d").replace("\0", "%m")


def _quoted(text: str) -> str:
    return '"' + "".join(mark for mark in text if mark.isprintable()).replace("\\", "\\\\").replace('"', '\\"') + '"'


def _line(line: LineProposal, chosen: Mapping[str, Any]) -> LineProposal:
    by_tag = chosen.get("tags", {})
    tags = tuple(_tag(one, by_tag[one.tag]) if one.tag in by_tag else one for one in line.tags)
    subjects = {
        per: tuple(dict.fromkeys(one.subject for one in tags if one.told and ROLES[one.role].per == per))
        for per in ("zone", "feeder", "vent")
    }
    kind = chosen.get("kind") or line.kind
    return replace(
        line,
        tags=tags,
        name=chosen.get("name") or line.name,
        kind=kind,
        kind_why="" if chosen.get("kind") else line.kind_why,
        zones=in_order(sorted(filter(None, subjects["zone"]), key=zone_rank), chosen.get("zones", ())),
        feeders=tuple(sorted(filter(None, subjects["feeder"]), key=zone_rank)),
        vents=tuple(filter(None, subjects["vent"])),
    )


def _tag(one: TagProposal, choice: Mapping[str, str]) -> TagProposal:
    role = choice.get("role", "")
    if role not in ROLES:
        return replace(one, role="", subject="", unit="", position="", sure="cannot tell", why=CHOSEN)
    return replace(
        one,
        role=role,
        subject=choice.get("at", "") if ROLES[role].per != "line" else "",
        unit=choice.get("unit", ""),
        position=choice.get("position", "") if role == "melt_pressure" else "",
        sure="sure",
        unit_sure="sure",
        why=CHOSEN,
        hold_s=one.hold_s if role == one.role else 0.0,
    )
