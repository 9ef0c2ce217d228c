"""Which kilograms an upset touched, and which containers hold them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from dashboards.clock import SECOND
from dashboards.views import end_of
from ingest.block import Note
from monitor.records import Finding

FIRST_SHARE, LAST_SHARE = 0.4, 4.0
"""First touched kilogram leaves 0.4 mean residence times after the upset begins, the last 4 after it ends."""

MELT_DENSITY_KG_M3 = 750.0
"""Of the melt downstream of the screw where the recipe states none.

Common practice for a polyolefin compound.
"""

RESIDENCE_S = 60.0
"""Mean residence time where the monitor knows none; a plain start."""

NOT_PRODUCT = ("sensor", "drift", "multivariate")
"""Families that say something about the watching or about a tendency, not about product."""


@dataclass(frozen=True)
class Delay:
    """What turns an upset into kilograms at the die.

    residence_s: mean residence time. downstream_l: volume that is always full behind the screw.
    rate_kg_h: rate during the stretch. residence_known: whether the monitor gave the residence time.
    """

    residence_s: float
    downstream_l: float
    density_kg_m3: float
    rate_kg_h: float
    residence_known: bool

    @property
    def downstream_s(self) -> float:
        """Seconds a kilogram needs through the full volume; 0.5 l of 750 kg/m3 at 100 kg/h is 13.5 s."""
        if self.rate_kg_h <= 0:
            return 0.0
        return self.downstream_l / 1000 * self.density_kg_m3 / self.rate_kg_h * 3600


@dataclass(frozen=True)
class Touched:
    """Product touched by one finding. start, end: at the die, UTC ns. kg: fed in that time."""

    finding: str
    start: int
    end: int
    kg: float


Verdict = Literal["hold", "check", "clear"]


@dataclass(frozen=True)
class Container:
    """One packed container. kg_touched: of its kilograms, those inside a touched stretch."""

    number: str
    start: int
    end: int
    kg: float
    kg_touched: float
    findings: tuple[str, ...]
    verdict: Verdict


def is_product(finding: Finding) -> bool:
    """Whether a finding counts: product families of priority 1 to 3."""
    return finding.last.family not in NOT_PRODUCT and finding.last.priority <= 3


def touched_span(since: int, until: int, delay: Delay) -> tuple[int, int]:
    """[start, end) at the die of what was in the screws during [since, until)."""
    start = since + round(FIRST_SHARE * delay.residence_s * SECOND)
    end = until + round((LAST_SHARE * delay.residence_s + delay.downstream_s) * SECOND)
    return start, end


class Fed:
    """Kilograms fed up to any moment, from a rate in kg/h on whole cells."""

    def __init__(self, t: np.ndarray, rate_kg_h: np.ndarray) -> None:
        rate = np.where(np.isfinite(rate_kg_h), rate_kg_h, 0.0)
        step = float(np.median(np.diff(t))) if len(t) > 1 else 10.0 * SECOND
        self._edges = np.r_[t, t[-1] + step] if len(t) else np.array([0.0])
        widths = np.minimum(np.diff(self._edges), 3 * step)
        self._kg = np.r_[0.0, np.add.accumulate(rate * widths / SECOND / 3600)]

    def between(self, start: int, end: int) -> float:
        """Kilograms fed in [start, end)."""
        if end <= start:
            return 0.0
        return float(np.interp(end, self._edges, self._kg) - np.interp(start, self._edges, self._kg))


def touched_by(findings: Sequence[Finding], delay: Delay, fed: Fed, t0: int, t1: int) -> list[Touched]:
    """Product of [t0, t1) touched by each finding, the earliest first."""
    found = []
    for finding in findings:
        if not is_product(finding):
            continue
        until = max(end_of(finding, t1), finding.last.since)
        start, end = touched_span(finding.last.since, until, delay)
        start, end = max(start, t0), min(end, t1)
        if end > start:
            found.append(Touched(finding.last.finding, start, end, fed.between(start, end)))
    return sorted(found, key=lambda item: item.start)


def merged(spans: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Overlapping spans joined, so that no kilogram is counted twice."""
    result: list[tuple[int, int]] = []
    for start, end in sorted(spans):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return result


def containers(
    notes: Sequence[Note], touched: Sequence[Touched], findings: Sequence[Finding], fed: Fed, t0: int
) -> list[Container]:
    """Containers from the 'container packed' notes; each holds what came since the one before, or since `t0`.

    Hold: touched by a finding of priority 1 or 2. Check: by any other that counts. Clear: by none.
    """
    priority = {f.last.finding: f.last.priority for f in findings}
    result, start = [], t0
    for note in sorted(note for note in notes if note.kind == "container packed"):
        inside = [item for item in touched if item.start < note.at_ns and item.end > start]
        spans = merged([(max(item.start, start), min(item.end, note.at_ns)) for item in inside])
        worst = min((priority.get(item.finding, 4) for item in inside), default=None)
        verdict: Verdict = "clear" if worst is None else "hold" if worst <= 2 else "check"
        result.append(
            Container(
                note.text,
                start,
                note.at_ns,
                fed.between(start, note.at_ns),
                sum(fed.between(a, b) for a, b in spans),
                tuple(item.finding for item in inside),
                verdict,
            )
        )
        start = note.at_ns
    return result
