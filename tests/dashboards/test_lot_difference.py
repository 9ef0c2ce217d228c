"""What was different about a lot: found when it is, silent when it is not, honest about few lots."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboards.lot_difference import COUNTS, FEWEST_LOTS, Steady, differences, steady_of, telling
from dashboards.lot_steady import comparable, steady_lot
from tests.dashboards.lots_world import nine_lots


def lots(rng: np.random.Generator, count: int, middle: float = 50.0, between: float = 1.0) -> list[dict[str, Steady]]:
    return [{"melt_pressure:P1": Steady(rng.normal(middle, between), rng.uniform(0.45, 0.55))} for _ in range(count)]


def test_a_shifted_middle_comes_first() -> None:
    others = [{**lot, "torque": Steady(70.0 + i / 10, 1.0)} for i, lot in enumerate(lots(np.random.default_rng(1), 9))]
    found = differences({"melt_pressure:P1": Steady(60.0, 0.5), "torque": Steady(70.4, 1.0)}, others)
    assert (found[0].key, found[0].what) == ("melt_pressure:P1", "middle")
    assert found[0].spreads > COUNTS and found[0].rank == 1 and found[0].beyond_all and found[0].lots == 9
    assert all(abs(item.spreads) < COUNTS for item in found[1:])


def test_a_doubled_scatter_is_seen_and_a_like_one_is_not() -> None:
    others = lots(np.random.default_rng(2), 9)
    wild = {item.what: item for item in differences({"melt_pressure:P1": Steady(50.0, 1.2)}, others)}
    calm = {item.what: item for item in differences({"melt_pressure:P1": Steady(50.0, 0.5)}, others)}
    assert wild["scatter"].spreads > COUNTS > abs(calm["scatter"].spreads)


def test_what_no_other_lot_has_had_comes_ahead_of_what_one_has() -> None:
    """The torque of one other lot went as far, and those of the rest lie close together."""
    torques = [70.0] * 8 + [90.0]
    others = [
        {**lot, "torque": Steady(torque, 1.0)}
        for lot, torque in zip(lots(np.random.default_rng(1), 9), torques, strict=True)
    ]
    found = differences({"melt_pressure:P1": Steady(56.0, 0.5), "torque": Steady(89.0, 1.0)}, others)

    torque = next(item for item in found if (item.key, item.what) == ("torque", "middle"))
    assert abs(torque.spreads) > abs(found[0].spreads) and not torque.beyond_all
    assert (found[0].key, found[0].beyond_all) == ("melt_pressure:P1", True)


def test_what_some_lot_has_had_or_no_sensor_can_tell_is_not_worth_a_line() -> None:
    others = [{"zone_current:Z4": Steady(0.23 + 0.001 * i, 0.001), "torque": Steady(70.0 + i, 0.1)} for i in range(6)]
    unit = {"zone_current:Z4": "A", "torque": "%"}.__getitem__

    def told(current: float, torque: float) -> set[str]:
        lot = {"zone_current:Z4": Steady(current, 0.001), "torque": Steady(torque, 0.1)}
        return {d.key for d in telling(differences(lot, others), unit) if d.what == "middle"}

    assert told(0.28, 74.5) == set(), "5 hundredths of an ampere; a torque as of another lot"
    assert told(0.48, 80.0) == {"zone_current:Z4", "torque"}


@pytest.mark.parametrize("count", range(FEWEST_LOTS))
def test_too_few_lots_say_nothing(count: int) -> None:
    assert differences({"melt_pressure:P1": Steady(90.0, 0.5)}, lots(np.random.default_rng(3), count)) == []


def test_one_odd_lot_among_the_others_hides_nothing() -> None:
    others = [*lots(np.random.default_rng(4), 8), {"melt_pressure:P1": Steady(500.0, 0.5)}]
    assert abs(differences({"melt_pressure:P1": Steady(60.0, 0.5)}, others)[0].spreads) > COUNTS


def test_identical_lots_are_not_made_into_a_difference_by_the_last_digit() -> None:
    others = [{"zone_setpoint:Z1": Steady(200.0, 0.0)}] * 6
    assert abs(differences({"zone_setpoint:Z1": Steady(200.01, 0.0)}, others)[0].spreads) < COUNTS
    assert abs(differences({"zone_setpoint:Z1": Steady(210.0, 0.0)}, others)[0].spreads) > COUNTS


def test_alike_lots_seldom_stand_out() -> None:
    """Lots drawn from one normal spread: few stand out. A robust spread of 12 lots is wider in its tails than sigma."""
    rng = np.random.default_rng(5)
    outside = 0
    for _ in range(400):
        every = lots(rng, 13)
        found = [d for d in differences(every[0], every[1:]) if d.what == "middle"]
        outside += abs(found[0].spreads) >= COUNTS
    assert outside / 400 < 0.06


@settings(max_examples=60)
@given(st.floats(-1e4, 1e4), st.floats(0.01, 1e3), st.integers(0, 10**6))
def test_the_ranking_does_not_depend_on_the_unit(offset: float, factor: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    every = lots(rng, 8)

    def turned(lot: dict[str, Steady]) -> dict[str, Steady]:
        return {k: Steady(s.middle * factor, s.scatter * factor) for k, s in lot.items()}

    a = differences(every[0], every[1:])
    b = differences(turned(every[0]), [turned(lot) for lot in every[1:]])
    assert [(d.key, d.what, d.rank) for d in a] == [(d.key, d.what, d.rank) for d in b]
    assert [d.spreads for d in a] == pytest.approx([d.spreads for d in b], rel=1e-6)


def test_steady_of_needs_ten_minutes() -> None:
    assert steady_of(np.r_[np.full(9, 1.0), np.full(50, np.nan)]) is None
    found = steady_of(np.arange(11.0))
    assert found is not None and found.middle == 5.0
    assert found.scatter == pytest.approx(1.4826 * 3)


def test_the_short_feeder_stands_out_in_the_journal() -> None:
    data = nine_lots()
    lot = data.lot("Line 3", "4418")
    assert lot is not None
    others = [steady_lot(data, other) for other in comparable(data, lot)]
    assert len(others) == 8
    first = differences(steady_lot(data, lot), others)[:3]
    assert {item.key for item in first} <= {"feeder_rate:F4", "feeder_drive:F4", "share:F4"}
    assert steady_lot(data, lot) is steady_lot(data, lot)
