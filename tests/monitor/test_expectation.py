"""What is learned inside a run, against a walk in plain Python: adopted when, kept when, forgotten when."""

from __future__ import annotations

import itertools
import math
import statistics
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor import expectation
from monitor.checkpoint import dump_state, load_state
from monitor.learned_quantities import KINDS, Kind
from monitor.minute_medians import column_medians
from monitor.tolerances import Kinds

NAN = float("nan")
MAD = 1.4826
LOAD, STEEL = KINDS["net_torque"], Kind(share=0.01, absolute=1.0, kept=True, at_point=True)
BOTH = Kinds([LOAD, STEEL])


class Plain:
    """One quantity. `cell` gives what was expected before it, then takes the cell in."""

    def __init__(self, kind: Kind, width: int) -> None:
        self.kind, self.width, self.before = kind, width, NAN
        self.since, self.moved, self.point = 90, False, NAN
        self.now = self.carried_from = self.known_at = (NAN, NAN)
        self.home: tuple[float, ...] | None = None
        self.cells: list[float] = []
        self.calm: list[bool] = []
        self.unknown()

    def unknown(self) -> None:
        self.reference = self.square = self.bound = NAN
        self.medians: list[float] = []
        self.spreads: list[float] = []
        self.minutes = self.off = 0

    @property
    def known(self) -> bool:
        return self.reference == self.reference

    def carried(self, value: float) -> float:
        """What stands for a first value that speed and rate cannot have made."""
        if not (self.kind.goes_with and self.before > 0 and self.carried_from[1] > 0 and self.now[1] > 0):
            return value
        speed, rate = (math.log(now / then) for now, then in zip(self.now, self.carried_from, strict=True))
        way = self.kind.goes_with
        pairs = [(way.speed, speed), (way.rate, rate), (way.specific, rate - speed)]
        low = sum(min(a * x, b * x) for (a, b), x in pairs)
        high = sum(max(a * x, b * x) for (a, b), x in pairs)
        if self.before * math.exp(low) / 1.2 <= value <= self.before * math.exp(high) * 1.2:
            return value
        return self.before * math.exp((low + high) / 2)

    def said(self) -> tuple[float, float, float]:
        scatter = max(self.square**0.5, 0.4 / 3 * self.bound) if self.known else NAN
        return self.reference, scatter, self.before

    def cell(
        self, index: int, x: float, steady: bool, changed: bool, point: float, rate: float = NAN, stood: bool = False
    ) -> tuple[float, float, float]:
        if changed:
            if self.known:
                self.carried_from = self.known_at
            if stood:
                self.carried_from = (NAN, NAN)
            self.before = self.reference if self.known else self.before
            self.medians, self.spreads = [], []
            self.minutes, self.since, self.moved = min(self.minutes, 3), 0, True
            if not self.kind.kept:
                self.unknown()
        out = self.said()
        self.cells.append(x)
        self.calm.append(steady and not changed)
        if (index + 1) % self.width == 0:
            if len(self.cells) == self.width and all(self.calm):
                if self.moved and abs(point / self.point - 1) > 0.15:
                    self.unknown()
                self.now = (point, rate)
                self.minute([value for value in self.cells if value == value])
                self.since, self.moved, self.point = min(self.since + 1, 90), False, point
            self.cells, self.calm = [], []
        return out

    def tolerance(self, value: float) -> float:
        return self.kind.share * abs(value) + self.kind.absolute

    def at_home(self) -> bool:
        """Whether speed and rate are those the reference belongs to."""
        if not self.kind.at_point or self.home is None:
            return False
        return not any(abs(now / then - 1) > 0.05 for now, then in zip(self.now, self.home, strict=True))

    def minute(self, known: list[float]) -> None:
        if len(known) < 0.6 * self.width:
            return
        median = statistics.median(known)
        spread = MAD * statistics.median(abs(v - median) for v in known)
        self.medians, self.spreads = [*self.medians, median][-3:], [*self.spreads, spread][-3:]
        if self.known:
            if abs(median - self.reference) <= max(4 * self.square**0.5, self.bound):
                weight = max(1 / (self.minutes + 1), 1 / 20)
                most = max(self.square, self.bound**2 / 16) * 4
                both = min(spread**2, most) + min((median - self.reference) ** 2, most)
                self.square += weight * (both - self.square)
                self.reference += weight * (median - self.reference)
                self.minutes, self.off, self.known_at = self.minutes + 1, 0, self.now
                if self.since >= 30:
                    self.home = self.now
                return
            self.off += 1
            if self.off < (30 if self.kind.kept and self.since < 90 and not self.at_home() else 240):
                return
        if len(self.medians) < 3:
            return
        low, middle, high = sorted(self.medians)
        spread = sorted(self.spreads)[1]
        if high - low <= max(4 / 3 * self.tolerance(middle), 4 * spread):
            self.minutes, self.off, self.known_at, self.home = 3, 0, self.now, self.now
            first = middle if self.known else self.carried(middle)
            self.square = max(spread, (high - low) / 2) ** 2 if first == middle else (0.04 * first) ** 2
            self.reference, self.bound = first, self.tolerance(first)


