"""Filler and vacuum before the melt is through; restarts after a short stop and a start in order are not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.start_order import StartOrder
from monitor.line import Line
from tests.monitor.conditions.told import seconds, told, without
from tests.monitor.world_feeders import SETS, FeederScript, feeder_line, feeder_recipe

STOP = 1000


def start(s: FeederScript, stood_s: float, early: tuple[str, ...], through_s: float = 150) -> float:
    """Stands, then starts slowly with F1 and what is `early`; melt shows at the die `through_s` later."""
    again = STOP + stood_s
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, STOP, again, 0)
    for feeder in SETS:
        for what in ("rate", "setpoint"):
            s.put(f"feeder_{what}:{feeder}", STOP, again, 0)
        s.put(f"feeder_rate:{feeder}", again, again + through_s, 8 if feeder in ("F1", *early) else 0)
    s.put("melt_pressure:P1", STOP, again + through_s, 2)
    s.put("vacuum:V1", STOP - 10, again + (0 if "V1" in early else through_s + 30), 1000)
    return again


@pytest.mark.parametrize(
    ("early", "channel"), [("F2", "feeder_rate:F2"), ("V1", "vacuum:V1"), ("L4", "feeder_rate:L4")]
)
def test_speaks(early: str, channel: str) -> None:
    s = FeederScript(3600)
    again = start(s, 900, (early,))
    found = told(s, StartOrder(), recipe=feeder_recipe())

    assert [f.last.channel for f in found] == [channel]
    assert again < (seconds(found[0].first_decided_at) or 0) <= again + 30


@pytest.mark.parametrize(("stood_s", "early"), [(900, ()), (300, ("F2", "V1"))])
def test_stays_silent(stood_s: float, early: tuple[str, ...]) -> None:
    """In order, or after a stop so short that the barrel is still full of melt."""
    s = FeederScript(3600)
    start(s, stood_s, early)

    assert told(s, StartOrder(), recipe=feeder_recipe()) == []


@pytest.mark.parametrize(("through_s", "said"), [(50, []), (110, ["feeder_rate:F2"])])
def test_feeders_that_rise_together_are_ahead_of_the_melt_by_seconds_only(through_s: float, said: list[str]) -> None:
    """All on one master rate, before a melt pipe of three litres; where melt stays away longer it is too early."""
    data = feeder_line().model_dump()
    line = Line.model_validate({**data, "geometry": {**data["geometry"], "downstream_volume_l": 3.0}})
    s = FeederScript(3600)
    again = int(start(s, 900, ("F2", "F3", "L4"), through_s))
    for feeder, rate in SETS.items():
        for second in range(120):
            share = 0.3 * min(second / 60, 1)
            s.put(f"feeder_rate:{feeder}", again + second, again + second + 1, rate * share)

    assert [f.last.channel for f in told(s, StartOrder(), line=line, recipe=feeder_recipe())] == said


@pytest.mark.parametrize("stood_s", [300, 900])
def test_a_filler_that_runs_while_the_main_feed_stands_is_said_after_any_stop(stood_s: float) -> None:
    s = FeederScript(3600)
    again = start(s, stood_s, ("F2",), through_s=0)
    for feeder in ("F1", "F3", "L4"):
        s.put(f"feeder_rate:{feeder}", again, again + 90, 0)
    found = {f.last.channel: f for f in told(s, StartOrder(), recipe=feeder_recipe())}

    assert "while the main feed stands" in found["feeder_rate:F2"].last.summary
    assert again < (seconds(found["feeder_rate:F2"].first_decided_at) or 0) <= again + 40


def test_a_log_that_begins_running_says_nothing() -> None:
    assert told(FeederScript(1800), StartOrder(), recipe=feeder_recipe()) == []


def test_without_pressure_the_kilograms_fed_tell_when_melt_is_through() -> None:
    """16 kg/h into half a kilogram of hold-up: over within two minutes though no pressure is logged."""
    s = FeederScript(3600)
    again = start(s, 900, ("F2",), through_s=600)
    (finding,) = told(s, StartOrder(), line=without(feeder_line(), "melt_pressure"), recipe=feeder_recipe())

    assert again < (seconds(finding.last.until) or 0) <= again + 180


def test_a_filler_alone_is_said_whether_the_main_feed_is_told_to_run_or_not() -> None:
    """The main feeders are not switched on yet: that is the mistake, and their set-points are zero."""
    s = FeederScript(3600)
    again = start(s, 900, ("F2",), through_s=0)
    for feeder in ("F1", "F3", "L4"):
        for what in ("rate", "setpoint"):
            s.put(f"feeder_{what}:{feeder}", again, again + 270, 0)
    found = {f.last.channel: f for f in told(s, StartOrder(), recipe=feeder_recipe())}
    last = found["feeder_rate:F2"].last

    assert "while the main feed stands" in last.summary and last.priority == 2
    assert again + 240 <= (seconds(last.until) or 0) <= again + 300


def test_a_recipe_without_the_main_feeder_has_no_main_feed_to_wait_for() -> None:
    data = feeder_recipe().model_dump()
    data["shares"] = {"F1": 0, "F2": 100, "F3": 0, "L4": 0}
    recipe = type(feeder_recipe()).model_validate({**data, "version": "filler alone"})
    s = FeederScript(3600)
    again = start(s, 300, ("F2",), through_s=0)
    for feeder in ("F1", "F3", "L4"):
        for what in ("rate", "setpoint"):
            s.put(f"feeder_{what}:{feeder}", again, 3600, 0)

    assert told(s, StartOrder(), recipe=recipe) == []


def test_a_vent_off_its_pump_is_not_evacuated_and_the_deepest_is_told() -> None:
    def said(mbar: float) -> list[str]:
        s = FeederScript(3600)
        again = start(s, 900, ())
        s.put("vacuum:V1", STOP - 10, again, 1000)
        s.put("vacuum:V1", again, again + 60, mbar)
        s.put("vacuum:V1", again + 60, again + 90, (mbar + 590) / 2 if mbar < 590 else mbar)
        s.put("vacuum:V1", again + 90, again + 180, 1000)
        found = [f.last for f in told(s, StartOrder(), recipe=feeder_recipe()) if f.last.channel == "vacuum:V1"]
        return [e.sentence() for last in found for e in last.evidence if "evacuated" in e.what]

    assert said(790) == []
    (deepest,) = said(90)
    assert "90.0 mbar" in deepest


@pytest.mark.parametrize(("rate", "drive", "said"), [(1.2, 0.0, 0), (1.2, None, 0), (9.0, 0.0, 0), (9.0, 8.0, 1)])
def test_a_rate_that_is_not_quite_zero_of_a_feeder_that_stands_is_no_feed(
    rate: float, drive: float | None, said: int
) -> None:
    """Nobody asks for it, and the main feed stands."""
    s = FeederScript(3600)
    again = start(s, 900, ())
    s.put("feeder_rate:F1", again, again + 150, 0)
    s.put("feeder_setpoint:F2", again, again + 150, 0)
    s.put("feeder_rate:F2", again, again + 150, rate)
    if drive is not None:
        s.put("feeder_drive:F2", STOP, again + 150, drive)
    line = None if drive is not None else without(feeder_line(), "feeder_drive")
    found = told(s, StartOrder(), line=line, recipe=feeder_recipe())

    assert len([f for f in found if f.last.channel == "feeder_rate:F2"]) == said


@pytest.mark.parametrize(("slows_s", "said"), [(15.0, 0), (1e9, 1)])
def test_a_pump_that_runs_down_when_all_are_switched_off_is_no_filler_alone(slows_s: float, said: int) -> None:
    """A stop soon after a start: the powders stand at once, the liquid runs down; or it is left on."""
    s = FeederScript(3600)
    off = int(start(s, 300, (), through_s=60)) + 600
    for feeder in SETS:
        s.put(f"feeder_setpoint:{feeder}", off, 3600, 0)
        s.put(f"feeder_rate:{feeder}", off, 3600, 0)
    part = s.span(off, 3600)
    s.x["feeder_rate:L4"][part] = SETS["L4"] * np.exp(-np.arange(len(s.x["feeder_rate:L4"][part])) / slows_s)
    found = told(s, StartOrder(), line=without(feeder_line(), "feeder_drive"), recipe=feeder_recipe())

    assert len(found) == said
