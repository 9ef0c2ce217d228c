"""Refills counted from the signal and from the weight."""

from __future__ import annotations

import numpy as np
import pytest

from dashboards.memory_data import MemoryData
from dashboards.pages.upkeep_detail import refill_words
from dashboards.refills import Refills, refills, refills_in, rising
from tests.dashboards.plant import HOUR


def test_runs_are_refills() -> None:
    active = np.zeros(8640, bool)
    for start in (10, 500, 8630):
        active[start : start + 4] = True
    active[700:730] = True
    found = refills_in(active, 10.0)
    assert (found.count, found.longest_s, found.days) == (4, 300.0, 1.0)
    assert refills_in(np.zeros(0, bool), 10.0) == Refills(0, 0.0, 0.0)


def test_a_weight_that_only_falls_is_never_refilled() -> None:
    rng = np.random.default_rng(6)
    falling = 100 - 0.02 * np.arange(2000) + rng.normal(0, 0.1, 2000)
    assert not rising(falling, 160).any()
    falling[1000:] += 60
    assert np.flatnonzero(rising(falling, 160)).tolist() == [1000]
    falling[990:1010] = np.nan
    assert not rising(falling, 160).any(), "what was not seen is not counted"


def test_weights_of_the_plant(data: MemoryData, end_ns: int) -> None:
    line = data.source.line("Line 3")
    found = refills(data, line, "F1", end_ns - 2 * HOUR, end_ns)
    cycles = 2 * 376.9 / (160 * 0.6)
    assert found is not None and found.count == pytest.approx(cycles, abs=1)
    assert refills(data, line, "F9", end_ns - 2 * HOUR, end_ns) is None


def test_words() -> None:
    text = refill_words(Refills(31, 50.0, 1.0), Refills(40, 45.0, 2.0))
    assert "31 times" in text and "20 a day" in text
    assert refill_words(None, None) == ""
