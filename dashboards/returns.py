"""The same finding, gone and come again: shown once, with every time it came.

Slugs, refills or a pressure at its cut-out bring the same finding back every few minutes. Each stays a finding of its
own in the journal and in `findings.csv`, with its own product; a reader wants one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dashboards.clock import HOUR
from monitor.records import Finding

WITHIN_NS = HOUR
"""What comes back later than this after it went is told anew."""


@dataclass(frozen=True)
class Shown:
    """One finding as it is shown, what only follows from it and its returns, and its other times, the oldest first.

    finding: the most urgent of them; among equals the one that is open, else the one that lasted longest.
    """

    finding: Finding
    parts: tuple[Finding, ...]
    others: tuple[Finding, ...] = ()

    @property
    def times(self) -> tuple[Finding, ...]:
        """Every time it came, the oldest first."""
        return tuple(sorted((self.finding, *self.others), key=lambda f: f.last.since))


def with_returns(pairs: Iterable[tuple[Finding, Sequence[Finding]]]) -> list[Shown]:
    """Findings with what follows from each, as one for each that came again; in the order of the first of each."""
    groups: list[list[tuple[Finding, Sequence[Finding]]]] = []
    for pair in sorted(pairs_in_order := list(pairs), key=lambda pair: pair[0].last.since):
        group = next((one for one in reversed(groups) if _comes_again(pair[0], one[-1][0])), None)
        if group is None:
            groups.append([pair])
        else:
            group.append(pair)
    place = {pair[0].last.finding: number for number, pair in enumerate(pairs_in_order)}
    groups.sort(key=lambda group: min(place[f.last.finding] for f, _ in group))
    return [_shown(group) for group in groups]


def _comes_again(finding: Finding, before: Finding) -> bool:
    now, then = finding.last, before.last
    same = (now.line, now.condition, now.channel) == (then.line, then.condition, then.channel)
    return same and then.until is not None and now.since - then.until <= WITHIN_NS


def _shown(group: list[tuple[Finding, Sequence[Finding]]]) -> Shown:
    found = [f for f, _ in group]
    first = min(found, key=lambda f: (f.last.priority, not f.open, -_lasted_ns(f), -f.last.since))
    parts = {p.last.finding: p for _, following in group for p in following}
    return Shown(first, tuple(parts.values()), tuple(f for f in found if f is not first))


def _lasted_ns(finding: Finding) -> int:
    """How long it lasted; zero of one that is open, so that of those the newest is shown."""
    return (finding.last.until or finding.last.since) - finding.last.since
