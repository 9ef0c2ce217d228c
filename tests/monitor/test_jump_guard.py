"""Temperatures that jumped are taken out; all else passes untouched, at any cut."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor import jump_guard
from monitor.checkpoint import dump_state
from monitor.view import Readings

S = 1_000_000_000
NAN = float("nan")
KEYS = ("zone_temperature:Z1", "melt_temperature:MT1", "torque", "zone_setpoint:Z1")


def guarded(rows: dict[str, list[float]], cuts: tuple[int, ...] = (), step_s: float = 10) -> dict[str, list[float]]:
    """The guarded rows, whole or in pieces."""
    index = {key: place for place, key in enumerate(rows)}
    values = np.array(list(rows.values()), float)
    state = jump_guard.start(len(jump_guard.guarded_rows(index)))
    out = []
    for first, last in zip((0, *cuts), (*cuts, values.shape[1]), strict=True):
        part = values[:, first:last]
        kept = part.copy()
        state, after = jump_guard.advance(state, Readings(0, round(step_s * S), index, part, part))
        np.testing.assert_array_equal(part, kept)
        assert after.raw is part
        out.append(after.values)
    guarded.state = dump_state(state)  # type: ignore[attr-defined]
    return dict(zip(rows, np.concatenate(out, axis=1).tolist(), strict=True))


def one_cell_at_a_time(row: list[float], rate_c_s: float, step_s: float, wanted: float = NAN) -> list[float]:
    """A jump is more than steel or melt can do since the reading before it, 8 C at least, and out of rest; not what
    comes to its set-point from far off."""
    last, since, left, away, out = NAN, 0.0, NAN, 0.0, []
    for place, now in enumerate(row):
        since += step_s
        one, two = ([NAN, NAN, *row][place + k] for k in (1, 0))
        gathers = abs(one - two) >= 0.5 * abs(now - one) and (one > two) == (now > one) and now != one != two
        back = abs(now - wanted) <= 10.0 and abs(last - wanted) >= 50.0
        if left != left and abs(now - last) > max(8.0, rate_c_s * since) and not gathers and not back:
            left = last
        if left == left and now == now and (abs(now - left) <= 6.0 or away >= 7200):
            left = NAN
        away = 0.0 if left != left else away + step_s
        if now == now:
            last, since = now, 0.0
        out.append(now if left != left else NAN)
    return out


ROWS = st.lists(st.sampled_from([NAN, 200.0, 200.4, 205.0, 209.0, 215.0, 228.0, 400.0, 25.0]), min_size=25, max_size=25)


@settings(deadline=None, max_examples=100)
@given(ROWS, ROWS, st.lists(st.integers(0, 25), max_size=4), st.sampled_from([10.0, 14.0, 600.0]))
def test_same_as_one_cell_at_a_time(zone, melt, cuts, step_s) -> None:  # type: ignore[no-untyped-def]
    wanted = [209.0] * len(zone)
    rows = dict(zip(KEYS, (zone, melt, zone, wanted), strict=True))

    whole = guarded(rows, step_s=step_s)
    state = guarded.state  # type: ignore[attr-defined]

    want = (one_cell_at_a_time(zone, 1.0, step_s, 209.0), one_cell_at_a_time(melt, 2.0, step_s), zone, wanted)
    np.testing.assert_array_equal(list(whole.values()), want)
    np.testing.assert_array_equal(list(guarded(rows, tuple(sorted(cuts)), step_s).values()), want)
    assert guarded.state == state  # type: ignore[attr-defined]


def test_an_open_couple_is_unknown_until_it_comes_back_near_where_it_left() -> None:
    got = guarded({KEYS[0]: [200, 400, 400, 300, 205, 201]})[KEYS[0]]

    np.testing.assert_array_equal(got, [200, NAN, NAN, NAN, 205, 201])


def test_what_comes_to_its_set_point_from_far_off_has_come_back() -> None:
    """The log begins, or goes on after a gap, while the couple happens to be open."""
    rows = {KEYS[0]: [450.0, 450, 264, 263, 262], KEYS[3]: [260.0] * 5}

    assert guarded(rows)[KEYS[0]] == [450, 450, 264, 263, 262]
    np.testing.assert_array_equal(guarded({KEYS[0]: rows[KEYS[0]]})[KEYS[0]], [450, 450, NAN, NAN, NAN])


@pytest.mark.parametrize(
    ("stood", "digits", "believed"), [(120, 1, True), (3, 1, False), (120, 0, False)], ids=["silent", "short", "whole"]
)
def test_what_zones_did_while_their_controller_was_silent_is_no_jump(stood: int, digits: int, believed: bool) -> None:
    """Twenty minutes at one value to the digit, all zones: one has lost its heat meanwhile. In whole degrees zones at
    rest do so by themselves, and what jumps then has jumped."""
    wave = np.round(0.3 * np.sin(np.arange(400) / (1.5 if digits else 60.0)), digits)
    rows = {
        KEYS[0]: [*(251.0 + wave), *[251.0] * stood, 178.0, 177.0],
        "zone_temperature:Z2": [*(230.0 + wave), *[230.0] * stood, 231.0, 230.6],
    }
    got = guarded(rows, cuts=(2, 150, 405))[KEYS[0]][-2:]

    np.testing.assert_array_equal(got, [178, 177] if believed else [NAN, NAN])


def test_what_has_been_away_for_two_hours_is_believed_again() -> None:
    """Somebody raised the zone's range or moved the couple: the steel cannot be off for so long unseen."""
    got = guarded({KEYS[0]: [200.0] * 3 + [230.0] * 800})[KEYS[0]]

    blank = np.isnan(got)
    assert blank[3:723].all() and not blank[:3].any() and not blank[723:].any()


