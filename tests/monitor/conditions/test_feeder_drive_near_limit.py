"""A feeder whose drive has little left."""

from __future__ import annotations

import pytest

from monitor.conditions.feeder_drive_near_limit import FeederDriveNearLimit
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, calm
from tests.monitor.conditions.told import only, told, without
from tests.monitor.world_feeders import feeder_line, feeder_recipe


@pytest.mark.parametrize(("drive", "priority"), [(88, 3), (99, 2)])
def test_speaks(drive: float, priority: int) -> None:
    s = calm()
    s.put("feeder_drive:F2", FROM, LOG_S, drive)
    last = only(told(s, FeederDriveNearLimit(), recipe=feeder_recipe())).last

    assert last.priority == priority and f"{drive} %" in last.summary


def test_the_limit_is_the_line_files() -> None:
    data = feeder_line().model_dump()
    data["feeder"][1]["drive_limit_pct"] = 60
    line = type(feeder_line()).model_validate({**data, "version": "limit"})
    s = calm()
    s.put("feeder_drive:F2", FROM, LOG_S, 55)

    assert (
        "at 92 % of its limit" in only(told(s, FeederDriveNearLimit(), line=line, recipe=feeder_recipe())).last.summary
    )


@pytest.mark.parametrize("drive", [60, 80])
def test_stays_silent_below(drive: float) -> None:
    s = calm()
    s.put("feeder_drive:F2", FROM, LOG_S, drive)

    assert told(s, FeederDriveNearLimit(), recipe=feeder_recipe()) == []


def test_held_high_in_a_refill_is_no_finding() -> None:
    s = calm()
    s.put("feeder_refill:F2", FROM, FROM + 400, 1)
    s.put("feeder_weight:F2", FROM, FROM + 400, 60.0, slope_s=0.1)
    s.put("feeder_drive:F2", FROM, FROM + 400, 95)

    assert told(s, FeederDriveNearLimit(), recipe=feeder_recipe()) == []


def test_the_rate_or_the_material_is_blamed_by_the_feed_factor() -> None:
    material, rate = calm(), calm()
    for s in (material, rate):
        s.scale("feeder_drive:F2", FROM, LOG_S, 2.0)
    for what in ("rate", "setpoint"):
        rate.scale(f"feeder_{what}:F2", FROM, LOG_S, 2.0)
    blamed = [only(told(s, FeederDriveNearLimit(), recipe=feeder_recipe())).last.causes[0] for s in (material, rate)]

    assert "lower bulk density" in blamed[0].text and "less a turn" in blamed[0].speaks_for[0]
    assert "rate near the most" in blamed[1].text


def test_without_rates_it_still_watches_the_drive() -> None:
    s = calm()
    s.put("feeder_drive:F2", FROM, LOG_S, 90)
    line = without(feeder_line(), "feeder_rate", "feeder_setpoint", "feeder_weight", "feeder_refill")

    assert only(told(s, FeederDriveNearLimit(), line=line, recipe=feeder_recipe())).last.channel == "feeder_drive:F2"
