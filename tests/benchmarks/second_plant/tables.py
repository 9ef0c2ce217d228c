"""Which findings are right, which false, and the tables of it."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

import numpy as np

from monitor.records import Finding
from tests.benchmarks.second_plant.answers import ANSWERS
from tests.benchmarks.second_plant.cases import Case
from tests.benchmarks.second_plant.crew import Plan
from tests.benchmarks.second_plant.lines import LINES
from tests.benchmarks.second_plant.log_files import EPOCH_NS

EARLY_S = 120.0
"""A rule may become true this much before the fault's stated start without being false."""
BLAME_S = 1800.0


@dataclass(frozen=True)
class False_:
    """A finding that should not be. doing: what the crew did last, within half an hour."""

    line: str
    condition: str
    channel: str
    priority: int
    since_s: float
    summary: str
    doing: str


@dataclass(frozen=True)
class Judged:
    """One log, judged. delay_s: from the fault's start to the first right finding. confused: starved for flooded."""

    title: str
    line: str
    family: str
    visible: bool
    found: bool
    cause_right: bool
    delay_s: float
    lead: str
    confused: bool
    false: tuple[False_, ...]
    others: tuple[str, ...]


def judge(line: str, case: Case | None, findings: list[Finding], at: int, plan: Plan) -> Judged:
    """Hold the findings of one log against the answer."""
    loud = [f for f in findings if f.last.priority <= 3]
    start = EPOCH_NS + int((at - EARLY_S) * 1e9)
    if case is None:
        false = tuple(_false(line, f, plan) for f in loud if not f.last.part_of)
        return Judged(f"{line} clean", line, "clean", True, False, False, np.nan, "", False, false, ())
    answer = ANSWERS[case.fault]
    by_id = {f.last.finding: f for f in findings}
    after = [f for f in loud if f.last.since >= start]
    right = [f for f in after if f.last.condition in answer.found and _there(line, case, f.last.channel)]
    right.sort(key=lambda f: f.first_decided_at)
    lead, cause_right, delay = "", False, np.nan
    if right:
        delay = (right[0].first_decided_at - EPOCH_NS) / 1e9 - at
        roots = [_root(f, by_id) for f in right]
        # The most urgent unfolded finding that carries the right ones is what a person reads first.
        top = min(roots, key=lambda f: (f.last.priority, f.first_decided_at))
        cause = top.last.cause_texts[0] if top.last.causes else ""
        lead = f"{top.last.condition}: {cause}"
        by_name = top.last.condition in answer.lead
        cause_right = by_name or bool(answer.cause and re.search(answer.cause, cause, re.IGNORECASE))
    wrong = {"starved": "flooded", "flooded": "starved"}.get(answer.sense, "")
    confused = any(f.last.family == wrong and not f.last.part_of for f in after) if wrong else False
    false = tuple(_false(line, f, plan) for f in loud if not f.last.part_of and f.last.since < start)
    others = tuple(f"{f.last.condition}[{f.last.channel}]" for f in after if not f.last.part_of)
    return Judged(
        case.title, line, answer.family, case.visible, bool(right), cause_right, delay, lead, confused, false, others
    )


def _root(finding: Finding, by_id: dict[str, Finding]) -> Finding:
    for _ in range(8):
        above = by_id.get(finding.last.part_of)
        if above is None:
            return finding
        finding = above
    return finding


def _there(line: str, case: Case, channel: str) -> bool:
    """Whether a channel of a zone or feeder is the fault's own; what belongs to the line is."""
    subject = channel.partition(":")[2]
    own = {zone.name for zone in LINES[line].zones} | {feeder.name for feeder in LINES[line].feeders}
    return subject not in own or case.place not in own or subject == case.place


def _false(line: str, finding: Finding, plan: Plan) -> False_:
    last = finding.last
    since = (last.since - EPOCH_NS) / 1e9
    near = [what for at, what in sorted(plan.doings) if at - 60 <= since <= at + BLAME_S]
    return False_(line, last.condition, last.channel, last.priority, since, last.summary, near[-1] if near else "")


def print_faults(logs: list[Judged]) -> None:
    """By family, then log by log."""
    seen = [log for log in logs if log.visible]
    print(f"\n{'family':12} found  cause right  median delay s")
    for family in sorted({log.family for log in seen}):
        part = [log for log in seen if log.family == family]
        _row(family, part)
    if seen:
        _row("all", seen)
    print("\nfault log: found, cause, delay s, lead | other unfolded findings after the start")
    for log in logs:
        mark = ("yes" if log.found else "MISSED" if log.visible else "unseen*") + (
            " " if log.cause_right else " cause?"
        )
        confused = " CONFUSED" if log.confused else ""
        others = ", ".join(f"{n}x {what}" if n > 1 else what for what, n in Counter(log.others).items())
        print(f"{log.title:38} {mark:13} {log.delay_s:7.0f}{confused} {log.lead} | {others}")
    false = [item for log in logs for item in log.false]
    print(
        f"\nfalse before the fault: {len(false)} in {len(logs)} logs; "
        f"starved/flooded confused: {sum(x.confused for x in logs)}"
    )
    _listed(false)


def _row(name: str, part: list[Judged]) -> None:
    found = [log for log in part if log.found]
    delay = f"{np.median([log.delay_s for log in found]):.0f}" if found else "-"
    print(
        f"{name:12} {len(found):2}/{len(part):2}  "
        f"{sum(log.cause_right for log in found):2}/{len(found):2}        {delay}"
    )


def print_clean(logs: list[Judged]) -> None:
    """False findings a clean shift, by line and by condition."""
    if not logs:
        return
    print("\nfalse findings a clean 12 h shift, by line")
    for line in dict.fromkeys(log.line for log in logs):
        part = [log for log in logs if log.line == line]
        print(f"  {line:8} {sum(len(log.false) for log in part) / len(part):.1f}  {[len(log.false) for log in part]}")
    false = [item for log in logs for item in log.false]
    print(f"  all      {len(false) / len(logs):.2f}")
    for (condition, line), count in Counter((item.condition, item.line) for item in false).most_common():
        print(f"  {count:3} {condition} on {line}")
    _listed(false)


def _listed(false: list[False_]) -> None:
    for item in false:
        print(
            f"    {item.line:7} {item.since_s:6.0f} P{item.priority} {item.condition} [{item.channel}] "
            f"{item.summary} <{item.doing}>"
        )
