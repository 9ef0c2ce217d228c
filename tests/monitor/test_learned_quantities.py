"""What is learned on a line, and within which tolerance."""

from __future__ import annotations

import numpy as np

from monitor.learned_quantities import kind_of, learned_cells, learned_names, operating_point
from monitor.tolerances import Kinds
from monitor.view import Readings
from tests.monitor.scripted_world import scripted_line

LINE = scripted_line()
DERIVED = ("net_torque", "sme", "specific_throughput", "total_feed")


def test_every_output_drive_and_deviation_is_learned() -> None:
    names = learned_names(LINE.channels, DERIVED)

    for zone in ("Z1", "Z2", "Z3", "ADAPTER", "DIE"):
        assert {f"zone_output:{zone}", f"zone_deviation:{zone}"} <= set(names)
    for feeder in ("F1", "F2", "F3"):
        assert {f"feeder_drive:{feeder}", f"feed_factor:{feeder}"} <= set(names)
    assert {"net_torque", "screw_speed", "melt_pressure:P1", "melt_temperature:MT1"} <= set(names)
    assert "total_feed" not in names and len(names) == len(set(names))


def test_temperatures_and_outputs_have_absolute_tolerances_loads_shares() -> None:
    kinds = Kinds([kind_of(name) for name in ("melt_temperature:M", "zone_output:Z", "net_torque")])

    assert kinds.tolerance(np.array([230.0, 4.0, 50.0])).tolist() == [3.0, 4.0, 1.5]
    assert kinds.kept.tolist() == [False, True, False]


def test_a_channel_without_a_known_unit_is_held_to_shares() -> None:
    """3 C means nothing for a temperature in units nobody knows; a deviation from set less still."""
    assert kind_of("melt_temperature:M", {"melt_temperature:M"}).share == 0.03
    assert kind_of("melt_temperature:M", {"melt_temperature:M"}).absolute == 0
    assert "zone_deviation:Z1" not in learned_names(LINE.channels, DERIVED, {"zone_temperature:Z1"})


def test_cells() -> None:
    rows = {"zone_temperature:Z": 201.5, "zone_setpoint:Z": 200.0, "feeder_rate:F": 30.0, "feeder_drive:F": 60.0}
    index = {key: place for place, key in enumerate(rows)}
    values = np.array(list(rows.values()))[:, None].repeat(2, axis=1)
    values[3, 1] = 1.0
    readings = Readings(0, 10_000_000_000, index, values, values)

    cells = learned_cells(("zone_deviation:Z", "feed_factor:F", "sme"), readings, {"sme": np.array([0.2, 0.3])})

    np.testing.assert_array_equal(cells, [[1.5, 1.5], [0.5, np.nan], [0.2, 0.3]])
    assert np.isnan(operating_point(readings, {}, True)).all()


def test_speed_stands_for_the_rate_of_a_flood_fed_screw_that_is_not_measured() -> None:
    values = np.full((1, 2), 85.0)
    readings = Readings(0, 10_000_000_000, {"screw_speed": 0}, values, values)

    np.testing.assert_array_equal(operating_point(readings, {}, False), np.full((2, 2), 85.0))
    measured = operating_point(readings, {"total_feed": np.array([40.0, np.nan])}, False)
    np.testing.assert_array_equal(measured[1], [40.0, np.nan])
    assert np.isnan(operating_point(readings, {}, True)[1]).all()
