"""Each function of `exact` against a slow, plain one, whole and at every cut, bit for bit."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor import exact

ROWS = 2
NAN = float("nan")
CELLS = st.one_of(
    st.floats(-1e6, 1e6, allow_nan=False),
    st.sampled_from([NAN, NAN, 0.0, -0.0, 0.1, 1e-300, 220.0]),
)
TABLES = st.integers(0, 30).flatmap(lambda n: st.lists(st.lists(CELLS, min_size=n, max_size=n), min_size=2, max_size=2))
WIDTHS = st.integers(1, 6)
QUICK = settings(deadline=None, max_examples=60)


def table(rows: list[list[float]], kind: type = float) -> np.ndarray:
    return np.array(rows, dtype=kind).reshape(ROWS, -1)


def bits(x: Any) -> tuple[Any, ...]:
    """Shape, kind and every bit, all NaN counting as one."""
    x = np.asarray(x)
    if x.dtype.kind == "f":
        x = np.where(np.isnan(x), np.nan, x)
    return x.shape, x.dtype.str, x.tobytes()


def at_every_cut(walk: Callable[[Any, np.ndarray], tuple[np.ndarray, Any]], state: Any, x: np.ndarray) -> np.ndarray:
    """The whole answer, after holding each cut in two, and cell by cell, against it: values and state."""
    whole, last = walk(state, x)
    for place in range(x.shape[1] + 1):
        first, middle = walk(state, x[:, :place])
        second, end = walk(middle, x[:, place:])
        assert bits(np.concatenate((first, second), axis=1)) == bits(whole), f"cut at {place}"
        assert bits(end) == bits(last), f"state after a cut at {place}"
    singles, between = [whole[:, :0]], state
    for cell in range(x.shape[1]):
        part, between = walk(between, x[:, cell : cell + 1])
        singles.append(part)
    assert bits(np.concatenate(singles, axis=1)) == bits(whole), "cell by cell"
    assert bits(between) == bits(last), "state cell by cell"
    return whole


def trailing(row: list[float], cell: int, width: int) -> list[float]:
    """The last `width` cells up to and with `cell`; NaN before the beginning."""
    return [row[i] if i >= 0 else NAN for i in range(cell - width + 1, cell + 1)]


def by_cell(rows: list[list[float]], width: int, answer: Callable[[list[float]], float]) -> list[list[float]]:
    return [[answer(trailing(row, i, width)) for i in range(len(row))] for row in rows]


def plain_mean(least: int) -> Callable[[list[float]], float]:
    def mean(window: list[float]) -> float:
        total, count = 0.0, 0
        for value in window:
            if value == value:
                total, count = total + value, count + 1
        return total / count if count >= max(least, 1) else NAN

    return mean


def plain_slope(window: list[float]) -> float:
    width = len(window)
    arms = [i - (width - 1) / 2 for i in range(width)]
    total = 0.0
    for arm, value in zip(arms, window, strict=True):
        total += arm * value
    return total / sum(arm * arm for arm in arms) if width > 1 else NAN


@QUICK
@given(TABLES, WIDTHS, st.integers(0, 4))
def test_trailing_mean(rows: list[list[float]], width: int, least: int) -> None:
    got = at_every_cut(lambda past, x: exact.trailing_mean(past, x, least), exact.blank(ROWS, width - 1), table(rows))

    assert bits(got) == bits(table(by_cell(rows, width, plain_mean(least))))


@QUICK
@given(TABLES, WIDTHS)
def test_trailing_slope(rows: list[list[float]], width: int) -> None:
    got = at_every_cut(exact.trailing_slope, exact.blank(ROWS, width - 1), table(rows))

    want = table(by_cell(rows, width, plain_slope))
    np.testing.assert_allclose(got, want, rtol=1e-12, atol=1e-9)


def test_slope_of_a_straight_line_is_its_slope() -> None:
    line = np.array([[20.0, 22.5, 25.0, 27.5, 30.0]])

    got, _ = exact.trailing_slope(exact.blank(1, 2), line)

    assert np.isnan(got[0, :2]).all()
    assert got[0, 2:].tolist() == [2.5, 2.5, 2.5]


@QUICK
@given(TABLES, WIDTHS)
def test_trailing_extremes(rows: list[list[float]], width: int) -> None:
    def walk(past: np.ndarray, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        low, high, after = exact.trailing_extremes(past, x)
        return np.concatenate((low, high), axis=0), after

    got = at_every_cut(walk, exact.blank(ROWS, width - 1), table(rows))

    def least(window: list[float]) -> float:
        return min((v for v in window if v == v), default=NAN)

    def most(window: list[float]) -> float:
        return max((v for v in window if v == v), default=NAN)

    want = [*by_cell(rows, width, least), *by_cell(rows, width, most)]
    np.testing.assert_array_equal(got, np.array(want).reshape(2 * ROWS, -1))
    low = at_every_cut(exact.trailing_least, exact.blank(ROWS, width - 1), table(rows))
    high = at_every_cut(exact.trailing_greatest, exact.blank(ROWS, width - 1), table(rows))
    assert bits(np.concatenate((low, high))) == bits(got)


def test_extremes_of_both_zeros_are_the_same_bits_in_every_length() -> None:
    """numpy's fmin takes -0.0 or +0.0 by place in the array: found by the property above."""
    for n in range(1, 20):
        x = np.zeros((1, n))
        x[0, n // 2 :] = -0.0
        low, high, _ = exact.trailing_extremes(exact.blank(1, 1), x)
        assert bits(low) == bits(np.zeros((1, n))) and bits(high) == bits(np.zeros((1, n)))


@QUICK
@given(TABLES, WIDTHS)
def test_ordered_sum(rows: list[list[float]], width: int) -> None:
    def walk(past: np.ndarray, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        joined, after = exact.with_past(past, x)
        return exact.ordered_sum(joined, width), after

    got = at_every_cut(walk, exact.blank(ROWS, width - 1), table(rows))

    def total(window: list[float]) -> float:
        out = 0.0
        for value in window:
            out += value
        return out

    assert bits(got) == bits(table(by_cell(rows, width, total)))


@QUICK
@given(TABLES, st.integers(0, 6))
def test_with_past(rows: list[list[float]], width: int) -> None:
    x = table(rows)
    joined, after = exact.with_past(exact.blank(ROWS, width), x)

    want = [[NAN] * width + row for row in rows]
    assert bits(joined) == bits(table(want))
    assert bits(after) == bits(table([row[len(row) - width :] for row in want]))
    assert not np.shares_memory(after, x) and not np.shares_memory(after, joined)


@QUICK
@given(TABLES, st.lists(CELLS, min_size=2, max_size=2))
def test_last_known(rows: list[list[float]], before: list[float]) -> None:
    got = at_every_cut(exact.last_known, np.array(before), table(rows))

    want = []
    for newest, row in zip(before, rows, strict=True):
        filled = []
        for value in row:
            newest = value if value == value else newest
            filled.append(newest)
        want.append(filled)
    assert bits(got) == bits(table(want))


FLAGS = st.integers(0, 30).flatmap(
    lambda n: st.lists(st.lists(st.sampled_from("rfbn"), min_size=n, max_size=n), min_size=2, max_size=2)
)
"""r: rises, f: falls, b: both, n: neither."""


@QUICK
@given(FLAGS, st.lists(st.booleans(), min_size=2, max_size=2))
def test_two_threshold(rows: list[list[str]], before: list[bool]) -> None:
    letters = np.array(rows, dtype="U1").reshape(ROWS, -1)

    def walk(state: np.ndarray, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return exact.two_threshold(state, (x == "r") | (x == "b"), (x == "f") | (x == "b"))

    got = at_every_cut(walk, np.array(before), letters)

    want = []
    for on, row in zip(before, rows, strict=True):
        switched = []
        for letter in row:
            on = True if letter in "rb" else False if letter == "f" else on
            switched.append(on)
        want.append(switched)
    assert got.tolist() == want


@QUICK
@given(FLAGS, st.lists(st.integers(0, 9), min_size=2, max_size=2))
def test_run_length(rows: list[list[str]], before: list[int]) -> None:
    letters = np.array(rows, dtype="U1").reshape(ROWS, -1)
    got = at_every_cut(lambda state, x: exact.run_length(state, x == "r"), np.array(before, np.int64), letters)

    want = []
    for count, row in zip(before, rows, strict=True):
        counts = []
        for letter in row:
            count = count + 1 if letter == "r" else 0
            counts.append(count)
        want.append(counts)
    assert got.tolist() == want


@QUICK
@given(TABLES, st.lists(CELLS, min_size=2, max_size=2), st.floats(0.01, 1.0))
def test_ewma(rows: list[list[float]], before: list[float], weight: float) -> None:
    got = at_every_cut(lambda z, x: exact.ewma(z, x, weight), np.array(before), table(rows))

    want = []
    for z, row in zip(before, rows, strict=True):
        means = []
        for value in row:
            if value == value:
                z = value if z != z else z + weight * (value - z)
            means.append(z)
        want.append(means)
    assert bits(got) == bits(table(want))


@QUICK
@given(TABLES, FLAGS, st.lists(st.sampled_from([0.0, 0.3, -2.0]), min_size=2, max_size=2))
def test_accumulate_while(rows: list[list[float]], flags: list[list[str]], before: list[float]) -> None:
    n = min(len(rows[0]), len(flags[0]))
    x = np.nan_to_num(table(rows)[:, :n])
    holds = (np.array(flags, dtype="U1").reshape(ROWS, -1) == "r")[:, :n]
    index = np.tile(np.arange(n), (ROWS, 1))

    def walk(state: np.ndarray, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        place = cells[0] if n else np.zeros(0, int)
        return exact.accumulate_while(state, x[:, place], holds[:, place])

    got = at_every_cut(walk, np.array(before), index)

    for row in range(ROWS):
        total = before[row]
        for cell in range(n):
            total = total + x[row, cell] if holds[row, cell] else 0.0
            assert got[row, cell] == total


@QUICK
@given(FLAGS, st.lists(st.integers(0, 5), min_size=2, max_size=2))
def test_running_count(rows: list[list[str]], before: list[int]) -> None:
    flags = np.array(rows, dtype="U1").reshape(ROWS, -1) == "r"

    def walk(state: np.ndarray, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        out = exact.running_count(state, x)
        return out, out[:, -1] if x.shape[1] else state

    got = at_every_cut(walk, np.array(before, float), flags)

    want = [[float(c + sum(row[: n + 1])) for n in range(len(row))] for c, row in zip(before, flags, strict=True)]
    assert bits(got) == bits(table(want))


@QUICK
@given(TABLES, st.lists(st.sampled_from([0.0, 0.3, -2.0, NAN]), min_size=2, max_size=2))
def test_running_total(rows: list[list[float]], before: list[float]) -> None:
    def walk(state: np.ndarray, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        out = exact.running_total(state, x)
        return out, out[:, -1] if x.shape[1] else state

    got = at_every_cut(walk, np.array(before), table(rows))

    want = []
    for total, row in zip(before, rows, strict=True):
        totals = []
        for value in row:
            total = total + value
            totals.append(total)
        want.append(totals)
    assert bits(got) == bits(table(want))


@QUICK
@given(st.lists(st.lists(CELLS, min_size=12, max_size=12), min_size=2, max_size=2), st.sampled_from([1, 2, 3, 4, 12]))
def test_cell_means(rows: list[list[float]], width: int) -> None:
    got = exact.cell_means(table(rows), width)

    mean = plain_mean(1)
    want = [[mean(row[i : i + width]) for i in range(0, 12, width)] for row in rows]
    assert bits(got) == bits(table(want))


@QUICK
@given(
    st.integers(0, 20).flatmap(
        lambda n: st.lists(st.lists(st.sampled_from([1.0, -1.0, NAN]), min_size=n, max_size=n), min_size=2, max_size=2)
    ),
    st.lists(st.sampled_from([1.0, -1.0, NAN]), min_size=2, max_size=2),
)
def test_turns(rows: list[list[float]], newest: list[float]) -> None:
    got = at_every_cut(exact.turns, np.array(newest), table(rows))

    want = []
    for before, row in zip(newest, rows, strict=True):
        turned = []
        for side in row:
            turned.append(side == -before)
            before = side if side == side else before
        want.append(turned)
    assert bits(got) == bits(table(want, bool))


def test_cell_means_of_no_cells() -> None:
    assert exact.cell_means(np.zeros((3, 0)), 10).shape == (3, 0)


def test_a_single_nan_does_not_poison_what_comes_after_its_window() -> None:
    x = np.ones((1, 9))
    x[0, 2] = NAN

    mean, _ = exact.trailing_mean(exact.blank(1, 2), x, least=3)
    smooth, _ = exact.ewma(np.array([NAN]), x, 0.5)

    assert np.isnan(mean[0]).tolist() == [True] * 5 + [False] * 4
    assert smooth[0].tolist() == [1.0] * 9


def test_sums_do_not_keep_rounding_from_long_ago() -> None:
    """A running sum that adds and takes away would be off by the 1e16 that has left the window."""
    x = np.array([[1e16, 0.1, 0.2, 0.3, 0.4]])

    got, _ = exact.trailing_mean(exact.blank(1, 1), x)

    assert got[0, -1] == (0.3 + 0.4) / 2


@pytest.mark.parametrize("width", [1, 3, 7])
def test_state_is_its_own_copy(width: int) -> None:
    """A state that looks into the block would change when the reader fills its buffer anew."""
    x = np.arange(20.0).reshape(2, 10)
    extremes = exact.trailing_extremes, exact.trailing_least, exact.trailing_greatest
    for function in (exact.trailing_mean, exact.trailing_slope, *extremes):
        after = function(exact.blank(2, width), x)[-1]
        kept = after.copy()
        x += 100
        assert bits(after) == bits(kept), function.__name__


def test_count_true_is_the_count_in_each_window_at_every_cut():
    flags = np.random.default_rng(3).random((3, 40)) < 0.4
    width = 7

    counted = exact.count_true(flags, width)

    assert counted.shape == (3, 34)
    assert all(counted[:, n].tolist() == flags[:, n : n + width].sum(axis=1).tolist() for n in range(34))
    assert np.array_equal(exact.count_true(flags[:, :width], width), counted[:, :1])


def test_every_function_is_tested_here() -> None:
    public = {
        name
        for name, value in vars(exact).items()
        if inspect.isfunction(value) and value.__module__ == exact.__name__ and not name.startswith("_")
    }
    text = inspect.getsource(inspect.getmodule(test_with_past))  # type: ignore[arg-type]

    assert {name for name in public if f"exact.{name}" not in text} == set()
    assert math.isnan(exact.blank(1, 1)[0, 0])
