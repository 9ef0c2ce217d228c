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
from monitor.reference.learn import ReferenceRefused, Runs, learn
from monitor.reference.model import Reference

FAULT_PRIORITY = 3
"""Findings of this priority and above make a minute unfit; notes do not."""


def learn_from(
    logs: Iterable[tuple[str, Iterable[Block]]], line: Line, recipe: Recipe, notes: Sequence[Note] = ()
) -> Reference:
    """The reference of one or more runs, each a name and its blocks; raises ReferenceRefused."""
    minutes, names, faulty, faults, first, end = Minutes(), [], set[int](), set[str](), 0, 0
    monitor = Monitor(line, [recipe], notes, (*CONDITIONS, ReferenceListener(minutes)))
    for name, blocks in logs:
        names.append(name)
        state, records = monitor.start(), []
        for block in blocks:
            state, step = monitor.advance(state, block)
            records += step.records
            first, end = min(first or block.t0, block.t0), max(end, block.end)
        found = findings([*records, *monitor.finish(state)])
        for finding in found:
            if finding.last.priority <= FAULT_PRIORITY:
                faulty |= _minutes_of(finding, end)
                faults.add(finding.last.condition)
    if not names or not end:
        raise ReferenceRefused(["the logs hold no readings of this line"])
    return learn(minutes, Runs(tuple(names), _iso(first), _iso(end), faulty, tuple(sorted(faults))), line, recipe)


def _minutes_of(finding: Finding, end: int) -> set[int]:
    until = finding.last.until or end
    return set(range(finding.last.since // (60 * NS), until // (60 * NS) + 1))


def _iso(at_ns: int) -> str:
    return datetime.fromtimestamp(at_ns // NS, UTC).isoformat().replace("+00:00", "Z")
