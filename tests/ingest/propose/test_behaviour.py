"""What is seen of tags that move together, on made-up rows."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.propose.behaviour import relations_of
from ingest.propose.relations import Relations
from ingest.propose.tag_numbers import numbers_of
from tests.ingest.propose.made_up import feeder, sample, zone


def seen(columns: dict[str, np.ndarray]) -> Relations:
    """Relations among these columns."""
    rows = sample(columns)
    return relations_of(rows, numbers_of(rows))


@pytest.mark.parametrize("seed", range(3))
def test_an_output_is_paired_with_the_zone_it_heats(seed: int) -> None:
    rng = np.random.default_rng(seed)
    columns: dict[str, np.ndarray] = {}
    for i in range(4):
        columns[f"t{i}"], columns[f"s{i}"], columns[f"y{i}"] = zone(200, rng)

    pairs = {(pair.first, pair.second) for pair in seen(columns).heats}

    assert pairs == {(f"y{i}", f"t{i}") for i in range(4)}


def test_an_output_that_answers_to_nothing_here_is_not_paired() -> None:
    rng = np.random.default_rng(5)
    t, s, _ = zone(200, rng)
    _, _, other = zone(180, rng)

    assert seen({"t": t, "s": s, "y": other}).heats == ()


def test_readings_at_one_level_are_not_told_apart() -> None:
    rng = np.random.default_rng(6)
    columns = {}
    for i in range(2):
        columns[f"t{i}"], columns[f"s{i}"], _ = zone(200, rng)
    columns["t2"], columns["s2"], _ = zone(120, rng)

    alone = {(one.actual, one.wanted) for one in seen(columns).follows if one.alone}

    assert alone == {("t2", "s2")}


def test_a_steady_reading_of_coarse_resolution_is_no_setpoint() -> None:
    """As zone 1 of the open 'multistage_line': 71.9 to 72.5, held for up to an hour."""
    rng = np.random.default_rng(7)
    coarse = np.repeat(rng.choice([71.9, 72.0, 72.1], 30), 100)

    assert not numbers_of(sample({"z": coarse}))[0].stepped


@pytest.mark.parametrize(("level", "digits"), [(140.0, 2), (6.0, 2), (48.0, 1)])
def test_a_setpoint_that_is_led_to_its_new_level_is_one(level: float, digits: int) -> None:
    """A controller's ramp changes it row after row; so does no reading."""
    ramp = np.linspace(level, 0.85 * level, 60)
    wanted = np.round(np.concatenate((np.full(1200, level), ramp, np.full(1200, 0.85 * level))), digits)
    read = np.round(wanted + np.random.default_rng(3).normal(0, 0.01 * level, len(wanted)), digits)

    assert numbers_of(sample({"s": wanted}))[0].stepped
    assert not numbers_of(sample({"r": read}))[0].stepped


def test_a_slow_rise_in_whole_degrees_is_no_ramp_of_a_setpoint() -> None:
    """Between two digits a reading rests; it is not led there row after row."""
    rise = np.floor(np.linspace(20, 200, 2400) + np.random.default_rng(4).normal(0, 0.1, 2400))

    assert not numbers_of(sample({"z": rise}))[0].stepped


def test_a_weight_is_paired_with_its_rate_and_its_refill() -> None:
    rng = np.random.default_rng(8)
    columns: dict[str, np.ndarray] = {}
    for i, rate in enumerate((100.0, 40.0, 17.0)):
        columns[f"q{i}"], columns[f"w{i}"], columns[f"r{i}"] = feeder(rate, rng, 3.0 + 1.3 * i)
    found = seen(columns)

    assert {(pair.first, pair.second) for pair in found.falls} == {(f"w{i}", f"q{i}") for i in range(3)}
    assert {(pair.first, pair.second) for pair in found.refills} == {(f"r{i}", f"w{i}") for i in range(3)}


def test_a_rate_in_other_units_than_the_weight_is_not_paired() -> None:
    rate, weight, _ = feeder(100.0, np.random.default_rng(9))

    assert seen({"q": rate / 0.45359237, "w": weight}).falls == ()


def test_a_copied_column_is_noticed() -> None:
    t, _, y = zone(200, np.random.default_rng(10))

    assert seen({"a": t, "b": y, "c": t}).same == (("a", "c"),)


def test_nothing_is_seen_in_empty_columns() -> None:
    assert seen({"a": np.full(500, np.nan), "b": np.zeros(500), "c": np.full(500, np.nan)}) == Relations()
