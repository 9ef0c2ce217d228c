"""Melt where a part-filled screw should have no pressure; a quiet shift of zero is not that."""

from __future__ import annotations

import pytest

from monitor.conditions.backed_up import BackedUp
from monitor.contract import Context
from tests.monitor.conditions.told import changed, only, seconds, told
from tests.monitor.world_fill import FILL_LINE, FillScript

LOG_S, FROM, TO = 2400, 1200, 1800


@pytest.mark.parametrize("sensor", ["Z2", "V1"])
def test_speaks_over_a_conveying_stretch_and_at_a_vent(sensor: str) -> None:
    s = FillScript(LOG_S)
    s.back_up(f"melt_pressure:{sensor}", FROM, TO)
    finding = only(told(s, BackedUp(), line=FILL_LINE))

    assert f"melt backs up to {sensor}" in finding.last.summary
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 30
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 30


def test_a_restriction_downstream_is_named_when_pressure_before_the_die_is_up() -> None:
    s = FillScript(LOG_S)
    s.back_up("melt_pressure:Z2", FROM, TO)
    s.scale("melt_pressure:P1", FROM - 60, TO, 1.4)
    causes = only(told(s, BackedUp(), line=FILL_LINE)).last.causes

    assert causes[0].text.startswith("flooded from downstream") and causes[0].speaks_for


def test_and_not_where_it_is_not() -> None:
    s = FillScript(LOG_S)
    s.back_up("melt_pressure:Z2", FROM, TO)
    causes = only(told(s, BackedUp(), line=FILL_LINE)).last.causes

    assert causes[0].text == "too much rate for this speed"
    assert causes[1].speaks_against == ("pressure before the die is not up",)


@pytest.mark.parametrize(("shift", "noise"), [(3.0, 0.0), (7.0, 0.0), (0.0, 0.6)])
def test_a_shift_of_zero_and_noise_alone_stay_silent(shift: float, noise: float) -> None:
    """7 bar and as quiet as before: a sensor, not melt."""
    s = FillScript(LOG_S)
    part = s.span(FROM, TO)
    s.x["melt_pressure:Z2"][part] += shift + s.noise(max(noise, 1e-9))[part]

    assert told(s, BackedUp(), line=FILL_LINE) == []


def test_the_zero_is_kept_over_a_change_of_rate() -> None:
    """The raise floods the barrel at once: what is empty at one rate is empty at the other."""
    s = FillScript(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 1.2)
    s.back_up("melt_pressure:Z2", FROM + 60, TO)

    assert only(told(s, BackedUp(), line=FILL_LINE)).last.condition == "backed_up"


def test_a_sensor_that_is_usually_under_pressure_is_not_judged() -> None:
    s = FillScript(LOG_S)
    s.x["melt_pressure:Z2"][:] = 20 + s.noise(0.5)
    s.back_up("melt_pressure:Z2", FROM, TO, bar=30)

    assert told(s, BackedUp(), line=FILL_LINE) == []


def test_over_kneading_elements_and_on_a_single_screw_nothing_is_watched() -> None:
    data = FILL_LINE.model_dump()
    data["zone"] = [{**zone, "element": "kneading"} for zone in data["zone"]]
    kneading = type(FILL_LINE).model_validate(data)
    single = changed(FILL_LINE, line={"kind": "single-screw"})

    assert BackedUp().subjects(Context(FILL_LINE, None, None, 10.0)) == ("Z2", "V1")
    assert BackedUp().subjects(Context(kneading, None, None, 10.0)) == ("V1",)
    assert BackedUp().subjects(Context(single, None, None, 10.0)) == ()
