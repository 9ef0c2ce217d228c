"""Which kilograms an upset touched."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.touched import (
    UNCONTROLLED,
    Delay,
    Fed,
    containers,
    is_product,
    judged,
    merged,
    outside_containers_kg,
    touched_by,
    touched_span,
)
from ingest.block import Note
from monitor.conditions.registry import CONDITIONS
from monitor.records import Finding, Record

SECOND = 1_000_000_000
HOUR = 3600 * SECOND
DELAY = Delay(40.0, 1.2, 900.0, 500.0, True)


def finding(
    name: str, since: int, until: int | None, priority: int = 2, family: str = "feeder", condition: str = "c"
) -> Finding:
    record = Record(
        since,
        1,
        name,
        "opened" if until is None else "closed",
        "L",
        family,  # type: ignore[arg-type]
        condition,
        "torque",
        since,
        until,
        priority,
        "high",
        name,
    )
    return Finding(since, record)


def fed(hours: int = 4, rate: float = 360.0) -> Fed:
    t = np.arange(hours * 360, dtype=np.int64) * 10 * SECOND
    return Fed(t, np.full(t.size, rate))


def test_downstream_volume_takes_its_time() -> None:
    """Half a litre at 100 kg/h is 13.5 s (750 kg/m3)."""
    assert Delay(60, 0.5, 750, 100, True).downstream_s == pytest.approx(13.5)
    assert Delay(60, 0.5, 750, 0, True).downstream_s == 0


def test_span_is_first_at_0p4_and_last_at_4_residence_times_plus_volume() -> None:
    start, end = touched_span(0, 100 * SECOND, DELAY)
    assert start == 16 * SECOND
    assert end / SECOND == pytest.approx(100 + 160 + 1.2e-3 * 900 / 500 * 3600)


def test_kilograms_are_the_rate_times_the_time() -> None:
    assert fed().between(HOUR, 2 * HOUR) == pytest.approx(360)
    assert fed().between(HOUR, HOUR + 50 * SECOND) == pytest.approx(5)
    assert fed().between(HOUR, HOUR) == 0


def test_missing_rates_feed_nothing() -> None:
    t = np.arange(360, dtype=np.int64) * 10 * SECOND
    rate = np.full(360, 360.0)
    rate[100:200] = np.nan
    assert Fed(t, rate).between(0, HOUR) == pytest.approx(260)


def test_what_is_not_product_does_not_count() -> None:
    found = [
        finding("a", HOUR, HOUR + 60 * SECOND),
        finding("b", HOUR, None, family="sensor"),
        finding("c", HOUR, None, priority=4),
    ]
    assert [item.finding for item in touched_by(found, DELAY, fed(), 0, 4 * HOUR)] == ["a"]


def test_open_finding_reaches_to_the_end() -> None:
    (item,) = touched_by([finding("a", HOUR, None)], DELAY, fed(), 0, 4 * HOUR)
    assert item.end == 4 * HOUR


@given(st.lists(st.tuples(st.integers(0, 1000), st.integers(1, 300)), max_size=20))
def test_merged_spans_count_every_second_once(raw: list[tuple[int, int]]) -> None:
    spans = [(a, a + length) for a, length in raw]
    joined = merged(spans)
    assert sum(b - a for a, b in joined) == len({s for a, b in spans for s in range(a, b)})
    assert all(joined[i][1] < joined[i + 1][0] for i in range(len(joined) - 1))


def test_containers_are_held_checked_or_clear_and_their_sums_add_up() -> None:
    found = [
        finding("a", 2 * HOUR, 2 * HOUR + 600 * SECOND),
        finding("b", 3 * HOUR, 3 * HOUR + 60 * SECOND, priority=3),
    ]
    touched = touched_by(found, DELAY, fed(), 0, 4 * HOUR)
    notes = [Note((i + 1) * HOUR, "container packed", f"K{i + 1}") for i in range(4)]
    packed = containers(notes, touched, found, fed(), 0, 4 * HOUR)
    assert [c.verdict for c in packed] == ["clear", "clear", "hold", "check"]
    assert sum(c.kg for c in packed) == pytest.approx(4 * 360)
    spans = merged([(t.start, t.end) for t in touched])
    assert sum(c.kg_touched for c in packed) == pytest.approx(sum(fed().between(a, b) for a, b in spans))


def filled(*notes: tuple[int, str, str]) -> list[tuple[str, int, int, str, bool]]:
    """Number, begin and end in half hours, verdict, and whether after the last known; 02:00 to 02:10 touched."""
    found = [finding("a", 2 * HOUR, 2 * HOUR + 600 * SECOND)]
    touched = touched_by(found, DELAY, fed(), 0, 4 * HOUR)
    half = HOUR // 2
    said = [Note(at * half, f"container {kind}", number) for at, kind, number in notes]
    packed = containers(said, touched, found, fed(), 0, 4 * HOUR)
    return [(c.number, c.start // half, c.end // half, c.verdict, c.after) for c in packed]


def test_containers_by_when_they_were_full() -> None:
    assert filled((3, "packed", "K1"), (4, "packed", "K2"), (6, "packed", "K3")) == [
        ("K1", 0, 3, "clear", False), ("K2", 3, 4, "clear", False), ("K3", 4, 6, "hold", False),
        ("K3", 6, 8, "clear", True),
    ]  # fmt: skip


def test_containers_by_when_they_were_begun() -> None:
    """The same times say other containers; what came before the first is in none, the last is open."""
    assert filled((3, "begun", "K1"), (4, "begun", "K2"), (6, "begun", "K3")) == [
        ("K1", 3, 4, "clear", False), ("K2", 4, 6, "hold", False), ("K3", 6, 8, "clear", False),
    ]  # fmt: skip


def test_containers_by_both_and_numbers_that_come_again() -> None:
    said = [(1, "begun", "1"), (2, "packed", "1"), (2, "begun", "2"), (4, "packed", "2"), (4, "begun", "1")]
    assert filled(*said) == [
        ("1", 1, 2, "clear", False), ("2", 2, 4, "clear", False), ("1", 4, 8, "hold", False),
    ]  # fmt: skip
    assert filled(*said, (5, "packed", "1"))[-2:] == [("1", 4, 5, "hold", False), ("1", 5, 8, "clear", True)]


def test_a_container_at_a_stretchs_edge_is_named_itself() -> None:
    """Looked at from 01:30 to 02:30: K2 was begun before it and K3 is full after it."""
    found = [finding("a", 2 * HOUR, 2 * HOUR + 600 * SECOND)]
    touched = touched_by(found, DELAY, fed(), 0, 4 * HOUR)
    half = HOUR // 2
    notes = [Note(at * half, "container packed", name) for at, name in ((2, "K1"), (4, "K2"), (6, "K3"))]

    packed = containers(notes, touched, found, fed(), 3 * half, 5 * half)

    assert [(c.number, c.start // half, c.end // half, c.verdict, c.after) for c in packed] == [
        ("K2", 2, 4, "clear", False), ("K3", 4, 6, "hold", False),
    ]  # fmt: skip
    assert packed[1].kg == pytest.approx(360) and outside_containers_kg(touched, packed, fed()) == pytest.approx(0)


@pytest.mark.parametrize("condition", UNCONTROLLED)
def test_a_zone_without_control_touches_product_though_its_sensor_is_what_failed(condition: str) -> None:
    blind = finding("a", HOUR, 2 * HOUR, 1, "sensor", condition)

    assert condition in {one.name for one in CONDITIONS}
    assert is_product(blind) and not is_product(finding("a", HOUR, 2 * HOUR, 4, "sensor", condition))
    assert sum(item.kg for item in touched_by([blind], DELAY, fed(), 0, 4 * HOUR)) > 360


@pytest.mark.parametrize("condition", ["pressure_sensor_frozen", "pressure_zero_drift"])
def test_a_sensor_that_only_shows_touches_none(condition: str) -> None:
    assert condition in {one.name for one in CONDITIONS}
    assert not is_product(finding("a", HOUR, 2 * HOUR, 2, "sensor", condition))


def test_what_is_touched_in_no_container_is_counted() -> None:
    """One container from 01:00 to 02:00 at 360 kg/h; product touched from about 00:30 to about 01:30."""
    notes = [Note(HOUR, "container begun", "C1"), Note(2 * HOUR, "container packed", "C1")]
    told = [finding("a", HOUR // 2, 3 * HOUR // 2)]
    touched = touched_by(told, DELAY, fed(), 0, 2 * HOUR)

    packed = containers(notes, touched, told, fed(), 0, 2 * HOUR)

    inside = sum(item.kg_touched for item in packed)
    assert outside_containers_kg(touched, packed, fed()) == pytest.approx(sum(i.kg for i in touched) - inside)
    assert outside_containers_kg(touched, packed, fed()) == pytest.approx(180, abs=3)


def unknown(hours: int = 4) -> Fed:
    t = np.arange(hours * 360, dtype=np.int64) * 10 * SECOND
    return Fed(t, np.full(t.size, np.nan))


def test_what_nobody_read_is_not_nothing() -> None:
    """A rate is read in the first hour only."""
    rate = np.r_[np.full(360, 360.0), np.full(360, np.nan)]
    part = Fed(np.arange(720, dtype=np.int64) * 10 * SECOND, rate)

    assert part.between(0, HOUR) == pytest.approx(360) and math.isnan(part.between(HOUR, 2 * HOUR))
    assert part.between(HOUR // 2, 2 * HOUR) == pytest.approx(180) and part.between(2 * HOUR, HOUR) == 0
    assert part.over([(0, HOUR // 2), (HOUR, 2 * HOUR)]) == pytest.approx(180)
    assert math.isnan(part.over([(HOUR, 2 * HOUR)])) and part.over([]) == 0
    assert math.isnan(unknown().between(0, 4 * HOUR))


def test_containers_are_held_by_time_where_kilograms_are_not_known() -> None:
    """K1 is full at 01:00, K2 at 02:00; touched from 01:30 to about 02:12, past the last one that is known."""
    found = [finding("a", 3 * HOUR // 2, 2 * HOUR + 600 * SECOND)]
    notes = [Note((i + 1) * HOUR, "container packed", f"K{i + 1}") for i in range(2)]

    def verdicts(amount: Fed) -> list[tuple[str, str, bool]]:
        touched = touched_by(found, DELAY, amount, 0, 4 * HOUR)
        return [(c.number, c.verdict, c.after) for c in containers(notes, touched, found, amount, 0, 4 * HOUR)]

    assert verdicts(unknown()) == [("K1", "clear", False), ("K2", "hold", False), ("K2", "hold", True)]
    assert verdicts(unknown()) == verdicts(fed())
    touched = touched_by(found, DELAY, unknown(), 0, 4 * HOUR)
    clear, *held = containers(notes, touched, found, unknown(), 0, 4 * HOUR)
    assert clear.kg_touched == 0 and all(math.isnan(kg) for c in held for kg in (c.kg, c.kg_touched))
    assert math.isnan(clear.kg) and math.isnan(touched[0].kg)


def test_a_line_that_stood_after_its_last_container_packed_no_more() -> None:
    t = np.arange(4 * 360, dtype=np.int64) * 10 * SECOND
    stood = Fed(t, np.where(t < 2 * HOUR, 360.0, 0.0))
    packed = containers([Note(2 * HOUR, "container packed", "K1")], [], [], stood, 0, 4 * HOUR)
    assert [(c.number, c.after) for c in packed] == [("K1", False)]


def test_touched_product_in_no_container_is_told_without_kilograms_too() -> None:
    notes = [Note(HOUR, "container begun", "C1"), Note(2 * HOUR, "container packed", "C1")]
    early, inside = finding("a", HOUR // 2, 3 * HOUR // 2), finding("b", HOUR, 3 * HOUR // 2)
    for told, known in ((early, False), (inside, True)):
        touched = touched_by([told], DELAY, unknown(), 0, 2 * HOUR)
        packed = containers(notes, touched, [told], unknown(), 0, 2 * HOUR)
        assert (outside_containers_kg(touched, packed, unknown()) == 0) is known
        assert math.isnan(outside_containers_kg(touched, packed, unknown())) is not known


def test_containers_as_one_finding_alone_would_have_them() -> None:
    found = [finding("a", HOUR, 2 * HOUR), finding("b", 3 * HOUR, 3 * HOUR + 60 * SECOND, priority=3)]
    notes = [Note((i + 1) * HOUR, "container packed", f"K{i + 1}") for i in range(4)]
    packed = containers(notes, touched_by(found, DELAY, fed(), 0, 4 * HOUR), found, fed(), 0, 4 * HOUR)

    alone = judged(packed, touched_by(found[1:], DELAY, fed(), 0, 4 * HOUR), found[1:], fed())

    assert [c.verdict for c in packed] == ["clear", "hold", "hold", "check"]
    assert [c.verdict for c in alone] == ["clear", "clear", "clear", "check"]
    assert alone[3] == packed[3] and alone[1].kg_touched == 0


def test_kilograms_of_which_a_part_was_not_read_are_told_apart() -> None:
    t = np.arange(0, 2 * HOUR, 10 * SECOND)
    rate = np.full(len(t), 120.0)
    rate[180:360] = np.nan
    amount = Fed(t, rate)
    assert amount.whole(0, HOUR // 2) and not amount.whole(0, HOUR) and not amount.whole(-HOUR, HOUR // 2)
    assert not Fed(t, np.full(len(t), 120.0), part=True).whole(0, HOUR)
