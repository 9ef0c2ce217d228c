"""What came again is shown once, with every time it came, and nothing gets lost."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dashboards.consequences import with_consequences
from dashboards.returns import with_returns
from monitor.records import Finding, Record
from tests.dashboards.plant import END, SECOND

MINUTE = 60 * SECOND


def finding(
    at_min: float,
    until_min: float | None,
    condition: str = "torque_high",
    channel: str = "torque",
    priority: int = 1,
    part_of: str = "",
) -> Finding:
    since = END + round(at_min * MINUTE)
    until = None if until_min is None else END + round(until_min * MINUTE)
    last = Record(
        decided_at=since, seq=1, finding=f"{condition}@{channel}@{at_min}",
        kind="opened" if until is None else "closed", line="Line 3", family="drive", condition=condition,
        channel=channel, since=since, until=until,
        priority=priority, confidence="high", summary=f"{condition} {at_min}", part_of=part_of,
    )  # fmt: skip
    return Finding(since, last, 0)


def shown(*found: Finding) -> list[tuple[str, list[str]]]:
    return [
        (one.finding.last.summary, [f.last.summary for f in one.times])
        for one in with_returns(with_consequences(list(found)))
    ]


def test_slugs_two_minutes_apart_are_one_told_by_the_newest() -> None:
    assert shown(finding(0, 1), finding(2, 3), finding(4, 5)) == [
        ("torque_high 4", ["torque_high 0", "torque_high 2", "torque_high 4"])
    ]


def test_among_equals_the_longest_stands_for_all_unless_one_is_open() -> None:
    """A bridge of an hour is not told by the planned stop after it."""
    assert shown(finding(0, 9), finding(10, 11))[0][0] == "torque_high 0"
    assert shown(finding(0, 9), finding(10, None))[0][0] == "torque_high 10"


def test_the_most_urgent_stands_for_all_and_one_of_the_next_shift_for_itself() -> None:
    assert shown(finding(0, 1), finding(2, 3, priority=2), finding(90, 91)) == [
        ("torque_high 0", ["torque_high 0", "torque_high 2"]),
        ("torque_high 90", ["torque_high 90"]),
    ]


def test_another_channel_and_another_condition_are_not_the_same() -> None:
    told = shown(finding(0, 1), finding(2, 3, channel="motor_current"), finding(4, 5, condition="flooded"))
    assert [times for _, times in told] == [["torque_high 0"], ["torque_high 2"], ["flooded 4"]]


def test_what_followed_from_any_of_them_follows_from_the_one() -> None:
    first, second = finding(0, 1, "flushing"), finding(5, 6, "flushing")
    parts = [finding(n, n + 1, "flooded", priority=2, part_of=f.last.finding) for n, f in ((0, first), (5, second))]
    (one,) = with_returns(with_consequences([first, second, *parts]))
    assert {p.last.summary for p in one.parts} == {"flooded 0", "flooded 5"}


@given(
    st.lists(
        st.tuples(
            st.integers(0, 600), st.integers(1, 30), st.sampled_from("ab"), st.sampled_from(["torque", "speed"]),
            st.integers(1, 4),
        ),
        max_size=30, unique_by=lambda item: (item[0], item[2], item[3]),
    )
)  # fmt: skip
def test_every_finding_is_shown_exactly_once(drawn: list[tuple[int, int, str, str, int]]) -> None:
    found = [finding(at, at + long, name, channel, priority) for at, long, name, channel, priority in drawn]
    told = with_returns((f, ()) for f in found)

    assert sorted(f.last.finding for one in told for f in one.times) == sorted(f.last.finding for f in found)
    assert all(one.finding.last.priority == min(f.last.priority for f in one.times) for one in told)
