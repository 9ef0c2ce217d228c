"""Which findings only follow from another one that is shown too."""

from __future__ import annotations

from monitor.records import Finding


def with_consequences(
    findings: tuple[Finding, ...] | list[Finding],
) -> list[tuple[Finding, tuple[Finding, ...]]]:
    """Findings with those they explain folded under them.

    A folded one whose cause is not here stands alone.
    """
    here = {f.last.finding for f in findings}
    tops = [f for f in findings if f.last.part_of not in here or f.last.priority == 1]
    return [(f, tuple(p for p in findings if p.last.part_of == f.last.finding and p.last.priority > 1)) for f in tops]


def cause_of(finding: Finding, findings: tuple[Finding, ...] | list[Finding]) -> Finding | None:
    """The one of `findings` that explains it."""
    return next((f for f in findings if f.last.finding == finding.last.part_of), None)
