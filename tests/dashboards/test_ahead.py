"""What comes next."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import theilslopes

from dashboards.ahead import Coming, feeders_short, hopper_ahead, in_order, rooms, trends_ahead
from dashboards.refills import level_before, rising
from dashboards.trend_ahead import to_limit, trend
from monitor.line import Line
from monitor.recipe import Window


def line(**more: object) -> Line:
    return Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": "twin-screw"},
            "zone": [{"name": "Z1"}],
            "feeder": [{"name": "F1", "kind": "volumetric", "at": "Z1", "refill_below_kg": 20}],
            "sensor": [
                {"tag": "w", "role": "feeder_weight", "at": "F1"},
                {"tag": "p", "role": "melt_pressure", "at": "P1"},
            ],
            **more,
        }
    )


def test_hopper_sums() -> None:
    (found,) = hopper_ahead(line(), {"feeder_weight:F1": 60.0, "feeder_rate:F1": 120.0}, {})
    assert (found.kind, found.in_s) == ("refill", 1200.0)


def test_a_missed_refill_leaves_only_empty_ahead() -> None:
    found = hopper_ahead(line(), {"feeder_weight:F1": 10.0, "feeder_rate:F1": 120.0}, {})
    assert [(item.kind, item.in_s) for item in found] == [("empty", 300.0)]


def test_a_hopper_that_refills_itself_is_quiet_until_it_misses_one() -> None:
    tags = [("w", "feeder_weight"), ("r", "feeder_refill")]
    plant = line(sensor=[{"tag": tag, "role": role, "at": "F1"} for tag, role in tags])
    assert hopper_ahead(plant, {"feeder_weight:F1": 60.0, "feeder_rate:F1": 120.0, "feeder_refill:F1": 0.0}, {}) == []
    (found,) = hopper_ahead(plant, {"feeder_weight:F1": 18.0, "feeder_rate:F1": 120.0, "feeder_refill:F1": 0.0}, {})
    assert found.kind == "empty"


def test_a_hopper_on_load_cells_refills_itself_though_nobody_logs_it() -> None:
    weighed = line(feeder=[{"name": "F1", "at": "Z1", "refill_below_kg": 20}])
    assert hopper_ahead(weighed, {"feeder_weight:F1": 21.0, "feeder_rate:F1": 120.0}, {}) == []
    (found,) = hopper_ahead(weighed, {"feeder_weight:F1": 18.0, "feeder_rate:F1": 120.0}, {})
    assert (found.kind, found.in_s) == ("empty", 540.0)


def test_a_level_that_nobody_named_is_the_one_at_which_refills_came() -> None:
    weighed = line(feeder=[{"name": "F1", "at": "Z1", "hopper_kg": 50}])
    readings = {"feeder_weight:F1": 12.0, "feeder_rate:F1": 120.0}
    assert hopper_ahead(weighed, readings, {"F1": 10.0}) == []
    (missed,) = hopper_ahead(weighed, readings, {"F1": 20.0})
    assert missed.kind == "empty"
    (unknown,) = hopper_ahead(weighed, readings, {})
    assert (unknown.kind, unknown.in_s) == ("empty", 360.0)


def test_the_level_of_a_refill_is_the_weight_before_it() -> None:
    weight = np.r_[np.linspace(40, 11, 30), np.linspace(20, 45, 5), np.linspace(44, 13, 30), 30.0, 44.0, 43.0]
    assert level_before(weight, rising(weight, 50)) == pytest.approx(11)
    assert level_before(np.linspace(40, 11, 30), np.zeros(30, bool)) is None


def test_a_feeder_at_its_limit_that_gives_less_than_it_is_told_cannot_hold_its_rate() -> None:
    readings = {"feeder_drive:F1": 100.0, "feeder_rate:F1": 11.0, "feeder_setpoint:F1": 18.7}
    (found,) = feeders_short(line(), readings)
    assert (found.key, found.kind, found.in_s) == ("feeder_drive:F1", "short", 0.0)
    assert (found.rate, found.wanted, found.limit) == (11.0, 18.7, 100.0)
    assert feeders_short(line(), readings | {"feeder_rate:F1": 18.6}) == []
    assert feeders_short(line(), readings | {"feeder_drive:F1": 80.0}) == []


def test_nothing_is_said_while_refilling_or_standing() -> None:
    assert hopper_ahead(line(), {"feeder_weight:F1": 10.0, "feeder_rate:F1": 120.0, "feeder_refill:F1": 1.0}, {}) == []
    assert hopper_ahead(line(), {"feeder_weight:F1": 10.0, "feeder_rate:F1": 0.0}, {}) == []


def test_soonest_first_and_nothing_beyond_a_day() -> None:
    kept = in_order([Coming("a", "empty", 900), Coming("b", "empty", 300), Coming("c", "limit", 1e9)])
    assert [item.key for item in kept] == ["b", "a"]


def test_trend_agrees_with_scipy() -> None:
    rng = np.random.default_rng(3)
    t = np.arange(36) * 300.0 - 35 * 300.0
    y = 50 + 0.0004 * t + rng.normal(0, 0.3, 36)
    ours = trend(t, y)
    theirs = theilslopes(y, t, alpha=0.95)
    assert ours is not None
    assert ours.slope == pytest.approx(theirs[0])
    assert (ours.slope_low, ours.slope_high) == pytest.approx((theirs[2], theirs[3]), rel=0.02)


def test_trend_ignores_gaps_and_needs_points() -> None:
    t = np.arange(20.0)
    y = 2 * t
    y[5:9] = np.nan
    found = trend(t, y)
    assert found is not None and found.slope == pytest.approx(2)
    assert trend(t[:5], y[:5]) is None


def test_limit_is_met_when_the_arithmetic_says() -> None:
    t = np.arange(30) * 300.0 - 29 * 300.0
    found = trend(t, 60 + t * 0.001)
    assert found is not None
    when = to_limit(found, 78)
    assert when is not None and when[0] == pytest.approx(18_000)


def test_level_noise_meets_nothing() -> None:
    rng = np.random.default_rng(8)
    t = np.arange(36) * 300.0
    met = 0
    for _ in range(60):
        found = trend(t, rng.normal(60, 1, 36))
        met += found is not None and to_limit(found, 61.5) is not None
    assert met <= 4, "a 95 % interval lets about one in forty rise by chance"


def test_next_limit_above_is_named_first() -> None:
    t = np.arange(30) * 300.0 - 29 * 300.0
    rising = trend(t, 60 + t * 0.001)
    window = Window(role="melt_pressure", at="P1", target=50, high=58, high_outer=70)
    limits = {"melt_pressure:P1": 120.0}
    found = trends_ahead({"melt_pressure:P1": rising}, {"melt_pressure:P1": window}, limits, {"melt_pressure:P1": 59.0})
    assert [(item.kind, item.limit) for item in found] == [("leaves window", 70)]


@pytest.mark.parametrize(("now", "said"), [(99.0, True), (92.0, True), (58.0, False)])
def test_a_drive_that_has_come_down_is_not_on_its_way_to_its_limit(now: float, said: bool) -> None:
    """A bridge drove it up for a quarter of an hour, and has broken."""
    t = np.arange(12) * 300.0 - 11 * 300.0
    rising = trend(t, np.linspace(60, 98, 12))
    found = trends_ahead({"feeder_drive:F4": rising}, {}, {"feeder_drive:F4": 100.0}, {"feeder_drive:F4": now})
    assert bool(found) is said


def test_tightest_room_first() -> None:
    plant = line(limits={"melt_pressure_bar": 120}, drive={"torque_limit_pct": 100, "no_load_torque_pct": 5})
    found = rooms(plant, {"torque": 80.0, "melt_pressure:P1": 100.0, "feeder_drive:F1": 50.0}, {}, flooded=False)
    assert [room.key for room in found] == ["torque", "melt_pressure:P1", "feeder_drive:F1"]
    assert found[0].factor == pytest.approx(90 / 75)
    assert found[1].factor == pytest.approx(1.2 ** (1 / 0.35))
    assert found[2].factor == pytest.approx(2.0)


def test_flood_fed_room_is_speed_and_pressure() -> None:
    plant = line(limits={"melt_pressure_bar": 120, "screw_speed_rpm": 90})
    found = rooms(plant, {"torque": 80.0, "screw_speed": 60.0, "melt_pressure:P1": 60.0}, {}, flooded=True)
    assert [(room.key, room.factor) for room in found] == [
        ("screw_speed", 1.5),
        ("melt_pressure:P1", pytest.approx(2 ** (1 / 0.35))),
    ]


def test_zones_at_their_limit_leave_no_room() -> None:
    zones = [{"name": "Z1", "output_limit_pct": 80}, {"name": "Z2"}, {"name": "Z3"}, {"name": "Z4"}]
    readings = {"zone_output:Z1": 40.0, "zone_output:Z2": -99.0, "zone_output:Z3": 12.0, "zone_output:Z4": -40.0}
    found = rooms(line(zone=zones), readings, {}, flooded=False)
    assert [(room.key, room.factor) for room in found] == [("zone_output:Z2", 1.0), ("zone_output:Z1", 2.0)]
    assert [room.key for room in rooms(line(zone=zones), readings, {}, flooded=True)] == ["zone_output:Z2"]


def test_a_slow_wander_is_no_trend() -> None:
    """Points that hang together, without any rise: the plain interval calls far more than one in forty a trend."""
    rng = np.random.default_rng(21)
    t = np.arange(36) * 300.0
    met = 0
    for _ in range(200):
        y = np.zeros(36)
        for i, step in enumerate(rng.normal(0, 1, 36)):
            y[i] = 0.6 * y[i - 1] + step if i else step
        found = trend(t, 60 + y)
        met += found is not None and found.slope_low > 0
    assert met <= 16, "with the plain interval it is 28"


def test_a_rise_is_a_trend_though_what_is_left_of_the_line_hangs_together() -> None:
    t = np.arange(36) * 300.0
    found = trend(t, 60 + 30 * (t / t[-1]) ** 2)
    assert found is not None and found.slope_low > 0


def test_a_limit_that_is_passed_is_not_ahead() -> None:
    """Pressure has run away from its line: what it has passed is not said to come, what is next is reckoned from it."""
    t = np.arange(30) * 300.0 - 29 * 300.0
    rising = trend(t, 90 + t * 0.001)
    window = Window(role="melt_pressure", at="P1", target=80, high=96, high_outer=104)
    found = trends_ahead({"melt_pressure:P1": rising}, {"melt_pressure:P1": window}, {"melt_pressure:P1": 170.0},
                         {"melt_pressure:P1": 134.0})  # fmt: skip
    assert [(item.kind, item.limit, round(item.in_s)) for item in found] == [("limit", 170.0, 36_000)]


def test_pressures_that_rise_together_are_said_once() -> None:
    t = np.arange(30) * 300.0 - 29 * 300.0
    rng = np.random.default_rng(5)
    noisy = {f"melt_pressure:P{i}": trend(t, 60 + t * 0.001 + rng.normal(0, 0.5, 30)) for i in (1, 2)}
    readings = dict.fromkeys(noisy, 60.0)
    found = trends_ahead(noisy, {}, dict.fromkeys(noisy, 78.0), readings)
    assert len(found) == 1 and len(found[0].along) == 1 and found[0].key != found[0].along[0]
    apart = trends_ahead(noisy, {}, {"melt_pressure:P1": 70.0, "melt_pressure:P2": 120.0}, readings)
    assert len(apart) == 2
