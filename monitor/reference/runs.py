"""Reference runs through the one path: what is steady is kept, what was found is left out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

from ingest.block import Block, Note
from monitor.conditions.registry import CONDITIONS
from monitor.contract import NS
from monitor.core import Monitor
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.records import Finding, findings
from monitor.reference.collect import Minutes, ReferenceListener
from monitor.reference.join_runs import in_time_order
from monitor.reference.learn import ReferenceRefused, Runs, learn
from monitor.reference.model import Reference

FAULT_PRIORITY = 3
"""Findings of this priority and above make a minute unfit; notes do not."""


def learn_from(
    logs: Iterable[tuple[str, Iterable[Block]]], line: Line, recipe: Recipe, notes: Sequence[Note] = ()
) -> Reference:
    """The reference of one or more runs, each a name and its blocks, in any order; raises ReferenceRefused."""
    minutes, faulty, faults, first, end = Minutes(), set[int](), set[str](), 0, 0
    runs: list[tuple[str, int]] = []
    monitor = Monitor(line, [recipe], notes, (*CONDITIONS, ReferenceListener(minutes)))
    for name, blocks in logs:
        state, records, run_end = monitor.start(), [], 0
        for block in blocks:
            state, step = monitor.advance(state, block)
            records += step.records
            first, run_end = min(first or block.t0, block.t0), block.end
        end = max(end, run_end)
        found = findings([*records, *monitor.finish(state)])
        for finding in found:
            if finding.last.priority <= FAULT_PRIORITY:
                faulty |= _minutes_of(finding, run_end)
                faults.add(finding.last.condition)
        runs.append((name, len(minutes.number)))
    if not end:
        raise ReferenceRefused(["the logs hold no readings of this line"])
    minutes, problems = in_time_order(minutes, runs)
    if problems:
        raise ReferenceRefused(problems)
    names = tuple(name for name, _ in runs)
    return learn(minutes, Runs(names, _iso(first), _iso(end), faulty, tuple(sorted(faults))), line, recipe)


def _minutes_of(finding: Finding, end: int) -> set[int]:
    until = finding.last.until or end
    return set(range(finding.last.since // (60 * NS), until // (60 * NS) + 1))


def _iso(at_ns: int) -> str:
    return datetime.fromtimestamp(at_ns // NS, UTC).isoformat().replace("+00:00", "Z")
