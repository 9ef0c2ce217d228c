"""The trade's answers to the faults (fault_answers.toml), and whether a finding is one."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from monitor.records import Finding
from sample_logs.faults import FAULTS, Fault

NS = 1_000_000_000
EARLY_S = 30.0
"""A finding may date its beginning so much before the fault's (windows, filters)."""
LATE_S = 120.0
"""... and may be said so long after the fault is over."""


@dataclass(frozen=True)
class Answer:
    """families: accepted, the practitioner's first. causes: words in the first cause that also answer.
    channels: roles or quantities it may point at. fed: starved, flooded or neither."""

    families: tuple[str, ...]
    causes: tuple[str, ...]
    channels: tuple[str, ...]
    fed: str


def _read() -> dict[str, Answer]:
    data = tomllib.loads((Path(__file__).parent / "fault_answers.toml").read_text(encoding="utf-8"))
    return {
        name: Answer(
            tuple(entry["families"]),
            tuple(word.lower() for word in entry.get("causes", ())),
            tuple(entry["channels"]),
            entry.get("fed", "neither"),
        )
        for name, entry in data.items()
    }


ANSWERS = _read()


def fits_subject(finding: Finding, fault: Fault) -> bool:
    """Whether the finding is about the fault's zone or feeder, or about nothing narrower than the line."""
    subject = finding.last.channel.partition(":")[2]
    return not fault.subject or not subject or subject == fault.subject or FAULTS[fault.kind].on == "line"


def family_right(finding: Finding, fault: Fault) -> bool:
    """Whether its family is accepted and its place fits."""
    return finding.last.family in ANSWERS[fault.kind].families and fits_subject(finding, fault)


def first_cause_right(finding: Finding, fault: Fault) -> bool:
    """Whether its family, or failing that its likeliest cause, is what an engineer accepts."""
    if family_right(finding, fault):
        return True
    first = finding.last.causes[0].text.lower() if finding.last.causes else ""
    return fits_subject(finding, fault) and any(word in first for word in ANSWERS[fault.kind].causes)


def channel_right(finding: Finding, fault: Fault) -> bool:
    """Whether it points at a channel that the fault moves, and at the right zone or feeder."""
    role, _, subject = finding.last.channel.partition(":")
    place = subject == fault.subject if fault.subject and subject else True
    return place and any(role.startswith(name) for name in ANSWERS[fault.kind].channels)


def may_answer(family: str, channel: str, fault: Fault) -> bool:
    """Whether a rule of this family that watches this channel could tell of the fault."""
    answer, (role, _, at) = ANSWERS[fault.kind], channel.partition(":")
    place = not fault.subject or not at or at == fault.subject or FAULTS[fault.kind].on == "line"
    return place and family in answer.families and any(role.startswith(name) for name in answer.channels)


def in_time(finding: Finding, start_ns: int, end_ns: int) -> bool:
    """Whether it began with the fault or after, and was said before the fault had been over for two minutes."""
    began = finding.last.since >= start_ns - EARLY_S * NS
    return began and start_ns <= finding.first_decided_at <= end_ns + LATE_S * NS
