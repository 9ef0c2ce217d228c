"""Several quantities that wander at once are told as one event, under the one that leads."""

from __future__ import annotations

import pytest

from monitor.drift_words import leads
from tests.monitor.desk import Desk

HOTTER = {"leads": 1.0, "began_h": 0.5, "melt_c": 4.0}


@pytest.mark.parametrize(
    ("moved", "folds"),
    [
        ({"pressure": -0.09, "began_h": 0.4}, True),
        ({"torque": -0.06, "began_h": 0.7}, True),
        ({"pressure": 0.09, "began_h": 0.5}, False),
        ({"pressure": -0.09, "began_h": 2.0}, False),
        ({"pressure": -0.09}, False),
    ],
)
@pytest.mark.parametrize("first", [True, False])
def test_what_left_with_the_one_that_leads_and_its_way_is_one_event(
    moved: dict[str, float], folds: bool, first: bool
) -> None:
    """Whichever of the two is said first."""
    desk = Desk()
    if first:
        lead = desk.say("drift", 20000, moved=HOTTER, subject="melt_temperature:M1")
    other = desk.say("drift", 20000, moved=moved, subject="melt_pressure:P1")
    if not first:
        lead = desk.say("drift", 20000, moved=HOTTER, subject="melt_temperature:M1")

    assert (desk.standing[other.finding]["part_of"] == lead.finding) is folds
    assert not desk.standing[lead.finding]["part_of"]


@pytest.mark.parametrize(
    ("load", "pressure", "hotter", "role"),
    [
        (-0.07, -0.09, 4.0, "melt_temperature"),
        (0.08, 0.09, -4.0, "melt_temperature"),
        (0.03, -0.09, 4.0, "melt_temperature"),
        (-0.27, -0.41, -16.0, "net_torque"),
        (-0.33, -0.13, 9.0, "net_torque"),
        (0.1, 0.12, 0.5, "net_torque"),
        (0.01, -0.38, 0.0, "melt_pressure"),
        (0.02, 0.2, 2.0, "melt_pressure"),
        (float("nan"), 0.2, 0.0, "melt_pressure"),
    ],
)
def test_heat_is_told_by_the_melt_less_feed_and_a_lot_by_the_load_a_way_out_by_the_pressure(
    load: float, pressure: float, hotter: float, role: str
) -> None:
    facts = {"load_ln": load, "pressure_ln": pressure, "melt_c": hotter}

    assert [name for name in ("net_torque", "melt_pressure", "melt_temperature") if leads(facts, name)] == [role]