def learn(
    x: list[list[float]],
    steady: list[bool],
    changed: list[bool],
    width: int,
    start: int = 0,
    cuts: Any = (),
    kinds: Kinds | None = None,
    point: list[float] | None = None,
    rate: list[float] | None = None,
    stood: list[bool] | None = None,
) -> tuple[np.ndarray, str]:
    """[reference, scatter, before][quantity][cell], and the last state as text."""
    values = np.array(x, float).reshape(len(x), -1)
    calm, moved = np.array(steady, bool), np.array(changed, bool)
    points = np.array([point or [100.0] * values.shape[1], rate or [NAN] * values.shape[1]])
    stands = np.array(stood or [False] * values.shape[1])
    used = kinds or Kinds([LOAD] * len(x))
    state, out = expectation.start(len(x), width), []
    for first, last in itertools.pairwise([0, *cuts, values.shape[1]]):
        part = slice(first, last)
        state, got = expectation.advance(
            state, values[:, part], calm[part], moved[part], start + first, used, points[:, part], stands[part]
        )
        out.append(np.array([got.reference, got.scatter, got.before]))
        state = load_state(dump_state(state))
    return np.concatenate(out, axis=2), dump_state(state)


def plainly(
    x: list[list[float]],
    steady: list[bool],
    changed: list[bool],
    width: int,
    start: int,
    point: list[float],
    rate: list[float],
    stood: list[bool],
) -> np.ndarray:
    rows = []
    for row, kind in zip(x, (LOAD, STEEL), strict=True):
        one = Plain(kind, width)
        cells = zip(row, steady, changed, point, rate, stood, strict=True)
        rows.append([one.cell(start + i, *cell) for i, cell in enumerate(cells)])
    return np.array(rows, float).reshape(len(x), -1, 3).transpose(2, 0, 1)


LEVELS = st.lists(
    st.tuples(st.sampled_from([50.0, 50.5, 52.0, 70.0, -3.0, 0.0, NAN]), st.integers(1, 14)), min_size=1, max_size=9
)
JITTER = st.lists(st.sampled_from([0.0, 0.1, -0.2, 0.05, NAN]), min_size=126, max_size=126)
RARE = st.lists(st.sampled_from([False] * 12 + [True]), min_size=126, max_size=126)


SPEEDS = st.lists(st.sampled_from([100.0, 110.0, 130.0]), min_size=126, max_size=126)


@settings(deadline=None, max_examples=150)
@given(
    LEVELS, JITTER, RARE, RARE, RARE, SPEEDS, st.sampled_from([NAN, 1.0, 1.3]),
    st.integers(2, 6), st.integers(0, 30), st.lists(st.integers(0, 126), max_size=5),
)  # fmt: skip
def test_same_as_the_plain_walk_at_any_cut(  # type: ignore[no-untyped-def]
    levels, jitter, unsteady, changed, stops, speeds, per_turn, width, start, cuts
) -> None:
    base = [value for value, length in levels for _ in range(length)]
    n = len(base)
    x = [[a + b for a, b in zip(base, jitter, strict=False)], [2 * a - b for a, b in zip(base, jitter, strict=False)]]
    steady, changed, point = [not flag for flag in unsteady[:n]], changed[:n], speeds[:n]
    stood = [a and b for a, b in zip(changed, stops, strict=False)]
    rate = [per_turn * value for value in point]

    whole, state = learn(x, steady, changed, width, start, (), BOTH, point, rate, stood)

    plain = plainly(x, steady, changed, width, start, point, rate, stood)
    np.testing.assert_allclose(whole, plain, rtol=1e-9, atol=1e-9)
    places = sorted(min(cut, n) for cut in cuts)
    again, same_state = learn(x, steady, changed, width, start, places, BOTH, point, rate, stood)
    np.testing.assert_array_equal(again, whole)
    assert same_state == state


