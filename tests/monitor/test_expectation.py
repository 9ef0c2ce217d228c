"""What is learned inside a run, against a walk in plain Python: adopted when, kept when, forgotten when."""

from __future__ import annotations

import itertools
import statistics
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor import expectation
from monitor.checkpoint import dump_state, load_state

NAN = float("nan")
MAD = 1.4826


class Plain:
    """One quantity. `cell` gives what was expected before it, then takes the cell in."""

    def __init__(self, width: int) -> None:
        self.width, self.before = width, NAN
        self.forget()

    def forget(self) -> None:
        self.reference = self.scatter = NAN
        self.cells: list[float] = []
        self.calm: list[bool] = []
        self.medians: list[float] = []
        self.minutes = self.off = 0

    def cell(self, index: int, x: float, steady: bool, changed: bool) -> tuple[float, float, float]:
        if changed:
            known = self.reference if self.reference == self.reference else self.before
            self.forget()
            self.before = known
            return self.reference, self.scatter, self.before
        out = self.reference, self.scatter, self.before
        self.cells.append(x)
        self.calm.append(steady)
        if (index + 1) % self.width == 0:
            if len(self.cells) == self.width and all(self.calm):
                self.minute([value for value in self.cells if value == value])
            self.cells, self.calm = [], []
        return out

    def minute(self, known: list[float]) -> None:
        if len(known) < 0.6 * self.width:
            return
        median = statistics.median(known)
        spread = MAD * statistics.median(abs(v - median) for v in known)
        self.medians = [*self.medians, median][-3:]
        if self.reference == self.reference:
            allowed = max(4 * self.scatter, 0.03 * abs(self.reference))
            if abs(median - self.reference) <= allowed:
                weight = max(1 / (self.minutes + 1), 1 / 20)
                around = MAD * statistics.median(abs(v - self.reference) for v in known)
                around = max(around, 0.004 * abs(self.reference))
                self.scatter += weight * (around - self.scatter)
                self.reference += weight * (median - self.reference)
                self.minutes, self.off = self.minutes + 1, 0
                return
            self.off += 1
            if self.off < 240:
                return
        if len(self.medians) < 3:
            return
        low, middle, high = sorted(self.medians)
        if high - low <= max(0.04 * abs(middle), 4 * spread):
            self.reference, self.minutes, self.off = middle, 3, 0
            self.scatter = max(spread, (high - low) / 2, 0.004 * abs(middle))


def learn(
    x: list[list[float]], steady: list[bool], changed: list[bool], width: int, start: int = 0, cuts: Any = ()
) -> tuple[np.ndarray, str]:
    """[reference, scatter, before][quantity][cell], and the last state as text."""
    values = np.array(x, float).reshape(len(x), -1)
    calm, moved = np.array(steady, bool), np.array(changed, bool)
    state, out = expectation.start(len(x), width), []
    for first, last in itertools.pairwise([0, *cuts, values.shape[1]]):
        part = slice(first, last)
        state, got = expectation.advance(state, values[:, part], calm[part], moved[part], start + first)
        out.append(np.array([got.reference, got.scatter, got.before]))
        state = load_state(dump_state(state))
    return np.concatenate(out, axis=2), dump_state(state)


def plainly(x: list[list[float]], steady: list[bool], changed: list[bool], width: int, start: int = 0) -> np.ndarray:
    rows = []
    for row in x:
        one = Plain(width)
        rows.append(
            [one.cell(start + i, v, s, c) for i, (v, s, c) in enumerate(zip(row, steady, changed, strict=True))]
        )
    return np.array(rows, float).reshape(len(x), -1, 3).transpose(2, 0, 1)


LEVELS = st.lists(
    st.tuples(st.sampled_from([50.0, 50.5, 52.0, 70.0, -3.0, 0.0, NAN]), st.integers(1, 14)), min_size=1, max_size=9
)
JITTER = st.lists(st.sampled_from([0.0, 0.1, -0.2, 0.05, NAN]), min_size=126, max_size=126)
RARE = st.lists(st.sampled_from([False] * 12 + [True]), min_size=126, max_size=126)


@settings(deadline=None, max_examples=120)
@given(LEVELS, JITTER, RARE, RARE, st.integers(2, 6), st.integers(0, 30), st.lists(st.integers(0, 126), max_size=5))
def test_same_as_the_plain_walk_at_any_cut(levels, jitter, unsteady, changed, width, start, cuts) -> None:  # type: ignore[no-untyped-def]
    base = [value for value, length in levels for _ in range(length)]
    n = len(base)
    x = [[a + b for a, b in zip(base, jitter, strict=False)], [2 * a - b for a, b in zip(base, jitter, strict=False)]]
    steady, changed = [not flag for flag in unsteady[:n]], changed[:n]

    whole, state = learn(x, steady, changed, width, start)

    np.testing.assert_allclose(whole, plainly(x, steady, changed, width, start), rtol=1e-12, atol=1e-12)
    places = sorted(min(cut, n) for cut in cuts)
    again, same_state = learn(x, steady, changed, width, start, places)
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

    assert scatter[18] == 0.004 * 50.0


@settings(deadline=None, max_examples=100)
@given(
    st.lists(st.lists(st.sampled_from([NAN, -1.0, 0.0, 2.0, 3.5, 9.0]), min_size=5, max_size=5), min_size=1, max_size=4)
)
def test_row_medians(rows: list[list[float]]) -> None:
    rows = [[*row, 1.0] for row in rows]

    got = expectation.row_medians(np.array(rows))

    assert got.tolist() == [statistics.median(v for v in row if v == v) for row in rows]
