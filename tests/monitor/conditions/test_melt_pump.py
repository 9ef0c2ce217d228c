"""A melt pump that runs short or delivers less a turn."""

from __future__ import annotations

from monitor.conditions.melt_pump import MeltPumpStarved, MeltPumpWorn
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.world_path import path_recipe, path_script, pump_line

LINE, RECIPE = pump_line(), path_recipe("single-screw")
PS, PD = "melt_pressure:PS", "melt_pressure:PD"


def test_suction_falls_while_the_screw_speeds_up() -> None:
    s = path_script(6000, LINE)
    s.scale(PS, 4000, 4600, 0.4)
    s.scale("screw_speed", 4000, 4600, 1.08)
    s.scale("torque", 4000, 4600, 0.8)
    found = only(told(s, MeltPumpStarved(), recipe=RECIPE))
    assert "starved" in found.last.cause_texts[0] and (seconds(found.first_decided_at) or 0) <= 4080


def test_pressure_up_ahead_of_the_screen_says_screen() -> None:
    s = path_script(6000, LINE)
    s.scale(PS, 4000, 4600, 0.4)
    s.scale("screw_speed", 4000, 4600, 1.08)
    s.scale("melt_pressure:P1", 4000, 4600, 1.4)
    assert "screen" in only(told(s, MeltPumpStarved(), recipe=RECIPE)).last.cause_texts[0]


def test_a_faster_pump_draws_suction_down_by_intent() -> None:
    s = path_script(6000, LINE)
    s.scale(PS, 4000, 4600, 0.55)
    s.scale("melt_pump_speed", 4000, 4600, 1.2)
    assert told(s, MeltPumpStarved(), recipe=RECIPE) == []


def test_less_a_turn_at_the_same_difference_is_a_note() -> None:
    s = path_script(10800, LINE)
    s.scale("line_rate", 5400, 10800, 0.93)
    found = only(told(s, MeltPumpWorn(), recipe=RECIPE))
    assert found.last.priority == 4 and found.last.confidence == "low"


def test_less_a_turn_against_more_pressure_is_slip_as_it_must_be() -> None:
    s = path_script(10800, LINE)
    s.scale("line_rate", 5400, 10800, 0.93)
    s.scale(PD, 5400, 10800, 1.3)
    assert told(s, MeltPumpWorn(), recipe=RECIPE) == []