def flat(value: float, minutes: int, width: int = 6) -> list[float]:
    return [value] * (minutes * width)


def references(row: list[float], changed: tuple[int, ...] = (), unsteady: tuple[int, ...] = ()) -> np.ndarray:
    """[reference, scatter, before] of one quantity in minutes of six cells."""
    n = len(row)
    calm = [i not in unsteady for i in range(n)]
    return learn([row], calm, [i in changed for i in range(n)], 6)[0][:, 0]


def test_adopted_after_three_steady_minutes_from_the_next_cell_never_backwards() -> None:
    reference = references(flat(50.0, 5))[0]

    assert np.isnan(reference[:18]).all()
    assert (reference[18:] == 50.0).all()


def test_a_minute_with_one_unsteady_cell_does_not_count() -> None:
    reference = references(flat(50.0, 5), unsteady=(13,))[0]

    assert np.isnan(reference[:24]).all() and reference[24] == 50.0


def test_minutes_are_those_of_the_clock() -> None:
    """A log that begins inside a minute learns nothing from the rest of it."""
    got, _ = learn([flat(50.0, 5)], [True] * 30, [False] * 30, 6, start=4)

    assert np.isnan(got[0, 0, :20]).all() and got[0, 0, 20] == 50.0


def test_three_minutes_that_disagree_are_not_adopted() -> None:
    reference = references([*flat(50.0, 1), *flat(53.0, 1), *flat(56.0, 1), *flat(59.0, 1)])[0]

    assert np.isnan(reference).all()


def test_a_fault_does_not_become_the_new_normal_for_four_hours() -> None:
    width = 6
    got = references([*flat(50.0, 10), *flat(30.0, 260)])[0]

    assert (got[60 : (10 + 240) * width] == 50.0).all()
    assert got[(10 + 240) * width] == 30.0


def test_a_slow_slide_is_followed() -> None:
    """Torque slides by 3 to 8 % in the hour after a start: that is not a fault."""
    row = [50.0 - 4.0 * i / 360 for i in range(360)]
    reference = references(row)[0]

    lag = reference[-1] - row[-1]
    assert 0 < lag < 1.5


def test_a_change_forgets_and_keeps_what_was_as_before() -> None:
    reference, scatter, before = references([*flat(50.0, 4), *flat(40.0, 4)], changed=(24,))

    assert reference[23] == 50.0 and np.isnan(reference[24:42]).all() and np.isnan(scatter[24:42]).all()
    assert np.isnan(before[:24]).all() and (before[24:] == 50.0).all()
    assert np.isnan(reference[42]) and reference[47] != reference[47], "the minute of the change was not whole"


def test_a_second_change_in_a_row_does_not_lose_what_was_before_the_first() -> None:
    before = references([*flat(50.0, 4), *flat(40.0, 4)], changed=(24, 25, 30))[2]

    assert (before[24:] == 50.0).all()


def test_each_quantity_learns_on_its_own() -> None:
    got, _ = learn([flat(50.0, 5), flat(NAN, 5)], [True] * 30, [False] * 30, 6)

    assert (got[0, 0, 18:] == 50.0).all() and np.isnan(got[0, 1]).all()


def test_scatter_is_never_taken_for_nothing() -> None:
    """A reading that stands still for three minutes is held to 0.4 %, not to zero."""
    scatter = references(flat(50.0, 5))[1]

    assert abs(scatter[18] - 0.004 * 50.0) < 1e-12


def test_a_melt_five_degrees_hotter_is_no_new_normal() -> None:
    """3 % of 230 C would take it in at once."""
    row = [*flat(230.0, 10), *flat(235.0, 60)]
    kinds = Kinds([KINDS["melt_temperature"]])
    reference = learn([row], [True] * 420, [False] * 420, 6, kinds=kinds)[0][0, 0]

    assert (reference[18:] == 230.0).all()


@settings(deadline=None, max_examples=100)
@given(
    st.lists(st.lists(st.sampled_from([NAN, -1.0, 0.0, 2.0, 3.5, 9.0]), min_size=5, max_size=5), min_size=1, max_size=4)
)
def test_column_medians(columns: list[list[float]]) -> None:
    columns = [[*column, 1.0] for column in columns]
    x = np.array(columns).T
    known = np.isfinite(x)

    got = column_medians(np.where(known, x, np.inf), known.sum(axis=0))

    assert got.tolist() == [statistics.median(v for v in column if v == v) for column in columns]


