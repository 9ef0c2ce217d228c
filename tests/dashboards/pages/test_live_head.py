"""Under the big word: what to check first, how long there is, and what comes next no louder than it deserves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboards.ahead import Coming
from dashboards.memory_data import MemoryData
from dashboards.pages import lines, live_head
from dashboards.said_forecast import TO_LIMIT
from dashboards.verdict import verdict_of
from dashboards.views import LineNow
from monitor.records import Evidence, Finding
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, HOUR
from tests.dashboards.test_upkeep_parts import record

FEEDER, P1 = "feeder_rate:F4", "melt_pressure:P1"
TOMORROW = Coming("torque", "leaves window", 17 * 3600.0, 88.0, 16 * 3600.0, 20 * 3600.0)


def head(data: MemoryData, now: LineNow, *coming: Coming) -> list[tuple[str, str]]:
    """The look and the words of each line of the head."""
    clock = data.clock("Line 3")
    parts = live_head.head_words(now, verdict_of(now, clock), coming, clock)
    said = [part for part in parts if getattr(part, "className", "") != "all-out"]
    return [(getattr(part, "className", ""), str(part.children)) for part in said]


def pressing(priority: int = 2, **said: object) -> Finding:
    told = {"priority": priority, "checks": ("pressure before and behind the screen", "the other"), **said}
    return Finding(END - HOUR, replace(record("screen_blinding", "pressure", P1), **told))


def test_what_to_check_first_of_the_most_pressing_finding_stands_under_the_word(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    first = head(data, now)[0]
    assert first[0] == "check-first" and "look into the talc hopper" in first[1] and "Check first: " in first[1]
    urgent = head(data, replace(now, findings=(*now.findings, pressing(1))))[0]
    assert "pressure before and behind the screen" in urgent[1] and "the other" not in urgent[1]


def test_a_check_of_another_part_than_the_word_is_about_says_of_what(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    ((_, told), *_rest) = head(data, replace(now, findings=(pressing(2, summary="the screen blinds"),)))
    assert verdict_of(now, data.clock("Line 3")).key == FEEDER
    assert "pressure before and behind the screen (the screen blinds)" in told


def test_a_finding_that_says_nothing_is_not_spoken_for_by_a_lesser_one(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    silent = replace(now, findings=(*now.findings, pressing(1, checks=())))
    assert [look for look, _ in head(data, silent)] == ["later"]


def test_the_time_a_finding_has_left_stands_beside_its_check(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    told = pressing(1, evidence=(Evidence(TO_LIMIT, 1.5, "h"),), decided_at=now.now)
    refill = Coming("feeder_weight:F1", "refill", 600.0, 40.0)
    lines_ = head(data, replace(now, findings=(told,)), refill)
    assert [text.split(":")[0] for _, text in lines_[1:]] == ["Time left", "Next"] and "1 h 30 min" in lines_[1][1]
    once = head(data, replace(now, findings=(told,)), TOMORROW)
    assert [text.split(":")[0] for _, text in once[1:]] == ["Time left"], "what comes first is it"


@pytest.mark.parametrize(
    ("coming", "later"),
    [
        (TOMORROW, True),
        (replace(TOMORROW, in_s=1200.0), False),
        (replace(TOMORROW, key="feeder_drive:F4"), False),
        (Coming("torque", "at limit", 0.0, 95.0), False),
    ],
)
def test_what_comes_tomorrow_is_not_bold_while_the_line_is_outside(
    data: MemoryData, coming: Coming, later: bool
) -> None:
    now = data.line_now("Line 3")
    assert (head(data, now, coming)[-1][0] == "later") is later
    calm = replace(now, readings={**now.readings, FEEDER: 102.0}, findings=())
    assert [look for look, _ in head(data, calm, coming)] == [""]


def test_nothing_is_told_of_a_line_whose_data_have_stopped(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    assert head(data, replace(now, stopped=True), TOMORROW) == head(data, replace(now, finished=True)) == []


def test_the_page_of_all_lines_tells_the_first_check_where_it_is_to_be_acted_on_now() -> None:
    held = twin()
    text = [
        str(lines.line_block(MemoryData([plant], clock=lambda: END), "Line 3", 1384))
        for plant in (held, replace(held, findings=[*held.findings, pressing(1)]))
    ]
    assert ["pressure before and behind the screen" in one for one in text] == [False, True]
