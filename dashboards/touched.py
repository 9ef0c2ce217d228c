"""Which kilograms an upset touched, and which containers hold them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
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

UNREAD_SHARE = 0.02
"""Of a stretch: kilograms of which no more is missing than this are given as they are; no source."""

RESIDENCE_S = 60.0
"""Mean residence time where the monitor knows none; a plain start."""

NOT_PRODUCT = ("sensor", "drift", "multivariate")
"""Families that say something about the watching or about a tendency, not about product."""

UNCONTROLLED = (
    "thermocouple_open",
    "thermocouple_loose",
    "thermocouple_frozen",
    "wrong_couple_type",
    "couples_swapped",
)
"""Sensor findings that are about product all the same: a zone that is heated by a reading it does not have is at a
temperature nobody knows, and what passed it was made there."""


@dataclass(frozen=True)
class Delay:
    """What turns an upset into kilograms at the die.

    residence_s: mean residence time. downstream_l: volume that is always full behind the screw.
    rate_kg_h: rate during the stretch, of the recipe where it is not known. residence_known: whether the monitor gave
    the residence time. rate_known: whether the rate was read.
    """

    residence_s: float
    downstream_l: float
    density_kg_m3: float
    rate_kg_h: float
    residence_known: bool
    rate_known: bool = True

    @property
    def downstream_s(self) -> float:
        """Seconds a kilogram needs through the full volume; 0.5 l of 750 kg/m3 at 100 kg/h is 13.5 s."""
        if self.rate_kg_h <= 0:
            return 0.0
        return self.downstream_l / 1000 * self.density_kg_m3 / self.rate_kg_h * 3600


@dataclass(frozen=True)
class Touched:
    """Product touched by one finding. start, end: at the die, UTC ns. kg: fed in that time, NaN = not known."""

    finding: str
    start: int
    end: int
    kg: float


Verdict = Literal["hold", "check", "clear"]


@dataclass(frozen=True)
class Container:
    """One packed container. kg_touched: of its kilograms, those inside a touched stretch; NaN = not known.

    after: what was packed after the last one that is known, which is `number`. kg_outside: of one that no finding
    touches, what was made beyond an outer limit; NaN = not known.
    """

    number: str
    start: int
    end: int
    kg: float
    kg_touched: float
    findings: tuple[str, ...]
    verdict: Verdict
    after: bool = False
    kg_outside: float = 0.0


def is_product(finding: Finding) -> bool:
    """Whether a finding counts: product families of priority 1 to 3, and zones without control."""
    counts = finding.last.family not in NOT_PRODUCT or finding.last.condition in UNCONTROLLED
    return counts and finding.last.priority <= 3


def touched_span(since: int, until: int, delay: Delay) -> tuple[int, int]:
    """[start, end) at the die of what was in the screws during [since, until)."""
    start = since + round(FIRST_SHARE * delay.residence_s * SECOND)
    end = until + round((LAST_SHARE * delay.residence_s + delay.downstream_s) * SECOND)
    return start, end


class Fed:
    """Kilograms fed up to any moment, from a rate in kg/h on whole cells.

    A cell without a rate feeds nothing; a stretch without one rate is not known, which is not nothing.
    part: the rate is that of some feeders only.
    """

    def __init__(self, t: np.ndarray, rate_kg_h: np.ndarray, *, part: bool = False) -> None:
        self.part = part
        read = np.isfinite(rate_kg_h)
        rate = np.where(read, rate_kg_h, 0.0)
        step = float(np.median(np.diff(t))) if len(t) > 1 else 10.0 * SECOND
        self._edges = np.r_[t, t[-1] + step] if len(t) else np.array([0.0])
        widths = np.minimum(np.diff(self._edges), 3 * step)
        self._kg = np.r_[0.0, np.add.accumulate(rate * widths / SECOND / 3600)]
        self._read = np.r_[0.0, np.add.accumulate(read * widths)]

    def between(self, start: int, end: int) -> float:
        """Kilograms fed in [start, end); NaN where no rate was read in all of it."""
        if end <= start:
            return 0.0
        if not np.interp(end, self._edges, self._read) > np.interp(start, self._edges, self._read):
            return float("nan")
        return float(np.interp(end, self._edges, self._kg) - np.interp(start, self._edges, self._kg))

    def whole(self, start: int, end: int) -> bool:
        """Whether all that was fed in [start, end) is in its kilograms; else they are the least that was fed."""
        edges = (max(start, int(self._edges[0])), min(end, int(self._edges[-1])))
        read = float(np.diff(np.interp(edges, self._edges, self._read))[0])
        return not self.part and read >= (1 - UNREAD_SHARE) * (end - start)

    def over(self, spans: Sequence[tuple[int, int]]) -> float:
        """Kilograms fed in stretches that do not overlap, those that are known; NaN where none of them is."""
        each = [kg for kg in (self.between(a, b) for a, b in spans) if not math.isnan(kg)]
        return float("nan") if spans and not each else sum(each)


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
    notes: Sequence[Note], touched: Sequence[Touched], findings: Sequence[Finding], fed: Fed, t0: int, t1: int
) -> list[Container]:
    """Containers filled in any part of [t0, t1), from the notes of when one was begun and when one was full.

    notes, touched, findings, fed: of [t0, t1) and, where a container crosses its edge, of that container too: it is
    judged whole. Hold: touched by a finding of priority 1 or 2. Check: by any other that counts. Clear: by none.
    """
    filled = [(name, start, end, False) for name, start, end in filled_in(notes, t0, t1)]
    full = [note for note in notes if note.kind == "container packed" and note.at_ns < t1]
    last = max((end for _, _, end, _ in filled), default=t1)
    # What is not known to be nothing may have been packed.
    if full and last < t1 and fed.between(last, t1) != 0:
        filled.append((max(full).text, last, t1, True))
    packed = [Container(name, a, b, fed.between(a, b), 0.0, (), "clear", after) for name, a, b, after in filled]
    return judged(packed, touched, findings, fed)


def judged(
    packed: Sequence[Container], touched: Sequence[Touched], findings: Sequence[Finding], fed: Fed
) -> list[Container]:
    """The same containers as these findings alone would have them."""
    priority = {f.last.finding: f.last.priority for f in findings}
    result = []
    for one in packed:
        inside = [item for item in touched if item.start < one.end and item.end > one.start]
        spans = merged([(max(item.start, one.start), min(item.end, one.end)) for item in inside])
        worst = min((priority.get(item.finding, 4) for item in inside), default=None)
        verdict: Verdict = "clear" if worst is None else "hold" if worst <= 2 else "check"
        names = tuple(item.finding for item in inside)
        result.append(replace(one, kg_touched=fed.over(spans), findings=names, verdict=verdict))
    return result


LEAST_OUTSIDE_NS = 60 * SECOND
"""Touched product in no container for less than this is not told where its kilograms are not known."""


def outside_containers_kg(touched: Sequence[Touched], packed: Sequence[Container], fed: Fed) -> float:
    """Touched kilograms that are in none of the containers: between two, or before the first was begun.

    NaN where there is such product and its kilograms are not known.
    """
    outside = merged([(item.start, item.end) for item in touched])
    for one in packed:
        cut = [((a, min(b, one.start)), (max(a, one.end), b)) for a, b in outside]
        outside = [(a, b) for pair in cut for a, b in pair if b > a]
    kg = fed.over(outside)
    return 0.0 if math.isnan(kg) and sum(b - a for a, b in outside) < LEAST_OUTSIDE_NS else kg


def filled_in(notes: Sequence[Note], t0: int, t1: int) -> list[tuple[str, int, int]]:
    """Name, begin and end of the filling of every container that was filled in some part of [t0, t1)."""
    return [one for one in _filled(notes, t0, t1) if one[2] > t0 and one[1] < t1]


def _filled(notes: Sequence[Note], t0: int, t1: int) -> list[tuple[str, int, int]]:
    """Name, begin and end of the filling of every container, the first first.

    Of one that is only known to be full, filling began where the one before ended. Of one that is only known to be
    begun, it ends where the next is begun; the last is open until `t1`.
    """
    # Where one is full as the next is begun, the full one goes first.
    said = sorted(
        (note for note in notes if note.kind in ("container begun", "container packed")),
        key=lambda note: (note.at_ns, note.kind == "container begun"),
    )
    found: list[tuple[str, int, int]] = []
    last = min([t0, *(note.at_ns for note in said)])
    begun: dict[str, int] = {}
    for place, note in enumerate(said):
        if note.kind == "container packed":
            found.append((note.text, begun.pop(note.text, last), note.at_ns))
            last = note.at_ns
            continue
        later = said[place + 1 :]
        own = next((one for one in later if one.text == note.text), None)
        following = next((one.at_ns for one in later if one.kind == "container begun"), t1)
        if own is not None and own.kind == "container packed":
            begun[note.text] = note.at_ns
        else:
            found.append((note.text, note.at_ns, following))
            last = following
    return sorted(found, key=lambda one: one[1:])