def after_a_change(then: float, now: float, stood: bool = False) -> np.ndarray:
    """Expected torque in minutes of six cells: six minutes at one rate, then at 1.25 of it, the speed the same."""
    row = [*flat(then, 6), *flat(now, 8)]
    changed, rate = [i == 36 for i in range(84)], [100.0] * 36 + [125.0] * 48
    return learn([row], [True] * 84, changed, 6, kinds=Kinds([LOAD]), rate=rate, stood=[stood and c for c in changed])[
        0
    ][0, 0]


def test_what_a_change_of_rate_can_make_of_a_torque_is_learned() -> None:
    assert after_a_change(50.0, 58.0)[-1] == 58.0


def test_a_chute_blocked_within_the_change_does_not_become_the_new_normal() -> None:
    expected = after_a_change(50.0, 36.0)[-1]

    assert 55.0 < expected < 60.0, "rate up by a quarter: torque by 5 to 28 %, and its middle stands for it"


def test_what_was_known_is_carried_from_the_rate_that_it_held_at() -> None:
    """The chute blocks, the feeders back up, the drive trips into its limit and comes back: rate and torque are then
    what they were before it, and the rate that the blockage left has nothing to do with the torque that was usual."""
    row = [*flat(50.0, 6), *flat(15.0, 4), *flat(50.0, 8)]
    rate = [*flat(100.0, 6), *flat(30.0, 4), *flat(100.0, 8)]
    changed = [i == 60 for i in range(108)]

    expected = learn([row], [True] * 108, changed, 6, kinds=Kinds([LOAD]), rate=rate)[0][0, 0]

    assert expected[-1] == 50.0


def test_over_a_stop_nothing_is_carried() -> None:
    assert after_a_change(50.0, 36.0, stood=True)[-1] == 36.0


def test_without_a_known_rate_nothing_is_carried() -> None:
    reference = references([*flat(50.0, 6), *flat(36.0, 8)], changed=(36,))[0]

    assert reference[-1] == 36.0


def carried(cuts: list[int]) -> np.ndarray:
    """Torque carried over, cell by cell: the rate goes up at 36, the line stands from 45 to 50."""
    row, at = np.array([flat(50.0, 10)]), np.arange(60)
    changed, stood = (at == 36) | ((at >= 45) & (at < 50)), (at >= 45) & (at < 50)
    points = np.array([np.full(60, 100.0), np.where(at < 36, 100.0, 125.0)])
    state, out = expectation.start(1, 6), []
    for first, last in itertools.pairwise([0, *cuts, 60]):
        part = slice(first, last)
        state, got = expectation.advance(
            state, row[:, part], ~changed[part], changed[part], first, Kinds([LOAD]), points[:, part], stood[part]
        )
        out.append(got.carried)
    return np.concatenate(out, axis=1)[0]


def test_what_is_carried_over_is_known_until_the_line_stands_wherever_the_log_is_cut() -> None:
    whole = carried([])

    assert np.isfinite(whole[36:45]).all() and np.isnan(whole[45:]).all()
    assert np.array_equal(whole, carried(list(range(1, 60))), equal_nan=True)


def test_a_duty_that_is_switched_on_and_off_is_its_mean_and_any_other_its_median() -> None:
    """60 % in two of six cells: not nothing. One odd cell of a duty that stands is none of it."""
    switched = [60.0, 60.0, 0.0, 0.0, 0.0, 0.0] * 40
    odd = [*flat(30.0, 10), 30.0, 30.0, 34.0, 30.0, 30.0, 30.0, *flat(30.0, 29)]
    load = [9.0, 9.0, 30.0, 30.0, 9.0, 9.0] * 40
    kinds = Kinds([KINDS["zone_output"], KINDS["zone_output"], KINDS["net_torque"]])

    expected = learn([switched, odd, load], [True] * 240, [False] * 240, 6, kinds=kinds)[0][0]

    assert expected[:, -1].tolist() == pytest.approx([20.0, 30.0, 9.0], abs=0.01)


def test_a_duty_whose_cycles_a_minute_cuts_through_is_learned_all_the_same() -> None:
    """On for 25 of 75 s: two cells in one minute, one in another."""
    row = [60.0 if 10 * cell % 75 < 25 else 0.0 for cell in range(300)]

    expected, scatter = learn([row], [True] * 300, [False] * 300, 6, kinds=Kinds([KINDS["zone_output"]]))[0][:2]

    assert abs(expected[0, -1] - sum(row) / 300) < 2.0 and 3.0 < scatter[0, -1] < 15.0
