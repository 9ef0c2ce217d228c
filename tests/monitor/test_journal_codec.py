"""Readings come back from their bytes bit for bit, whatever they hold."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.journal import codec
from monitor.journal.codec import packed, plain, unpack

FLOATS = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True, width=64),
    st.sampled_from([0.0, -0.0, np.nan, np.inf, -np.inf, 5e-324, 1e300, 231.4, -12.25]),
    st.integers(-100_000, 100_000).map(lambda n: n / 100),
)
ROWS = st.integers(1, 40).flatmap(lambda n: st.lists(st.lists(FLOATS, min_size=n, max_size=n), min_size=1, max_size=5))


def same_bits(a: np.ndarray, b: np.ndarray) -> bool:
    return a.shape == b.shape and np.array_equal(a.view(np.int64), b.view(np.int64))


@settings(max_examples=150, deadline=None)
@given(rows=ROWS, seed=st.integers(0, 2**32 - 1))
@pytest.mark.parametrize("store", [plain, packed])
def test_bits_come_back(store, rows, seed):
    values = np.array(rows)
    status = np.random.default_rng(seed).choice(np.array([0, 1, 2, 3, 4, 7, 255], np.uint8), values.shape)

    again, marks = unpack(store(values, status), range(len(rows)))

    assert same_bits(again, values)
    assert np.array_equal(marks, status)


@settings(max_examples=100, deadline=None)
@given(
    decimals=st.integers(0, 4),
    missing=st.lists(st.booleans(), min_size=50, max_size=50),
    numbers=st.lists(st.integers(-(10**9), 10**9), min_size=50, max_size=50),
)
def test_logged_decimals_with_gaps_come_back(decimals, missing, numbers):
    values = np.array([numbers]) / 10.0**decimals
    values[0, missing] = np.nan

    again, _ = unpack(packed(values, np.zeros(values.shape, np.uint8)), [0])

    assert same_bits(again, values)


def test_a_nan_with_another_pattern_keeps_it():
    values = np.array([[0x7FF8000000000001, 0x7FF8000000000000, 0x4059000000000000]], np.int64).view(np.float64)

    assert same_bits(unpack(packed(values, np.zeros((1, 3), np.uint8)), [0])[0], values)


def test_one_channel_is_read_without_decoding_the_others(monkeypatch):
    rng = np.random.default_rng(3)
    values = np.round(rng.normal(200, 5, (64, 3600)), 1)
    body = packed(values, np.full(values.shape, 4, np.uint8))
    decoded = []
    real = codec._unpack_values
    monkeypatch.setattr(codec, "_unpack_values", lambda part, cells: decoded.append(len(part)) or real(part, cells))

    two, _ = unpack(body, [40, 3])

    assert same_bits(two, values[[40, 3]])
    assert len(decoded) == 2
    assert sum(decoded) < len(body) / 20


def test_logged_tenths_take_less_than_a_quarter_of_their_patterns():
    rng = np.random.default_rng(5)
    values = np.round(200 + np.cumsum(rng.normal(0, 0.05, (8, 3600)), axis=1), 1)

    assert len(packed(values, np.full(values.shape, 4, np.uint8))) < values.nbytes / 4
