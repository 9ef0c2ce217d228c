"""Holds the findings of one log against its truth."""

from __future__ import annotations

import re
from dataclasses import dataclass

from monitor.records import Finding
from tests.benchmarks.third_plant.truth import TAIL_MIN, Case, Truth

EARLY_MIN = 1.0
"""A rule may become true this much before the fault's start: means look back."""
HARM_AFTER_MIN = 15.0
SLUG_RESIDENCES = 4.0
OPPOSITE = {"starved": "flooded", "flooded": "starved"}


@dataclass(frozen=True)
class Said:
    """One finding in minutes of the log. root: condition of the unfolded finding that carries it, '' for itself."""

    condition: str
    channel: str
    family: str
    priority: int
    since: float
    until: float
    decided: float
    summary: str
    causes: tuple[str, ...]
    evidence: str
    folded: bool
    root: int


@dataclass(frozen=True)
class Verdict:
    """What became of one fault. delay_min: from when the log could show it to the first right finding."""

    case: str
    fault: str
    family: str
    size: str
    rich: bool
    machine: str
    truth: Truth
    found: bool
    note: bool
    cause_right: bool
    wrong_channel: bool
    delay_min: float
    lead: str
    harm: tuple[str, ...]
    others: tuple[str, ...]

    @property
    def visible(self) -> bool:
        """Whether the log shows the fault at all."""
        return self.truth.known_min == self.truth.known_min


@dataclass(frozen=True)
class Judged:
    """One log, judged. watched_h: hours without a fault. false: what was said in them for nothing.

    broke: how the check ended, where it ended in an error; all its faults then count as missed.
    """

    case: Case
    said: tuple[Said, ...]
    verdicts: tuple[Verdict, ...]
    false: tuple[Said, ...]
    watched_h: float
    seconds: float
    broke: str = ""


def as_said(findings: list[Finding], start_ns: int) -> list[Said]:
    """Findings in minutes from the start of the log."""
    ids = {f.last.finding: i for i, f in enumerate(findings)}
    at = lambda ns: float("inf") if ns is None else (ns - start_ns) / 6e10  # noqa: E731
    return [
        Said(
            f.last.condition, f.last.channel, f.last.family, f.last.priority, at(f.last.since), at(f.last.until),
            at(f.first_decided_at), f.last.summary, f.last.cause_texts,
            "; ".join(e.sentence() for e in f.last.evidence), f.last.part_of in ids, ids.get(f.last.part_of, -1),
        )
        for f in findings
    ]  # fmt: skip


def judge(case: Case, said: list[Said], seconds: float, broke: str = "") -> Judged:
    """All faults of a log, and what was said for nothing."""
    verdicts = tuple(_verdict(case, truth, said) for truth in case.truths)
    first = min((truth.start_min for truth in case.truths), default=float("inf"))
    false = tuple(
        s for s in said
        if not s.folded and s.priority <= 3 and s.condition not in case.allowed
        and s.decided < first - EARLY_MIN and s.since < first - EARLY_MIN
    )  # fmt: skip
    return Judged(case, tuple(said), verdicts, false, min(first, case.minutes) / 60, seconds, broke)


def _root(item: Said, said: list[Said]) -> Said:
    for _ in range(8):
        if item.root < 0:
            return item
        item = said[item.root]
    return item


def _both(item: Said) -> bool:
    """Whether starved and flooded are both said to fit."""
    return item.family in OPPOSITE and "both fit" in item.summary


def _verdict(case: Case, truth: Truth, said: list[Said]) -> Verdict:
    answer, end = truth.answer, truth.end_min + TAIL_MIN
    hits = [
        s for s in said
        if (s.condition in answer.found or (_both(s) and answer.found & {"starved", "flooded"}))
        and s.since <= end and s.until >= truth.start_min - EARLY_MIN
        and truth.start_min - EARLY_MIN <= s.decided <= end + 3
    ]  # fmt: skip
    own = sorted((s for s in hits if _its_own(case, truth, s)), key=lambda s: s.decided)
    loud = [s for s in own if s.priority <= 3]
    right = loud or (own if answer.note else [])
    lead, cause_right, delay = "", False, float("nan")
    if right:
        delay = right[0].decided - truth.known_min
        top = min((_root(s, said) for s in right), key=lambda s: (s.priority, s.decided))
        first = top.causes[:2] if _both(top) else top.causes[:1]
        lead = f"{top.condition}: {' | '.join(first)}"
        cause_right = top.condition in answer.named and top.condition in answer.found
        blind = "" if case.machine.logged.drives else answer.blind
        words = "|".join(word for word in (answer.cause, blind) if word)
        cause_right = cause_right or bool(words and re.search(words, " ".join(first), re.IGNORECASE))
        cause_right = cause_right or (not words and top.condition in answer.found)
    harm = tuple(f"P{s.priority} {s.since:.0f} min {s.condition}: {s.summary}" for s in said if _harms(case, truth, s))
    others = tuple(
        f"P{s.priority} {s.decided:.1f} min {s.condition}[{s.channel}] {s.summary}"
        for s in said
        if not s.folded and s.decided >= truth.start_min - EARLY_MIN and s not in own
    )
    return Verdict(
        case.case, truth.fault, case.family, case.size, case.machine.rich, case.machine.name, truth, bool(right),
        bool(own and not loud), cause_right, bool([s for s in hits if s.priority <= 3] and not own), delay, lead,
        harm, others,
    )  # fmt: skip


def _its_own(case: Case, truth: Truth, item: Said) -> bool:
    """Whether a finding that names a zone or feeder names the fault's own."""
    names = {z.name for z in case.machine.zones} | {f.name for f in case.machine.feeders}
    own = set(truth.at) & names
    subject = item.channel.partition(":")[2]
    return (
        not own
        or subject not in names
        or subject in own
        or any(re.search(rf"\b{re.escape(n)}\b", item.summary) for n in own)
    )


def _harms(case: Case, truth: Truth, item: Said) -> bool:
    """Whether a finding sends somebody the wrong way: the opposite said alone, or a lie the answer names.

    What stood over a blockage comes down when it clears: for as long as that passes the screw, over-fed is the truth.
    """
    begin, end = truth.start_min - EARLY_MIN, truth.end_min + HARM_AFTER_MIN
    if item.folded or item.priority > 3 or not begin <= item.decided <= end or item.since < begin or _both(item):
        return False
    slug_min = 1 + SLUG_RESIDENCES * case.machine.residence_s / 60
    if item.family == "flooded" and item.since >= truth.end_min - EARLY_MIN and item.until <= truth.end_min + slug_min:
        return False
    if any(t is not truth and _of_another(t, item) for t in case.truths):
        return False
    opposite = OPPOSITE.get(truth.answer.sense, "none")
    return item.family == opposite or item.condition in truth.answer.harm


def _of_another(other: Truth, item: Said) -> bool:
    """Whether a finding is right for another fault of the same log."""
    return (
        item.condition in other.answer.found and other.start_min - EARLY_MIN <= item.decided <= other.end_min + TAIL_MIN
    )
