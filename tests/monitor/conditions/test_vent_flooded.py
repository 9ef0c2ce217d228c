"""Melt in a vent: the gauge and the screws must say it together, each gauge in its own way."""

from __future__ import annotations

import pytest

from monitor.conditions.vent_flooded import VentFlooded
from tests.monitor.conditions.told import Story, only, seconds, told
from tests.monitor.scripted_world import FEEDERS, Script
from tests.monitor.world_fill import FILL_LINE, FillScript

LOG_S, FROM, TO = 2400, 1200, 1800


def dome_floods(s: Script) -> None:
    s.x["vacuum:V1"][s.span(FROM, TO)] += 120
    s.scale("torque", FROM, TO, 1.07)


def pump_side_floods(s: Script) -> None:
    """The plugged line reads deeper and quieter."""
    part = s.span(FROM, TO)
    s.x["vacuum:V2"][part] = 62 + s.noise(0.3)[part]
    s.scale("torque", FROM, TO, 1.07)


def less_comes_out(s: Script) -> None:
    s.x["vacuum:V1"][s.span(FROM, TO)] += 120
    s.scale("melt_pressure:P1", FROM, TO, 0.92)


def leak(s: Script) -> None:
    """Both gauges lose vacuum, the screws do not know of it."""
    for vent in ("V1", "V2"):
        s.x[f"vacuum:{vent}"][s.span(FROM, TO)] += 150


def deeper_but_restless(s: Script) -> None:
    """Colder seal water: deeper, and as restless as ever."""
    s.x["vacuum:V2"][s.span(FROM, TO)] -= 15
    s.scale("torque", FROM, TO, 1.07)


def pump_loses(s: Script) -> None:
    """On the pump side lost vacuum is no flooding, whatever torque does."""
    s.x["vacuum:V2"][s.span(FROM, TO)] += 150
    s.scale("torque", FROM, TO, 1.07)


def leak_and_a_jolt_of_the_load(s: Script) -> None:
    """The dome leaks; a quarter of a minute of the load, as a lump makes it, is no screw that fills back."""
    s.x["vacuum:V1"][s.span(FROM, TO)] += 120
    s.scale("torque", FROM + 200, FROM + 215, 1.07)


def leak_and_more_work_much_later(s: Script) -> None:
    """A dome that has leaked for twenty minutes; then the load goes up for another reason."""
    s.x["vacuum:V1"][s.span(FROM - 400, TO)] += 120
    s.scale("torque", FROM + 350, TO, 1.07)


def leak_and_more_feed(s: Script) -> None:
    """Feeders above set: what the load has more is theirs."""
    s.x["vacuum:V1"][s.span(FROM, TO)] += 120
    s.scale("torque", FROM, TO, 1.05)
    for feeder in FEEDERS:
        s.scale(f"feeder_rate:{feeder}", FROM, TO, 1.05)


def only_torque(s: Script) -> None:
    s.scale("torque", FROM, TO, 1.1)


def set_point_moved(s: Script) -> None:
    for what in ("vacuum", "vacuum_setpoint"):
        s.x[f"{what}:V1"][s.span(FROM, TO)] += 120
    s.scale("torque", FROM, TO, 1.07)


@pytest.mark.parametrize(
    ("story", "word"),
    [
        (dome_floods, "V1: vacuum lost at the dome"),
        (pump_side_floods, "V2: vacuum deeper than usual at the pump"),
        (less_comes_out, "V1: vacuum lost at the dome"),
    ],
)
def test_speaks(story: Story, word: str) -> None:
    s = FillScript(LOG_S)
    story(s)
    finding = only(told(s, VentFlooded(), line=FILL_LINE))

    assert word in finding.last.summary
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 90
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 60
    assert finding.last.causes[0].speaks_for


@pytest.mark.parametrize(
    "story",
    [
        leak,
        leak_and_a_jolt_of_the_load,
        leak_and_more_work_much_later,
        leak_and_more_feed,
        deeper_but_restless,
        pump_loses,
        only_torque,
        set_point_moved,
    ],
)
def test_stays_silent(story: Story) -> None:
    s = FillScript(LOG_S)
    story(s)

    assert told(s, VentFlooded(), line=FILL_LINE) == []


def test_torque_up_and_pressure_down_together_are_surer() -> None:
    s = FillScript(LOG_S)
    dome_floods(s)
    s.scale("melt_pressure:P1", FROM + 60, TO, 0.93)

    assert only(told(s, VentFlooded(), line=FILL_LINE)).last.confidence in ("medium", "high")
