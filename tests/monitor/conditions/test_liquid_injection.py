"""A plugged nozzle, a pump without prime; start, stop and thicker melt are not that."""

from __future__ import annotations

import pytest

from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.conditions.liquid_injection import LiquidNozzlePlugged, LiquidPrimeLost
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm, controller_restart, rate_changed, stopped
from tests.monitor.conditions.told import only, seconds, told, words
from tests.monitor.world_feeders import FeederScript, feeder_recipe

BOTH = (LiquidNozzlePlugged(), LiquidPrimeLost())


def plugged(s: FeederScript) -> None:
    s.scale("injection_pressure:L4", FROM, FROM + 300, 1.6)
    s.scale("feeder_rate:L4", FROM, FROM + 300, 0.8)


def plugged_rigid_pump(s: FeederScript) -> None:
    s.scale("injection_pressure:L4", FROM, FROM + 300, 2.4)


def prime_lost(s: FeederScript) -> None:
    for key in ("injection_pressure:L4", "feeder_rate:L4"):
        s.scale(key, FROM, FROM + 300, 0.02)


def line_open(s: FeederScript) -> None:
    s.scale("injection_pressure:L4", FROM, FROM + 300, 0.03)


def pressure_of_the_melt(s: FeederScript) -> None:
    """Melt pressure at the place of injection is up, all of the oil goes in."""
    s.scale("injection_pressure:L4", FROM, FROM + 300, 1.4)


def switched_off(s: FeederScript) -> None:
    prime_lost(s)
    s.put("feeder_setpoint:L4", FROM, FROM + 300, 0)


@pytest.mark.parametrize(
    ("story", "condition", "cause"),
    [
        (plugged, "liquid_nozzle_plugged", "nozzle plugged, by melt or residue"),
        (plugged_rigid_pump, "liquid_nozzle_plugged", "nozzle plugged, by melt or residue"),
        (prime_lost, "liquid_prime_lost", "tank empty: pump has lost its prime"),
        (line_open, "liquid_prime_lost", "line open or burst before the nozzle"),
    ],
)
def test_speaks(story: Story, condition: str, cause: str) -> None:
    s = calm()
    story(s)
    finding = only(told(s, *BOTH, recipe=feeder_recipe()))

    assert finding.last.condition == condition and finding.last.causes[0].text == cause
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 30
    assert "torque rises" in words(finding), "losing an oil raises torque: said"


@pytest.mark.parametrize("story", [pressure_of_the_melt, switched_off, stopped, rate_changed, controller_restart])
def test_stays_silent(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, *BOTH, recipe=feeder_recipe()) == []


def beyond_the_pump(s: FeederScript) -> None:
    """Set to twice the recipe; the pump gives half as much again, and pressure goes with the flow."""
    s.scale("feeder_setpoint:L4", FROM, LOG_S, 2.0)
    s.scale("feeder_rate:L4", FROM, LOG_S, 1.5)
    s.scale("injection_pressure:L4", FROM, LOG_S, 1.5)


def test_more_flow_needs_more_pressure_and_plugs_nothing() -> None:
    s = calm()
    beyond_the_pump(s)

    assert told(s, *BOTH, recipe=feeder_recipe()) == []


@pytest.mark.parametrize(("story_s", "condition"), [(0.02, "liquid_prime_lost"), (None, "liquid_nozzle_plugged")])
def test_what_goes_on_for_an_hour_is_not_the_usual_and_is_said_once(story_s: float | None, condition: str) -> None:
    s = calm(FROM + 4800)
    s.scale("injection_pressure:L4", FROM, FROM + 4500, story_s or 1.6)
    s.scale("feeder_rate:L4", FROM, FROM + 4500, story_s or 0.75)
    last = only(told(s, *BOTH, recipe=feeder_recipe())).last

    assert last.condition == condition and (seconds(last.until) or 0) >= FROM + 4490


def test_a_liquid_neither_bridges_nor_has_a_bulk_density() -> None:
    s = calm()
    s.scale("feeder_rate:L4", FROM, FROM + 900, 0.75)
    causes = " ".join(only(told(s, FeederOffTarget(), recipe=feeder_recipe())).last.cause_texts)

    assert "nozzle" in causes and "pump" in causes
    assert not any(word in causes for word in ("bridg", "rat-hol", "bulk density", "hopper"))
