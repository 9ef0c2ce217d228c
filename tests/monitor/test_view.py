"""What conditions see: rows by role, coarse cells, extremes, phases, and nothing where nothing is logged."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.block import BAD, FRESH, GOOD, NONE, UNCERTAIN
from monitor.phases import PHASES
from monitor.view import CoarseView, Extremes, Readings, Rows, coarse_readings, usable

S = 1_000_000_000
NAN = float("nan")


def readings(**rows: list[float]) -> Readings:
    """Channels named role__subject."""
    index = {name.replace("__", ":"): place for place, name in enumerate(rows)}
    values = np.array(list(rows.values()), float)
    return Readings(100 * S, S, index, values, values + 1000)


def test_a_channel_that_is_not_logged_is_unknown_throughout() -> None:
    view = readings(torque=[1.0, 2.0])

    assert view.get("torque").tolist() == [1.0, 2.0]
    assert np.isnan(view.get("screw_speed")).tolist() == [True, True]
    assert view.n == 2


def test_rows_come_in_the_order_asked_for_with_gaps_unknown() -> None:
    view = readings(zone_temperature__Z2=[2.0], zone_temperature__Z1=[1.0])

    rows = view.rows("zone_temperature", ("Z1", "Z9", "Z2"))
    raw = view.rows("zone_temperature", ("Z1",), raw=True)

    assert np.nan_to_num(rows, nan=-1).tolist() == [[1.0], [-1.0], [2.0]]
    assert raw.tolist() == [[1001.0]]
    assert view.rows("zone_temperature", ()).shape == (0, 1)


def test_rows_are_shared_and_cannot_be_written_to() -> None:
    view = readings(zone_temperature__Z1=[1.0])

    rows = view.rows("zone_temperature", ("Z1",))

    assert view.rows("zone_temperature", ("Z1",)) is rows
    with pytest.raises(ValueError, match="read-only"):
        rows[:] = 9.0


def test_a_cell_is_known_at_its_end() -> None:
    assert readings(torque=[1.0, 2.0]).ends().tolist() == [101 * S, 102 * S]


def test_usable_keeps_good_and_uncertain_readings_whether_fresh_or_held() -> None:
    status = np.array([[GOOD, UNCERTAIN, BAD, NONE, GOOD | FRESH, UNCERTAIN | FRESH, BAD | FRESH]], np.uint8)
    got = usable(np.full((1, 7), 5.0), status)

    assert np.isfinite(got).tolist() == [[True, True, False, False, True, True, False]]


def test_usable_copies_nothing_where_only_missing_readings_are_unfit() -> None:
    status = np.array([[GOOD, NONE, UNCERTAIN]], np.uint8)
    missing, bad = np.array([[5.0, NAN, 5.0]]), np.array([[5.0, 9.0, 5.0]])

    assert usable(missing, status) is missing
    assert usable(bad, status) is not bad and bad.tolist() == [[5.0, 9.0, 5.0]]


def test_rows_as_logged_are_those_that_are_judged_where_nothing_was_taken_out() -> None:
    values = np.ones((1, 3))
    view = Readings(0, S, {"zone_temperature:Z1": 0}, values, values)

    assert view.rows("zone_temperature", ("Z1",), raw=True) is view.rows("zone_temperature", ("Z1",))


CELLS = st.lists(st.one_of(st.floats(-1e3, 1e3), st.just(NAN)), min_size=12, max_size=12)


@settings(deadline=None, max_examples=60)
@given(CELLS, st.sampled_from([1, 2, 3, 4, 6, 12]))
def test_coarse_readings(cells: list[float], width: int) -> None:
    fine = readings(torque=cells)
    coarse, extremes = coarse_readings(fine, width)
    low, high = extremes("torque")

    assert (coarse.t0, coarse.step, coarse.n) == (fine.t0, width * S, 12 // width)
    for cell in range(coarse.n):
        inside = [v for v in cells[cell * width : (cell + 1) * width] if v == v]
        got = coarse.values[0, cell], low[cell], high[cell]
        if inside:
            total = 0.0
            for value in inside:
                total += value
            assert got == (total / len(inside), min(inside), max(inside))
        else:
            assert np.isnan(got).all()
        np.testing.assert_array_equal(coarse.raw[0, cell], fine.raw[0, (cell + 1) * width - 1])


def coarse_view() -> CoarseView:
    base = readings(zone_temperature__Z1=[1.0, 2.0], torque=[3.0, 4.0])
    return CoarseView(
        base.t0,
        base.step,
        base.index,
        base.values,
        base.raw,
        phase=np.array([PHASES.index("steady"), PHASES.index("idle")], np.int8),
        quantities={"sme": np.array([0.1, 0.2])},
        expected={"sme": np.array([0.15, 0.15])},
        scatter={"sme": np.array([0.01, 0.01])},
        extremes=lambda key: (np.array([0.0, 0.0]), np.array([9.0, 9.0])),
    )


def test_quantities_and_expectations_that_do_not_exist_are_unknown() -> None:
    view = coarse_view()

    assert view.quantity("sme").tolist() == [0.1, 0.2]
    assert np.isnan(view.quantity("fill")).all()
    assert [row.tolist() for row in view.expectation("sme")] == [[0.15, 0.15], [0.01, 0.01]]
    assert all(np.isnan(row).all() for row in view.expectation("net_torque"))


def test_extremes_of_what_is_logged_only() -> None:
    low, high = coarse_view().low_high("zone_temperature", ("Z1", "Z2"))

    assert low[0].tolist() == [0.0, 0.0] and high[0].tolist() == [9.0, 9.0]
    assert np.isnan(low[1]).all() and np.isnan(high[1]).all()


def test_in_phase() -> None:
    view = coarse_view()

    assert view.in_phase("steady").tolist() == [True, False]
    assert view.in_phase("steady", "idle").tolist() == [True, True]
    assert view.in_phase("purging").tolist() == [False, False]


@pytest.mark.parametrize("cells", [1, 6, 7, 40])
def test_extremes_with_cells_before_them_are_those_of_the_whole(cells: int) -> None:
    rng = np.random.default_rng(cells)
    fine = rng.normal(0, 5, (3, 10 * (cells + 5)))
    fine[rng.random(fine.shape) < 0.3] = NAN
    fine[1, :60] = NAN
    index = {"torque": 0, "screw_speed": 1, "vacuum": 2}
    whole = Extremes(index, fine, 10)
    early, late = Extremes(index, fine[:, :50], 10), Extremes(index, fine[:, 50:], 10)
    both = Extremes(index, fine[:, 50:], 10, early.newest(5), late)

    for key, row in index.items():
        expected = [[f(cell) for cell in fine[row].reshape(-1, 10)] for f in (np.fmin.reduce, np.fmax.reduce)]
        np.testing.assert_array_equal(whole(key), expected)
        np.testing.assert_array_equal(both(key), expected)
    np.testing.assert_array_equal(both.newest(1), [[row[-1:] for row in part] for part in whole.newest(1)])
    np.testing.assert_array_equal(whole.newest(5)[0][2], whole("vacuum")[0][-5:])


def test_rows_of_a_table_are_a_mapping() -> None:
    rows = Rows({"sme": 1, "fill": 0}, np.array([[1.0, 2.0], [3.0, 4.0]]))

    assert rows["sme"].tolist() == [3.0, 4.0] and rows.get("fill", None).tolist() == [1.0, 2.0]
    assert rows.get("vacuum") is None and "vacuum" not in rows and len(rows) == 2 and list(rows) == ["sme", "fill"]
    with pytest.raises(KeyError):
        rows["vacuum"]


@given(
    st.lists(st.lists(st.sampled_from([GOOD, UNCERTAIN, BAD, NONE]), min_size=3, max_size=3), min_size=1, max_size=4)
)
def test_the_bits_of_all_channels_together_change_nothing(rows: list[list[int]]) -> None:
    status = (np.array(rows) | FRESH).astype(np.uint8)
    values = np.arange(status.size, dtype=float).reshape(status.shape)

    together = np.bitwise_or.reduce(status, axis=0)
    np.testing.assert_array_equal(usable(values, status, together), usable(values, status))