def test_a_die_that_water_quenches_gathers_pace_and_a_couple_does_not() -> None:
    falls: list[float] = [265, 264, 261, 252, 241, 230, 221, 214]
    assert guarded({"zone_temperature:DIE": falls})["zone_temperature:DIE"] == falls
    breaks: list[float] = [265, 264, 261, 252, 240, 60, 45, 43]
    got = guarded({"zone_temperature:DIE": breaks})["zone_temperature:DIE"]
    np.testing.assert_array_equal(got, [265, 264, 261, 252, 240, NAN, NAN, NAN])


def test_a_slow_rise_is_no_jump() -> None:
    row = [20.0 + 2.2 * i for i in range(90)]

    assert guarded({KEYS[0]: row})[KEYS[0]] == row


def test_a_zone_that_heated_while_it_was_not_read_did_not_jump() -> None:
    """Ten minutes without this tag in a heat-up of 13 C/min: 130 C further is where the steel is."""
    row = [60.0, *[NAN] * 60, 190.0, 192.0]

    np.testing.assert_array_equal(guarded({KEYS[0]: row})[KEYS[0]], row)


@pytest.mark.parametrize("key", ["torque", "zone_setpoint:Z1", "zone_output:Z1", "melt_pressure:P1"])
def test_only_zone_and_melt_temperatures_are_guarded(key: str) -> None:
    assert guarded({key: [0.0, 500.0, 0.0]})[key] == [0.0, 500.0, 0.0]


def test_no_cells() -> None:
    index = {KEYS[0]: 0}
    empty = Readings(0, 10 * S, index, np.zeros((1, 0)), np.zeros((1, 0)))

    state, after = jump_guard.advance(jump_guard.start(1), empty)

    assert after.n == 0 and dump_state(state) == dump_state(jump_guard.start(1))


@pytest.mark.parametrize(("speed", "kept"), [([300, 0, 0, 0, 0, 100, 300, 300], True), ([300.0] * 8, False)])
def test_fresh_melt_may_reach_the_probe_after_a_stand(speed: list[float], kept: bool) -> None:
    """196 C stood in the head; 221 C comes within ten seconds. In running no melt does that."""
    melt = [221.0, 215.0, 209.0, 203.0, 196.0, 196.0, 221.0, 221.0]
    after = guarded({"melt_temperature:MT1": melt, "screw_speed": [float(x) for x in speed]})

    assert (after["melt_temperature:MT1"] == melt) == kept


def test_a_couple_that_breaks_after_a_start_is_taken_out_all_the_same() -> None:
    after = guarded({"melt_temperature:MT1": [196.0, 196.0, 400.0, 400.0], "screw_speed": [0.0, 100.0, 300.0, 300.0]})

    assert np.isnan(after["melt_temperature:MT1"][2:]).all()


def test_steel_does_not_jump_after_a_stand_either() -> None:
    after = guarded({"zone_temperature:Z1": [196.0, 196.0, 221.0, 221.0], "screw_speed": [0.0, 100.0, 300.0, 300.0]})

    assert np.isnan(after["zone_temperature:Z1"][2:]).all()
