"""A melt pump that runs short or delivers less a turn."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.melt_pump import MeltPumpStarved
from monitor.conditions.melt_pump_worn import MeltPumpWorn
from monitor.conditions.recipe_window import RecipeWindow
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


def test_before_the_usual_speed_is_known_none_is_told() -> None:
    """Soon after the start, the suction's target is the recipe's."""
    s = path_script(3000, LINE)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 0, 300, 0.0)
    s.put(PS, 950, 1700, 5.0)
    target = RECIPE.model_dump()
    target["window"] = [{"role": "melt_pressure", "at": "PS", "target": 40.0, "low": 20.0, "high": 60.0}]
    found = only(told(s, MeltPumpStarved(), recipe=type(RECIPE).model_validate({**target, "version": "target"})))

    assert found.last.summary == "suction pressure of the melt pump 5 bar, usual 40"


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


@pytest.mark.parametrize("suction", [10.0, 38.0])
def test_much_less_a_turn_at_once_is_said_within_minutes_whatever_the_difference(suction: float) -> None:
    """The screw is slowed by the control of the suction; with a high suction the difference is next to nothing, and
    falls with the rate."""
    s = path_script(10800, LINE)
    s.x[PS][:] = suction + s.noise(0.1)
    s.x[PD][:] = 40 + s.noise(0.1)
    for key, factor in (("line_rate", 0.85), ("screw_speed", 0.86), ("screw_speed_setpoint", 0.86), (PD, 0.93)):
        if key in s.x:
            s.scale(key, 5400, 9000, factor)
    found = only(told(s, MeltPumpWorn(), recipe=RECIPE))

    assert found.last.priority == 2 and "pump slips" in found.last.cause_texts[0]
    assert (seconds(found.first_decided_at) or 0) <= 5400 + 1200
    assert found.last.until is not None and (seconds(found.last.until) or 0) <= 9000 + 1200


def test_less_a_turn_of_a_pump_that_has_no_melt_is_no_slip() -> None:
    s = path_script(9000, LINE)
    s.scale("line_rate", 5400, 9000, 0.85)
    for key in (PS, PD):
        s.x[key][s.span(5400, 9000)] -= 28.0

    assert told(s, MeltPumpWorn(), recipe=RECIPE) == []


@pytest.mark.parametrize(("melt_c", "first"), [(0.0, "pump worn"), (8.0, "thinner or hotter melt")])
def test_a_little_less_is_the_melt_s_where_that_has_moved_and_the_pump_s_where_not(melt_c: float, first: str) -> None:
    s = path_script(10800, LINE)
    s.scale("line_rate", 5400, 10800, 0.93)
    for key in [key for key in s.x if key.startswith("melt_temperature")]:
        s.x[key][s.span(5400, 10800)] += melt_c

    assert only(told(s, MeltPumpWorn(), recipe=RECIPE)).last.cause_texts[0].startswith(first)


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


def test_where_more_goes_through_it_is_the_rate_that_is_wrong() -> None:
    s = path_script(9000, LINE)
    s.scale("line_rate", 5400, 9000, 0.85)
    s.scale("torque", 5400, 9000, 1.1)
    found = only(told(s, MeltPumpWorn(), recipe=RECIPE))

    assert found.last.priority == 3 and found.last.cause_texts[0] == "reported rate too low"


def test_what_a_throat_makes_up_for_when_a_feeder_is_lost_is_no_slip() -> None:
    """The main component has tripped; screw and pump still run on what stands in the throat."""
    feeders = {"F1": 80.0, "F2": 20.0}
    data = LINE.model_dump()
    data["feeder"] = [{"name": name, "at": LINE.zone_names[0]} for name in feeders]
    sensors = [{"tag": f"{r}.{at}", "role": r, "at": at} for at in feeders for r in ("feeder_rate", "feeder_setpoint")]
    data["sensor"] = [*(one for one in data["sensor"] if one["role"] != "line_rate"), *sensors]
    line = type(LINE).model_validate({**data, "version": "blender"})
    s = path_script(9000, LINE)
    for name, rate in feeders.items():
        for role in ("feeder_rate", "feeder_setpoint"):
            s.x[f"{role}:{name}"] = np.full(s.n, rate)
    s.scale("feeder_rate:F1", 5400, 9000, 0.0)

    assert told(s, MeltPumpWorn(), line=line, recipe=RECIPE) == []
    for role in ("feeder_rate", "feeder_setpoint"):
        for name, rate in feeders.items():
            s.put(f"{role}:{name}", 5400, 9000, 0.8 * rate)
    assert "pump slips" in only(told(s, MeltPumpWorn(), line=line, recipe=RECIPE)).last.cause_texts[0]


def test_a_pump_without_melt_builds_no_pressure() -> None:
    """Suction and discharge at nothing, the load at less than half: no less feed alone takes a pressure so far."""
    s = path_script(6000, LINE)
    for key, left in ((PS, 0.01), (PD, 0.002), ("torque", 0.4)):
        s.scale(key, 4000, 4900, left)
    window = {"role": "melt_pressure", "at": "PD", "target": 90.0, "low": 80.0, "high": 100.0}
    data = {**RECIPE.model_dump(), "window": [window], "version": "window"}
    recipe = type(RECIPE).model_validate(data)
    found = {one.last.condition: one.last for one in told(s, MeltPumpStarved(), RecipeWindow(), recipe=recipe)}

    assert found["recipe_window"].part_of == found["melt_pump_starved"].finding
