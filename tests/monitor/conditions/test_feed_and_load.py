"""What is said of load and pressure while the feed is gone, of empty hoppers, and of loads that are asked for."""

from __future__ import annotations

import pytest

from monitor.conditions.flooded import Flooded
from monitor.conditions.restricted import Restricted
from monitor.conditions.starved import Starved
from monitor.conditions.torque_high import TorqueHigh
from monitor.conditions.viscous_lot import ViscousLot
from monitor.line import Line
from monitor.recipe import Recipe
from tests.monitor.conditions.told import R1, TWIN, only, told, twin, words
from tests.monitor.desk import CTX
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 3600, 1500, 2400
BOTH = (Restricted(), ViscousLot())


def lost(s: Script, feeder: str, share: float, first: int = FROM, last: int = TO) -> None:
    s.scale(f"feeder_rate:{feeder}", first, last, share)


def test_pressure_that_rises_without_the_feed_is_not_compared_at_the_same_rate() -> None:
    """The main feeder is gone; what filler is left is stiff and colder, the load is nearly nothing."""
    s = twin(LOG_S)
    lost(s, "F1", 0.06)
    s.scale("torque", FROM, TO, 0.2)
    s.scale("melt_pressure:P1", FROM + 120, TO, 1.15)

    assert told(s, *BOTH) == []


def test_nor_is_what_still_leaves_when_the_feed_is_back() -> None:
    s = twin(LOG_S)
    lost(s, "F1", 0.0, FROM, FROM + 300)
    s.scale("torque", FROM, FROM + 300, 0.3)
    s.scale("melt_pressure:P1", FROM + 30, FROM + 300, 0.8)
    s.scale("melt_pressure:P1", FROM + 310, FROM + 700, 1.35)

    assert told(s, *BOTH) == []


@pytest.mark.parametrize(("torque", "condition"), [(1.17, "viscous_lot"), (1.02, "restricted")])
def test_an_additive_that_is_missing_for_long_hides_neither(torque: float, condition: str) -> None:
    s = twin(LOG_S)
    lost(s, "F3", 0.0, 600, LOG_S)
    s.scale("melt_pressure:P1", FROM, TO, 1.2)
    s.scale("torque", FROM, TO, torque)

    assert only(told(s, *BOTH)).last.condition == condition


def test_a_load_that_is_down_is_not_said_to_be_up() -> None:
    """Screen and die alike need a fifth more pressure while the load is a tenth down."""
    facts = dict.fromkeys(
        ("rate", "specific_rate", "melt_c", "before", "after", "drop", "net_torque", "expected_torque"), float("nan")
    )
    facts |= {"pressure": 0.11, "torque": -0.1, "per": -0.9, "gross": 50.0, "feed": 1.0, "wanted": 1.0}
    facts |= {"torque_sigma": 3.0, "pressure_sigma": 9.0, "zones_below": 0.0, "zones_known": 0.0}
    assert "torque down 10 %" in ViscousLot().explain("P1", 1, facts, CTX).summary


def test_over_feeding_that_stops_the_screw_is_told_with_what_it_rose_to() -> None:
    """Powder flushes, the load goes to its limit, the drive trips: nothing is expected of a screw that stands."""
    s = twin(LOG_S)
    s.scale("torque", FROM, FROM + 90, 1.5)
    s.put("torque", FROM + 40, FROM + 90, 104.0)
    s.scale("melt_pressure:P1", FROM + 5, FROM + 90, 1.1)
    for key in ("screw_speed", "torque", "melt_pressure:P1"):
        s.put(key, FROM + 90, LOG_S, 0.0)
    found = told(s, Flooded())

    assert found and "nan" not in words(found[0]).lower()
    assert "over-fed" in found[0].last.summary and "then the screw stopped" in found[0].last.summary


def _with_refills() -> Line:
    data = TWIN.model_dump()
    data["feeder"] = [{**one, "refill_below_kg": 15.0} for one in data["feeder"]]
    return Line.model_validate({**data, "version": "refills"})


@pytest.mark.parametrize(("left_kg", "found"), [(0.4, 0), (25.0, 1)])
def test_an_empty_hopper_is_no_flooded_intake(left_kg: float, found: int) -> None:
    """Its controller falls back to a fixed speed and reports its rate as if it came."""
    s = twin(LOG_S)
    s.put("feeder_weight:F1", FROM, TO, left_kg)
    s.scale("torque", FROM, TO, 0.35)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.7)

    assert len(told(s, Flooded(), Starved(), line=_with_refills())) == found


def test_an_empty_hopper_of_an_additive_does_not_take_the_load() -> None:
    s = twin(LOG_S)
    s.put("feeder_weight:F3", FROM, TO, 0.1)
    s.scale("torque", FROM, TO, 0.35)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.7)

    assert len(told(s, Flooded(), Starved(), line=_with_refills())) == 1


def _asking_for(torque: float) -> Recipe:
    data = R1.model_dump()
    kept = [one for one in data["window"] if one["role"] != "torque"]
    own = {"role": "torque", "target": torque, "low": torque - 10, "high": torque + 8}
    return Recipe.model_validate({**data, "window": [*kept, own], "version": f"torque {torque}"})


@pytest.mark.parametrize(("asked", "level", "found"), [(90, 93, 0), (90, 98, 1), (60, 93, 1)])
def test_a_load_that_the_recipe_asks_for_floods_nothing(asked: float, level: float, found: int) -> None:
    s = twin(LOG_S)
    s.x["torque"][:] = s.x["torque"] - 60 + level

    assert len(told(s, Flooded(), recipe=_asking_for(asked))) == found


@pytest.mark.parametrize(
    ("speed", "first"),
    [(0.74, "screw slower"), (1.0, "screws over-fed"), (0.91, "screws over-fed")],
)
def test_a_screw_that_is_slower_at_the_same_feed_is_filled_by_that(speed: float, first: str) -> None:
    """A drive that gives way by a tenth to what loads it is not filled by that."""
    s = twin(LOG_S)
    s.put("torque", 0, FROM + 30, 71.0)
    s.scale("screw_speed", FROM, TO, speed)
    s.put("torque", FROM + 30, TO, 96.0)
    found = only(told(s, TorqueHigh()))

    assert found.last.cause_texts[0].startswith(first)


def test_a_slower_screw_that_is_fed_less_as_well_is_not_filled() -> None:
    s = twin(LOG_S)
    s.scale("screw_speed", FROM, TO, 0.74)
    for name in ("F1", "F2", "F3"):
        lost(s, name, 0.74)
    s.put("torque", FROM + 30, TO, 96.0)

    assert not any("slower" in text for text in only(told(s, TorqueHigh())).last.cause_texts)
