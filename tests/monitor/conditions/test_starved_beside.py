"""Starved, and what makes feeders read low or high beside it: what backs up, a load that contradicts, a hand."""

from __future__ import annotations

import pytest

from monitor.conditions.starved import Starved
from tests.monitor.conditions.told import TWIN, only, seconds, told, twin, without
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 2400, 1200, 1800


def test_feeders_that_lose_rate_minutes_after_the_torque_stand_in_their_own_material() -> None:
    """What was on set when the torque fell has not failed: the path or the intake backs up into it."""
    s = twin(LOG_S)
    s.scale("torque", FROM, TO, 0.8)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.95)
    for key in ("feeder_rate:F1", "feeder_rate:F2", "feeder_rate:F3"):
        s.scale(key, FROM + 200, TO, 0.82)
    s.scale("torque", FROM + 200, TO, 0.95)
    finding = only(told(s, Starved()))

    assert "then they lost 18 % of their rate" in finding.last.summary and "both fit" in finding.last.summary
    assert finding.last.cause_texts[0] == "path blocked between feeder and throat"


@pytest.mark.parametrize("empty", [True, False])
def test_where_nothing_is_learned_a_torque_as_the_recipe_wants_it_contradicts(empty: bool) -> None:
    """A line that has just been set to another rate: nothing is known but what its recipe says."""
    s = twin(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_setpoint:{feeder}", FROM, TO, 1.4)
    if empty:
        s.scale("torque", FROM, TO, 0.6)
    found = told(s, Starved(), line=without(s.line, "melt_pressure"))

    assert bool(found) is empty, [f.last.summary for f in found]


def test_a_hand_on_a_scale_makes_a_rate_read_high_and_then_low_and_starves_nothing() -> None:
    """The controller slows the feeder for the false rate: torque dips for half a minute."""
    s = twin(LOG_S)
    s.scale("feeder_rate:F1", FROM, FROM + 20, 2.1)
    s.scale("feeder_rate:F1", FROM + 20, FROM + 60, 0.2)
    s.scale("torque", FROM + 10, FROM + 60, 0.85)

    assert told(s, Starved()) == []


def feed_off(s: Script, until: float) -> None:
    """Nothing comes any more; net torque goes to no-load and pressure after it."""
    s.scale("torque", FROM, until, 0.16)
    s.scale("melt_pressure:P1", FROM + 10, until, 0.4)


def test_where_nothing_is_logged_of_the_feed_a_switch_off_before_a_stop_is_waited_for() -> None:
    """A minute: by then the screw stands, or it has run empty."""
    unseen = without(TWIN, "feeder_rate", "feeder_weight", "feeder_drive", "feeder_running", "feeder_setpoint")
    stop, empty = twin(LOG_S), twin(LOG_S)
    feed_off(stop, LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint"):
        stop.put(key, FROM + 50, LOG_S, 0)
    stop.put("torque", FROM + 50, LOG_S, 0)
    feed_off(empty, TO)

    assert told(stop, Starved(), line=unseen) == []
    finding = only(told(empty, Starved(), line=unseen))
    assert FROM + 60 <= (seconds(finding.first_decided_at) or 0) <= FROM + 150


def chute_backs_up(s: Script) -> None:
    """The load is down with every feeder on set; five minutes later those over the throat lose rate."""
    s.scale("torque", FROM - 300, LOG_S, 0.93)
    s.scale("melt_pressure:P1", FROM - 300, LOG_S, 0.98)
    for feeder, left in (("F1", 0.84), ("F2", 0.9), ("F3", 0.87)):
        s.scale(f"feeder_rate:{feeder}", FROM, LOG_S, left)


def feeders_lead(s: Script) -> None:
    """The same end, but the feeders went first."""
    for feeder, left in (("F1", 0.84), ("F2", 0.9), ("F3", 0.87)):
        s.scale(f"feeder_rate:{feeder}", FROM, LOG_S, left)
    s.scale("torque", FROM + 5, LOG_S, 0.93)
    s.scale("melt_pressure:P1", FROM + 10, LOG_S, 0.98)


def test_feeders_that_lose_rate_after_the_load_stand_in_their_own_material() -> None:
    s, other = twin(LOG_S), twin(LOG_S)
    chute_backs_up(s)
    feeders_lead(other)

    said = [f.last.summary for f in told(s, Starved())]
    assert any("chute or throat stands full; path blocked or intake flooded, both fit" in text for text in said), said
    assert "feeders deliver" in only(told(other, Starved())).last.summary
