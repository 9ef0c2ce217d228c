"""A state as JSON and back: to the bit, of one size, and refused where it cannot be read."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.checkpoint import CheckpointError, dump_state, load_state
from monitor.episodes import Episode
from monitor.records import Cause, Evidence, Record

ODD = [0.1, -0.0, 5e-324, 1.7976931348623157e308, math.nan, math.inf, -math.inf, 1 / 3]
NUMBERS = st.one_of(st.floats(), st.sampled_from(ODD))
ARRAYS = st.one_of(
    st.lists(NUMBERS, max_size=6).map(lambda x: np.array(x, float)),
    st.lists(st.lists(NUMBERS, min_size=3, max_size=3), max_size=3).map(lambda x: np.array(x, float).reshape(-1, 3)),
    st.lists(st.booleans(), max_size=6).map(lambda x: np.array(x, bool)),
    st.lists(st.integers(-(2**63), 2**63 - 1), max_size=6).map(lambda x: np.array(x, np.int64)),
    st.lists(st.integers(-128, 127), max_size=6).map(lambda x: np.array(x, np.int8)),
    st.just(np.full((2, 0), np.nan)),
)
PLAIN = st.one_of(st.none(), st.booleans(), st.integers(-(2**70), 2**70), NUMBERS, st.text(max_size=5))
EPISODES = st.builds(
    Episode,
    level=st.integers(0, 3),
    since=st.integers(0, 2**62),
    worst=st.one_of(st.none(), NUMBERS),
    worst_facts=st.lists(st.tuples(st.text(max_size=3), st.one_of(st.none(), NUMBERS)), max_size=2).map(tuple),
)
RECORDS = st.builds(
    Record,
    decided_at=st.integers(0, 2**62), seq=st.integers(1, 9), finding=st.just("f"), kind=st.just("opened"),
    line=st.text(max_size=3), family=st.just("drift"), condition=st.just("c"), channel=st.just("x"), since=st.just(0),
    until=st.none(), priority=st.integers(1, 4), confidence=st.just("low"), summary=st.text(max_size=5),
    evidence=st.lists(st.builds(Evidence, st.text(max_size=3), st.floats(), st.just("C")), max_size=2).map(tuple),
    causes=st.lists(
        st.builds(Cause, st.text(max_size=3), st.lists(st.text(max_size=3), max_size=2).map(tuple)), max_size=2
    ).map(tuple),
)  # fmt: skip
KINDS = ("odd", "array", "episode", "record", "tuple")
STATES = st.recursive(
    st.one_of(PLAIN, ARRAYS, EPISODES, RECORDS),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.lists(inner, max_size=3).map(tuple),
        st.dictionaries(st.sampled_from([*KINDS, "dict", "a"]), inner, max_size=3),
    ),
    max_leaves=8,
)


def alike(a: Any, b: Any) -> bool:
    """Same kind, same bits, all NaN counting as one; looks at everything itself."""
    if type(a) is not type(b):
        return False
    if isinstance(a, np.ndarray):
        if a.dtype != b.dtype or a.shape != b.shape:
            return False
        return all(alike(x, y) for x, y in zip(a.ravel().tolist(), b.ravel().tolist(), strict=True))
    if isinstance(a, float):
        return (a != a and b != b) or (a == b and math.copysign(1, a) == math.copysign(1, b))
    if isinstance(a, Episode):
        return all(alike(getattr(a, name), getattr(b, name)) for name in vars(a))
    if isinstance(a, dict):
        return list(a) == list(b) and all(alike(a[key], b[key]) for key in a)
    if isinstance(a, (list, tuple)):
        return len(a) == len(b) and all(alike(x, y) for x, y in zip(a, b, strict=True))
    return a == b


@settings(deadline=None, max_examples=200)
@given(STATES)
def test_reads_back_to_the_bit(state: Any) -> None:
    text = dump_state(state)

    back = load_state(text)

    assert alike({"s": _sorted(back)}, {"s": _sorted(state)})
    assert dump_state(back) == text
    json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))


def _sorted(value: Any) -> Any:
    """Dictionaries in the order of their keys: JSON is written sorted."""
    if isinstance(value, dict):
        return {key: _sorted(value[key]) for key in sorted(value)}
    if isinstance(value, (list, tuple)):
        return type(value)(_sorted(item) for item in value)
    return value


def test_equal_states_give_equal_text_whatever_order_they_were_made_in() -> None:
    assert dump_state({"a": 1, "b": np.zeros(2)}) == dump_state({"b": np.zeros(2), "a": 1})


def test_whole_numbers_and_numbers_stay_what_they_are() -> None:
    back = load_state(dump_state({"i": 1, "f": 1.0, "b": True, "n": np.int64(3), "g": np.float64(0.1)}))

    assert [type(back[key]) for key in "ifbng"] == [int, float, bool, int, float]


def test_arrays_read_back_may_be_written_to() -> None:
    load_state(dump_state(np.zeros(2)))[0] = 1.0


@pytest.mark.parametrize(
    "text",
    ["", "{", "nonsense", '{"array": [1], "type": "<f8"}', '{"array": [1, 2], "type": "<f8", "shape": [3]}',
     '{"array": ["x"], "type": "<f8", "shape": [1]}', '{"array": [1], "type": "whatever", "shape": [1]}',
     '{"odd": "many"}', '{"episode": [1, 2]}', '{"episode": [1,2,3,4,5,6,7,8,9,10,11,12,13,14,15]}',
     '{"what": 1}', '{"dict": [1]}', '{"dict": 1}', '{"tuple": 1}', '{"array": 1, "type": "<f8", "shape": []}'],
)  # fmt: skip
def test_what_is_no_checkpoint_is_refused_in_words(text: str) -> None:
    with pytest.raises(CheckpointError, match="this checkpoint cannot be read"):
        load_state(text)


@pytest.mark.parametrize("value", [{1, 2}, object(), b"bytes", 1j])
def test_what_no_checkpoint_can_keep_is_not_written(value: Any) -> None:
    with pytest.raises(TypeError):
        dump_state({"x": value})


def test_half_a_checkpoint_is_refused() -> None:
    """A file cut short by a full disk."""
    text = dump_state({"a": np.arange(5.0), "e": (Episode(), Episode(level=1))})
    for length in range(len(text)):
        with pytest.raises(CheckpointError):
            load_state(text[:length])
