"""Another material in a feeder: its rate jumps, load and melt temperature go the same way; a lying scale does not."""

from __future__ import annotations

import pytest

from monitor.conditions.material_changed import MaterialChanged
from monitor.conditions.scale_jumped import ScaleJumped
from monitor.records import Finding
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, calm
from tests.monitor.conditions.told import only, told, words
from tests.monitor.world_feeders import feeder_recipe
from tests.monitor.world_lots import jump, other_melt


def found(
    by: float, torque: float, pressure: float, melt_c: float, feeder: str = "F1", seldom: int = 0
) -> list[Finding]:
    """What both say of a jump of the rate with a step of the machine; seldom: of so many melt readings one is there."""
    s = calm()
    s.even_weight("F1", 900, 0, LOG_S)
    jump(s, feeder, by, FROM)
    other_melt(s, FROM, LOG_S, torque, pressure, melt_c)
    melt = s.x["melt_temperature:MT1"]
    for k in range(seldom):
        melt[k :: seldom + 1] = float("nan")
    return told(s, MaterialChanged(), ScaleJumped(), recipe=feeder_recipe())


@pytest.mark.parametrize(
    ("by", "torque", "pressure", "melt_c", "says"),
    [
        (0.1, 0.85, 0.9, -20, "thinner: rate +"),
        (-0.1, 0.85, 0.9, -20, "thinner: rate -"),
        (0.1, 1.12, 1.1, 15, "thicker: rate +"),
        (-0.1, 1.12, 1.1, 15, "thicker: rate -"),
    ],
)
def test_load_and_melt_that_step_together_with_a_jump_are_another_material_and_no_scale(
    by: float, torque: float, pressure: float, melt_c: float, says: str
) -> None:
    last = only(found(by, torque, pressure, melt_c)).last

    assert last.condition == "material_changed" and says in last.summary and last.priority == 2
    assert last.causes[0].text == "wrong material in this hopper"
    assert ("denser" in last.causes[0].speaks_for[0]) == (by > 0)


def test_a_melt_temperature_that_is_seldom_read_is_enough() -> None:
    assert only(found(0.1, 0.85, 0.9, -20, seldom=29)).last.condition == "material_changed"


def test_a_small_step_is_only_to_be_looked_at() -> None:
    assert only(found(0.1, 0.94, 0.95, -7)).last.priority == 3


@pytest.mark.parametrize("melt_c", [0, 3, -2])
def test_a_melt_that_stays_or_gets_warmer_with_less_load_leaves_it_to_the_scale(melt_c: float) -> None:
    last = only(found(0.1, 0.93, 0.97, melt_c)).last

    assert last.condition == "scale_jumped" and "less is fed than shown" in words(only([*found(0.1, 0.93, 0.97, 0)]))


def test_what_less_of_a_filler_does_to_the_melt_is_no_other_material() -> None:
    """A fifth of the feed: less of it makes the melt thinner, and colder by some degrees."""
    assert [f.last.condition for f in found(0.1, 0.93, 0.95, -7, feeder="F2")] == ["scale_jumped"]


def test_a_jump_without_a_step_and_a_step_without_a_jump_are_neither() -> None:
    assert found(0.1, 1.0, 1.0, 0) == [] == found(0.0, 0.85, 0.9, -20)
