"""What leaves the die, kilogram by kilogram: late, mixed, and out although every feeder is in tolerance."""

from __future__ import annotations

import pytest

from monitor.conditions.composition_at_die import CompositionAtDie
from monitor.conditions.feeder_off_target import FeederOffTarget
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm, rate_trimmed
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe


def slow_line(downstream_l: float = 0.0):
    """A large screw for this rate: minutes on the way."""
    data = feeder_line().model_dump()
    geometry = {"screw_diameter_mm": 160, "downstream_volume_l": downstream_l}
    data["geometry"] = {**data["geometry"], **geometry}
    return type(feeder_line()).model_validate({**data, "version": f"slow {downstream_l}"})


def short(feeder: str, factor: float, for_s: float) -> Story:
    def story(s: FeederScript) -> None:
        s.scale(f"feeder_rate:{feeder}", FROM, FROM + for_s, factor)

    return story


def test_two_feeders_in_tolerance_make_a_product_that_is_out() -> None:
    """Base 2.6 % low, filler 2.6 % high: neither is off target, the filler's share is 4.2 % off."""
    s = calm()
    s.even_weight("F1", 400, 0, LOG_S)
    s.scale("feeder_rate:F1", FROM, LOG_S, 0.974)
    s.scale("feeder_rate:F2", FROM, LOG_S, 1.026)
    found = told(s, CompositionAtDie(), FeederOffTarget(), line=slow_line(), recipe=feeder_recipe())

    assert [f.last.channel for f in found] == ["die_share:F2"]


def test_it_comes_later_than_the_feeder_by_the_kilograms_on_the_way() -> None:
    """5 litres more that are always full: 3.7 kg of melt at 312 kg/h are 43 s more."""
    began = []
    for downstream in (0.0, 5.0):
        s = calm()
        s.scale("feeder_rate:F2", FROM, LOG_S, 1.2)
        found = only(told(s, CompositionAtDie(), line=slow_line(downstream), recipe=feeder_recipe()))
        began.append(seconds(found.last.since) or 0)

    assert began[0] >= FROM + 30, "plug flow alone is some 40 s"
    assert began[1] - began[0] == pytest.approx(43, abs=10)


def test_a_side_feeder_is_nearer_than_the_main_feed() -> None:
    """The same relative error at the throat (F1) shows later than at the side feeder (F2)."""
    began = []
    for feeder in ("F1", "F2"):
        s = calm()
        s.scale(f"feeder_rate:{feeder}", FROM, LOG_S, 0.7)
        found = told(s, CompositionAtDie(), line=slow_line(), recipe=feeder_recipe())
        began.append(min(seconds(f.last.since) or 0 for f in found))

    assert began[1] < began[0]


@pytest.mark.parametrize("story", [short("F2", 0.5, 10), short("F2", 1.03, 1200), rate_trimmed])
def test_stays_silent(story: Story) -> None:
    """A short dip is mixed out, an error in tolerance is in tolerance, a common trim leaves the shares."""
    s = calm()
    story(s)

    assert told(s, CompositionAtDie(), line=slow_line(), recipe=feeder_recipe()) == []


def test_it_says_how_sure_and_how_many_kilograms() -> None:
    """A feeder 20 % low for ten minutes at 300 kg/h: some 50 kg, and the share known to a fraction of a point."""
    s = calm()
    s.scale("feeder_rate:F2", FROM, FROM + 600, 0.8)
    last = only(told(s, CompositionAtDie(), recipe=feeder_recipe())).last
    value = {e.what: e.value or 0 for e in last.evidence}

    assert 0.05 < value["share known to about"] < 0.6
    assert 0 < value["left the die so"] <= 300 / 6 * 1.05
    assert last.confidence == "high" and last.priority == 2


def test_kilograms_of_a_refill_count_as_turned_not_as_shown() -> None:
    """In the hold the controller shows nonsense; the drive turns on as before: the product is right."""
    s = calm()
    s.refill("F2", FROM, 20)
    s.put("feeder_refill:F2", FROM, FROM + 300, 1)
    s.scale("feeder_rate:F2", FROM, FROM + 320, 0.5)

    assert told(s, CompositionAtDie(), recipe=feeder_recipe()) == []
