"""What the log says of the moment a sample was taken, and whether a result of the laboratory fits it.

A sample left the die at its time. What it is made of was fed before: between 4 mean residence times with the volume
behind the screw, and 0.4 of one, as for what an upset touches (touched.py). Delivered shares are means over that time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from dashboards.cells import means
from dashboards.clock import MINUTE, SECOND
from dashboards.composition import delivered
from dashboards.consequences import with_consequences
from dashboards.data import JournalData
from dashboards.grid import JUDGED_PHASES
from dashboards.lab_results import LabResult, lab_results
from dashboards.machine import place_machine, subject_title
from dashboards.mass_balance import errors_of_shares, mass_balance
from dashboards.outlook import delay_of, reaching
from dashboards.packed import packed_between
from dashboards.touched import FIRST_SHARE, LAST_SHARE, Delay, touched_span
from dashboards.views import Lot, end_of
from ingest.roles import channel_key, split_key
from monitor.line import Line
from monitor.records import Finding

Word = Literal["fits", "apart", "one_sided", "no_uncertainty", "no_share", "same", "opposite", "no_move", "not_said",
               "no_pressure", "no_ingredient", "nothing"]  # fmt: skip
COVERAGE = 2.0
"""Expanded uncertainty: two standard uncertainties, some 95 % (JCGM 100:2008, 6.2 and G.6.6)."""

AROUND_NS = 15 * MINUTE
"""Least stretch from which the scatter of scale and rate is taken."""

PRESSURE_MEAN_NS = 5 * MINUTE
LEAST_MOVE_PCT = 1.0
MIDDLE_SHARE = 0.5
"""A lab value in the middle half of its limits has moved to no side; so has a pressure nearer than 1 % to expected, or
than twice the scatter of its minutes; no source."""

RATE_ALIKE_PCT = 2.0


@dataclass(frozen=True)
class Share:
    """A delivered share, percent of all fed. error: two standard deviations, points; None where not known."""

    value: float
    error: float | None


@dataclass(frozen=True)
class Pressure:
    """The die's pressure at a moment, bar. expected: its median in steady running of the lot at a like rate.

    move: +1 higher, -1 lower than expected, 0 as expected.
    """

    key: str
    value: float
    expected: float
    move: int


@dataclass(frozen=True)
class LabView:
    """One result beside the log. start, end: when its product left the die, UTC ns. word: see `Word`.

    apart: lab less delivered, in uncertainties of both together; None where that cannot be said. findings: those of
    priority 1 to 3 that touch that product, what only follows left out.
    """

    result: LabResult
    start: int
    end: int
    word: Word
    share: Share | None = None
    pressure: Pressure | None = None
    apart: float | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def out_of_line(self) -> bool:
        """Whether the value calls for a look: outside its limits, or not what the log says."""
        return self.result.side != 0 or self.word in ("apart", "opposite")


def lab_views(data: JournalData, lot: Lot, t0: int, t1: int) -> list[LabView]:
    """Every result of a lot whose product left the die in [t0, t1), or, of the whole lot, all."""
    results, line = lab_results(data, lot), data.line(lot.line)
    if line is None or not results:
        return []
    found = _Moments(data, lot, line)
    views = [found.view(one) for one in results]
    return views if (t0, t1) == (lot.start, lot.end) else [v for v in views if v.start < t1 and v.end >= t0]


def fed_span(start: int, end: int, delay: Delay) -> tuple[int, int]:
    """When what left the die during [start, end] was fed."""
    back = LAST_SHARE * delay.residence_s + delay.downstream_s
    return start - round(back * SECOND), end - round(FIRST_SHARE * delay.residence_s * SECOND)


def fit_of(result: LabResult, share: Share | None) -> tuple[Word, float | None]:
    """Whether lab value and delivered share agree within twice both standard uncertainties together."""
    if share is None or result.value is None:
        return "no_share", None
    own = share.error / COVERAGE if share.error is not None else None
    parts = [u for u in (own, result.u) if u is not None]
    both = sum(u**2 for u in parts) ** 0.5
    if both <= 0:
        return "no_uncertainty", None
    apart = (result.value - share.value) / both
    if own is None or result.u is None:
        # With one of the two missing, values far apart may agree: that is never called a contradiction.
        return ("fits" if abs(apart) <= COVERAGE else "one_sided"), apart
    return ("fits" if abs(apart) <= COVERAGE else "apart"), apart


def direction_of(result: LabResult) -> int | None:
    """+1 where the lab says thicker than the middle of its limits, -1 thinner, 0 neither; None without limits."""
    if result.value is None or result.low is None or result.high is None:
        return result.side * result.thickness if result.side else None
    middle, half = (result.low + result.high) / 2, (result.high - result.low) / 2
    if abs(result.value - middle) <= MIDDLE_SHARE * half:
        return 0
    return result.thickness if result.value > middle else -result.thickness


class _Moments:
    """What is the same for every result of one lot."""

    def __init__(self, data: JournalData, lot: Lot, line: Line) -> None:
        self._data, self._lot, self._line = data, lot, line
        self._packed = {c.number: c for c in packed_between(data, lot, lot.start, lot.end) if not c.after}
        self._delay, _ = delay_of(data, lot.line, lot.start, max(lot.end, lot.start + 1))
        self._findings = reaching(data, lot.line, lot.start, lot.end, self._delay)

    def view(self, one: LabResult) -> LabView:
        box = self._packed.get(one.container)
        start, end = (box.start, box.end) if box is not None else (one.sampled, one.sampled)
        findings = self._touching(start, end)
        if one.ingredient:
            share = self._share(one.ingredient, *fed_span(start, end, self._delay))
            word, apart = fit_of(one, share)
            return LabView(one, start, end, word, share, None, apart, findings)
        if one.thickness:
            pressure = self._pressure(start, end)
            return LabView(one, start, end, _thick_word(one, pressure), None, pressure, None, findings)
        word: Word = "no_ingredient" if _is_share(one) else "nothing"
        return LabView(one, start, end, word, findings=findings)

    def _touching(self, start: int, end: int) -> tuple[Finding, ...]:
        found = []
        for finding in self._findings:
            last = finding.last
            if last.priority > 3:
                continue
            first, until = touched_span(last.since, max(end_of(finding, self._lot.end), last.since), self._delay)
            if first <= end and until > start:
                found.append(finding)
        return tuple(f for f, _ in with_consequences(found))

    def _share(self, ingredient: str, t0: int, t1: int) -> Share | None:
        name = self._lot.line
        found = delivered(self._data, name, t0, t1)
        own = next((item for item in found if item.feeder == ingredient), None)
        if own is None:
            return None
        # Scatter is taken from a stretch that is long enough to know it.
        room = max(0, AROUND_NS - (t1 - t0)) // 2
        seconds = (t1 - t0) / SECOND
        errors = {b.title: b.error_over(seconds) for b in mass_balance(self._data, name, t0 - room, t1 + room)}
        title = subject_title(self._line, channel_key("feeder_rate", ingredient))
        error = errors_of_shares({item.title: item.kg for item in found}, errors).get(title)
        return Share(own.share, error if error is not None and np.isfinite(error) else None)

    def _pressure(self, start: int, end: int) -> Pressure | None:
        """Of the pressure nearest the die that was read then."""
        found = (self._pressure_at(key, start, end) for key in die_pressures(self._line))
        return next((one for one in found if one is not None), None)

    def _pressure_at(self, key: str, start: int, end: int) -> Pressure | None:
        first = min(start, end - PRESSURE_MEAN_NS // 2)
        last = max(end, first + PRESSURE_MEAN_NS)
        lot, name = self._lot, self._lot.line
        cells = means(self._data.source, name, lot.start, lot.end, (key,), MINUTE)
        feed = means(self._data.source, name, lot.start, lot.end, ("total_feed",), MINUTE, "quantity").row("total_feed")
        middle, y = cells.times(), cells.row(key)
        steady = np.zeros(middle.shape, bool)
        for run in self._data.phase_run(name, lot.start, lot.end):
            if run.name in JUDGED_PHASES:
                steady |= (middle >= run.start) & (middle < run.end)
        here = (middle >= first - MINUTE // 2) & (middle < last + MINUTE // 2) & np.isfinite(y)
        if not here.any():
            return None
        if np.isfinite(feed[here]).any():
            # At another rate another pressure is expected.
            with np.errstate(invalid="ignore"):
                alike = abs(feed / np.nanmean(feed[here]) - 1) <= RATE_ALIKE_PCT / 100
        else:
            alike = np.ones(y.shape, bool)
        others = y[steady & ~here & alike & np.isfinite(y)]
        if len(others) < 10:
            return None
        value, expected = float(y[here].mean()), float(np.median(others))
        scatter = 1.4826 * float(np.median(np.abs(others - expected)))
        room = max(2 * scatter, LEAST_MOVE_PCT / 100 * abs(expected))
        move = 0 if abs(value - expected) <= room else 1 if value > expected else -1
        return Pressure(key, value, expected, move)


def die_pressures(line: Line) -> list[str]:
    """The pressures in a known unit, the one nearest the die first."""
    places = place_machine(line)
    keys = [s.key for s in line.sensor if s.role == "melt_pressure" and s.key not in line.relative_channels]
    keys = [k for k in keys if split_key(k)[0] == "melt_pressure" and k in line.channels]
    return sorted(keys, key=lambda k: -(places.place(k) or 0))


def _thick_word(one: LabResult, pressure: Pressure | None) -> Word:
    if pressure is None:
        return "no_pressure"
    said = direction_of(one)
    if said is None:
        return "not_said"
    if said == pressure.move:
        return "same"
    return "opposite" if said and pressure.move else "no_move"


def _is_share(one: LabResult) -> bool:
    words = one.quantity.casefold()
    return "%" in one.unit and any(part in words for part in ("ash", "filler", "share", "content", "loading"))
