"""Limits with deadband and plain rules, against a walk over the cells."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.contract import CLEAR, DISARMED, UNKNOWN
from monitor.levels import levels_above, rule

NAN = float("nan")
QUICK = settings(deadline=None, max_examples=150)
VALUES = st.sampled_from([NAN, 0.0, 4.0, 4.5, 5.0, 6.9, 7.0, 8.0, 99.0])
LIMITS = st.tuples(st.sampled_from([NAN, 5.0]), st.sampled_from([NAN, 7.0, 8.0]))
CELLS = st.lists(st.tuples(VALUES, LIMITS, st.booleans()), max_size=25)


def walk(cells: list[tuple[float, tuple[float, float], bool]], deadband: float) -> list[int]:
    """One value, its limits and whether it is armed, cell by cell."""
    on, out = [False, False], []
    for value, limits, armed in cells:
        for place, limit in enumerate(limits):
            if not armed or limit != limit:
                on[place] = False
            elif value >= limit:
                on[place] = True
            elif value < limit - deadband:
                on[place] = False
        level = 2 if on[1] else 1 if on[0] else CLEAR
        if value != value:
            level = UNKNOWN
        if not armed or all(limit != limit for limit in limits):
            level = DISARMED
        out.append(level)
    return out


@QUICK
@given(CELLS, st.sampled_from([0.0, 0.6, 2.0]), st.integers(0, 25))
def test_levels_above(cells, deadband, cut) -> None:  # type: ignore[no-untyped-def]
    value = np.array([[v for v, _, _ in cells]])
    limits = [np.array([[pair[place] for _, pair, _ in cells]]) for place in (0, 1)]
    armed = np.array([[a for _, _, a in cells]], bool)

    def judge(state: np.ndarray, first: int, last: int) -> tuple[np.ndarray, np.ndarray]:
        part = slice(first, last)
        return levels_above(state, value[:, part], [one[:, part] for one in limits], np.array(deadband), armed[:, part])

    state, level = judge(np.zeros((1, 2), bool), 0, len(cells))

    assert level.dtype == np.int8
    assert level[0].tolist() == walk(cells, deadband)
    middle, first = judge(np.zeros((1, 2), bool), 0, cut)
    end, second = judge(middle, cut, len(cells))
    assert np.concatenate((first, second), axis=1).tolist() == level.tolist()
    assert end.tolist() == state.tolist()


def test_a_limit_for_the_whole_row_is_the_same_as_one_for_every_cell() -> None:
    value = np.array([[1.0, 6.0, 8.0], [1.0, 6.0, 8.0]])
    narrow = np.array([[5.0], [NAN]])
    armed = np.ones(value.shape, bool)

    _, level = levels_above(np.zeros((2, 1), bool), value, [narrow], np.array(0.0), armed)

    assert level.tolist() == [[0, 1, 1], [DISARMED] * 3]


def test_an_inner_limit_that_is_missing_leaves_the_outer_one() -> None:
    value = np.array([[6.0, 9.0]])
    armed = np.ones(value.shape, bool)

    _, level = levels_above(np.zeros((1, 2), bool), value, [np.array([[NAN]]), np.array([[8.0]])], np.array(0.5), armed)

    assert level.tolist() == [[0, 2]]


def test_a_missing_value_holds_the_switch() -> None:
    value = np.array([[9.0, NAN, 7.5]])
    _, level = levels_above(
        np.zeros((1, 1), bool), value, [np.array([[8.0]])], np.array(1.0), np.ones(value.shape, bool)
    )

    assert level.tolist() == [[1, UNKNOWN, 1]], "7.5 is inside the deadband: still on"


@pytest.mark.parametrize("holds", [True, False])
@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize("armed", [True, False])
def test_rule(holds: bool, known: bool, armed: bool) -> None:
    got = rule(np.array([[holds]]), np.array([[known]]), np.array([armed]), level=2)

    want = DISARMED if not armed else UNKNOWN if not known else 2 if holds else CLEAR
    assert got.dtype == np.int8 and got.tolist() == [[want]]
