"""A feeder that shows too little while the screws get more: the scale is accused, no bridge and no material."""

from __future__ import annotations

import pytest

from monitor.conditions.feed_factor_moved import FeedFactorMoved
from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.contract import Condition
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, calm
from tests.monitor.conditions.told import changed, only, told
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe


def shows_less(torque: float) -> FeederScript:
    """A slide passes a quarter of the rate: that much is not seen to leave, and the drive is up by as much."""
    s = calm()
    s.scale("feeder_rate:F2", FROM, LOG_S, 0.75)
    s.scale("feeder_drive:F2", FROM, LOG_S, 1.25)
    s.scale("torque", FROM, LOG_S, torque)
    return s


@pytest.mark.parametrize("condition", [FeederOffTarget(), FeedFactorMoved()], ids=lambda c: c.name)
@pytest.mark.parametrize(("torque", "lies"), [(1.1, True), (1.0, False), (0.9, False)])
def test_the_scale_is_accused_where_the_load_is_up(condition: Condition, torque: float, lies: bool) -> None:
    last = only(told(shows_less(torque), condition, recipe=feeder_recipe())).last

    assert last.causes[0].text.startswith("its scale sees less than leaves it") == lies
    assert any("torque +" in why for cause in last.causes for why in cause.speaks_for) == lies


def test_a_feeder_on_its_rate_that_turns_faster_says_nothing_of_its_scale() -> None:
    """Lighter and thicker material, as regrind may be."""
    s = calm()
    s.scale("feeder_drive:F2", FROM, LOG_S, 1.25)
    s.scale("torque", FROM, LOG_S, 1.1)
    causes = only(told(s, FeedFactorMoved(), recipe=feeder_recipe())).last.causes

    assert not causes[0].text.startswith("its scale sees less")


def test_over_a_flood_fed_screw_a_load_that_is_up_tells_nothing_of_a_scale() -> None:
    line = changed(feeder_line(), line={"feed": "flooded"})
    last = only(told(shows_less(1.1), FeederOffTarget(), line=line, recipe=feeder_recipe())).last

    assert not last.causes[0].text.startswith("its scale sees less")
