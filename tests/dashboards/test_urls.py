"""The URL is the state."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dashboards.urls import (
    instant_text,
    live_url,
    lot_url,
    parameters,
    parse_instant,
    path_parts,
    stretch,
    with_parameters,
)

SECOND = 1_000_000_000


@given(st.text(min_size=1, max_size=20), st.text(min_size=1, max_size=20))
def test_any_name_survives_its_address(line: str, lot: str) -> None:
    try:
        (line + lot).encode()
    except UnicodeEncodeError:
        return
    assert path_parts(live_url(line)) == ["live", line]
    assert path_parts(lot_url(line, lot)) == ["lots", line, lot]


def test_state_is_changed_and_taken_out() -> None:
    search = with_parameters("?channel=torque&from=x", channel="feeder_rate:F 1", from_="")
    assert parameters(search) == {"channel": "feeder_rate:F 1"}


@given(st.integers(0, 4_000_000_000))
def test_instants_survive(seconds: int) -> None:
    assert parse_instant(instant_text(seconds * SECOND)) == seconds * SECOND


def test_stretch_is_held_inside_the_lot() -> None:
    t0, t1 = 1000 * SECOND, 9000 * SECOND
    assert stretch({}, t0, t1) == (t0, t1)
    assert stretch({"from": instant_text(0), "to": instant_text(2000 * SECOND)}, t0, t1) == (
        t0,
        2000 * SECOND,
    )
    assert stretch({"from": "rubbish", "to": "2000-13-45"}, t0, t1) == (t0, t1)
    assert stretch({"from": instant_text(5000 * SECOND), "to": instant_text(4000 * SECOND)}, t0, t1) == (
        t0,
        t1,
    )
