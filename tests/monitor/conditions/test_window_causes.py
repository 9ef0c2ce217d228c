"""Causes of a pressure or load out of its window follow what the other channels do: physics, on made-up numbers."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.melt_colder import colder_cause
from monitor.conditions.recipe_window import RecipeWindow
from monitor.conditions.window_causes import load_causes, pressure_causes
from tests.monitor.conditions.told import only, told, twin

NAMES = ("ln_torque", "ln_pressure", "ln_rate", "ln_specific", "melt_c", "ln_speed_off", "zones_below", "zones_known")
NOTHING: dict[str, float] = dict.fromkeys(NAMES, np.nan)
CALM: dict[str, float] = {**dict.fromkeys(NOTHING, 0.0), "zones_known": 8.0}


@pytest.mark.parametrize(
    ("facts", "first"),
    [
        ({"ln_pressure": 0.2, "ln_torque": 0.02}, "screen or die"),
        ({"ln_pressure": 0.2, "ln_torque": 0.18}, "more viscous lot"),
        ({"ln_pressure": 0.2, "ln_torque": 0.1, "zones_below": 8.0}, "supply of the heaters"),
        ({"ln_pressure": 0.2, "ln_torque": 0.1, "zones_below": 1.0}, "heater of a zone"),
        ({"ln_pressure": 0.2, "ln_torque": 0.25, "ln_rate": 0.15}, "more is fed"),
    ],
)
def test_pressure_too_high(facts: dict[str, float], first: str) -> None:
    assert first in pressure_causes(True, CALM | facts)[0].text


@pytest.mark.parametrize(
    ("facts", "first"),
    [
        ({"ln_pressure": -0.3, "ln_torque": 0.0}, "screen torn"),
        ({"ln_pressure": -0.2, "ln_torque": -0.5}, "less reaches the die"),
        ({"ln_pressure": -0.2, "ln_torque": -0.15}, "melt thinner"),
        ({"ln_pressure": -1.1, "ln_torque": -0.9}, "less reaches the die"),
        ({"ln_pressure": -0.2, "ln_torque": -0.15, "ln_rate": -0.3}, "less reaches the die"),
    ],
)
def test_pressure_too_low(facts: dict[str, float], first: str) -> None:
    assert first in pressure_causes(False, CALM | facts)[0].text


@pytest.mark.parametrize("over", [True, False])
def test_where_nothing_else_has_moved_the_sensor_is_named_second(over: bool) -> None:
    only_it = CALM | {"ln_pressure": 0.3 if over else -0.3, "ln_torque": 0.01}

    assert pressure_causes(over, only_it)[1].text.startswith("pressure sensor")
    assert not pressure_causes(over, only_it | {"melt_c": 4.0 if over else -4.0})[1].text.startswith("pressure sensor")


@pytest.mark.parametrize(
    ("over", "facts", "first"),
    [
        (True, {"ln_torque": 0.3, "ln_rate": 0.2}, "over-fed"),
        (True, {"ln_torque": 0.3, "ln_pressure": 0.3}, "viscous lot"),
        (True, {"ln_torque": 0.1, "ln_pressure": 0.4}, "restricted"),
        (True, {"ln_torque": 0.3, "ln_pressure": 0.2, "zones_below": 7.0}, "supply of the heaters"),
        (True, {"ln_torque": 0.3, "ln_speed_off": -0.1}, "slower than set"),
        (False, {"ln_torque": -0.4, "ln_pressure": -0.1, "ln_rate": -0.2}, "less reaches the screws"),
        (False, {"ln_torque": -0.2, "ln_pressure": -0.3}, "melt thinner"),
        (False, {"ln_torque": -0.9, "ln_pressure": -1.1, "melt_c": 20.0}, "less reaches the screws"),
        (True, {"ln_torque": 0.35, "ln_pressure": 0.01}, "drag of the machine"),
        (True, {"ln_torque": 0.35, "ln_pressure": 0.14}, "over-fed"),
    ],
)
def test_load(over: bool, facts: dict[str, float], first: str) -> None:
    assert first in load_causes(over, CALM | facts)[0].text


@pytest.mark.parametrize("over", [True, False])
def test_where_nothing_else_is_known_candidates_are_named_all_the_same(over: bool) -> None:
    for causes in (pressure_causes(over, NOTHING), load_causes(over, NOTHING)):
        assert len(causes) >= 2 and all(cause.shown_by or cause.text for cause in causes)
        assert not any(cause.speaks_for for cause in causes)


def test_only_most_zones_together_speak_of_their_supply() -> None:
    texts = [colder_cause(CALM | {"zones_below": cold}).text for cold in (0.0, 1.0, 4.0, 5.0)]
    assert ["supply" in text for text in texts] == [False, False, False, True]


def test_a_pressure_out_of_its_window_names_the_screen_when_torque_stays() -> None:
    s = twin(3600)
    s.scale("melt_pressure:P1", 2400, 3000, 1.3)
    found = only(told(s, RecipeWindow()))
    assert "screen or die" in found.last.cause_texts[0] and found.last.causes[0].speaks_for
