"""Starved ahead of a melt pump: what the pump takes away tells it where its control holds the pressure."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.starved import Starved
from monitor.line import Line
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_line, path_recipe, path_script

FROM, TO, LOG_S = 5000, 7400, 9000


def line() -> Line:
    """A starve-fed line whose pump is led by its suction, ahead of which nothing is logged."""
    twin = path_line("twin-screw", PS="pump_suction", PD="pump_discharge")
    data = twin.model_dump()
    data["sensor"] = (*data["sensor"], {"tag": "pump", "role": "melt_pump_speed"})
    return Line.model_validate({**data, "version": "starve-fed with a pump"})


def less(pump: float, over_s: float) -> Script:
    """Torque and discharge a fifth down within so long, all feeders on set, suction held."""
    s = path_script(LOG_S, line())
    for key, left in (("torque", 0.8), ("melt_pressure:PD", 0.81), ("melt_pump_speed", pump)):
        part = s.span(FROM, TO)
        t = np.arange(len(s.x[key][part])) * s.cadence
        s.x[key][part] *= 1 - (1 - left) * np.minimum(t / over_s, 1)
    return s


@pytest.mark.parametrize("over_s", [5.0, 360.0])
def test_a_pump_that_turns_slower_for_the_same_suction_gets_less(over_s: float) -> None:
    """Whether a chute shuts at once or fills up for minutes: a mass balance is no matter of pace."""
    finding = only(told(less(0.78, over_s), Starved(), recipe=path_recipe()))

    assert "all feeders on set" in finding.last.summary and "both fit" in finding.last.summary
    assert (seconds(finding.first_decided_at) or 0) <= FROM + over_s + 420


def test_without_the_pump_s_speed_the_pressure_behind_its_screen_tells_it() -> None:
    """The suction is held; what presses the melt through the die falls with what comes."""
    s = less(0.78, 5.0)
    twin = path_line("twin-screw", PS="pump_suction", PD="pump_discharge", P2="after_screen")
    t = Script(twin, LOG_S, 21)
    for key in t.x:
        t.x[key][:] = s.x[key] if key in s.x else 0.6 * s.x["melt_pressure:PD"]
    # A third as much as the torque, as the power law has it.
    part = t.span(FROM, TO)
    t.x["melt_pressure:P2"][part] = 0.6 * 90.0 * 0.92 + t.noise(0.3)[part]

    assert "all feeders on set" in only(told(t, Starved(), recipe=path_recipe())).last.summary


@pytest.mark.parametrize("over_s", [5.0, 360.0])
def test_a_thinner_melt_turns_a_pump_no_slower(over_s: float) -> None:
    assert told(less(1.02, over_s), Starved(), recipe=path_recipe()) == []
