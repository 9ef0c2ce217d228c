"""A plugged nozzle, a pump without prime; start, stop and thicker melt are not that."""

from __future__ import annotations

import pytest

from monitor.conditions.liquid_injection import LiquidNozzlePlugged, LiquidPrimeLost
from tests.monitor.conditions.feeder_stories import FROM, Story, calm, controller_restart, rate_changed, stopped
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
