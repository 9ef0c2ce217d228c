"""The one word about a line."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dashboards.memory_data import MemoryData
from dashboards.verdict import Verdict, die_words, outside_since, to_check, verdict_of
from dashboards.views import LineNow

HOUR = 3600 * 1_000_000_000


def test_outside_says_what_how_far_and_since_when(data: MemoryData, end_ns: int) -> None:
    now, clock = data.line_now("Line 3"), data.clock("Line 3")
    run = data.run("Line 3", end_ns - 3 * HOUR, end_ns)
    verdict = verdict_of(now, clock, run)
    assert (verdict.word, verdict.look, verdict.key) == ("outside", "under", "feeder_rate:F4")
    assert "talc T4 rate is under its window" in verdict.reason and "since 07:05" in verdict.reason
    assert die_words(now, verdict, clock, run).startswith("What leaves the die is touched since 07:")


def test_inside_is_quiet(data: MemoryData, end_ns: int) -> None:
    now = data.line_now("Line 3")
    now = replace(now, readings={**now.readings, "feeder_rate:F4": 102.0}, findings=())
    verdict = verdict_of(now, data.clock("Line 3"))
    assert (verdict.word, verdict.look) == ("inside", "calm")


def test_a_pressing_finding_is_never_all_well(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    now = replace(now, readings={**now.readings, "feeder_rate:F4": 102.0})
    verdict = verdict_of(now, data.clock("Line 3"))
    assert verdict.word == "look" and "Still open since 07:05: " in verdict.reason


def test_other_phases_are_not_judged(data: MemoryData) -> None:
    now = replace(data.line_now("Line 3"), phase="heating", findings=())
    assert verdict_of(now, data.clock("Line 3")).word == "not judged"


def test_stopped_data_beat_everything(data: MemoryData) -> None:
    verdict = verdict_of(data.line_now("Line 5"), data.clock("Line 5"))
    assert verdict.word == "no data" and "1 h 50 min" in verdict.reason
    now = replace(data.line_now("Line 3"), stopped=True)
    assert verdict_of(now, data.clock("Line 3")).word == "no data"


def test_since_is_the_present_stay_outside(data: MemoryData, end_ns: int) -> None:
    run = data.run("Line 3", end_ns - 3 * HOUR, end_ns)
    since = outside_since(run.grid, "feeder_rate:F4")
    assert since is not None and abs(end_ns - 24 * 60 * 10**9 - since) <= 2 * run.grid.step
    assert outside_since(run.grid, "screw_speed") is None


def test_since_is_of_the_side_the_reading_is_on_now(data: MemoryData, end_ns: int) -> None:
    """A zone that was under its window and went through it to over: over is since it went over."""
    now, clock = data.line_now("Line 3"), data.clock("Line 3")
    run = data.run("Line 3", end_ns - 3 * HOUR, end_ns)
    row, code = run.grid.keys.index("zone_temperature:die"), run.grid.code.copy()
    code[row, -100:-20], code[row, -20:] = -2, 1
    grid = replace(run.grid, code=code)
    over = replace(now, readings={**now.readings, "feeder_rate:F4": 102.0, "zone_temperature:die": 222.0})
    verdict = verdict_of(over, clock, replace(run, grid=grid))
    went_over = grid.t0 + grid.step * (code.shape[1] - 20)
    assert verdict.look == "over" and f"since {clock.minute(went_over)}, " in verdict.reason
    # The product has been touched since it first left, on whichever side.
    assert outside_since(grid, "zone_temperature:die") == grid.t0 + grid.step * (code.shape[1] - 100)
    assert outside_since(grid, "zone_temperature:die", -1) is None


def test_priority_one_goes_before_windows_causes_and_phases(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    short = next(f for f in now.findings if f.last.channel == "feeder_rate:F4")
    first = replace(
        short.last, finding="p1", priority=1, part_of=short.last.finding, since=short.last.since + HOUR // 60,
        channel="melt_pressure:P1", summary="pressure runs to its limit", checks=("stand clear of the die",),
    )  # fmt: skip
    now = replace(now, findings=(*now.findings, replace(short, last=first)))
    for phase in ("steady", "heating"):
        verdict = verdict_of(replace(now, phase=phase), data.clock("Line 3"))
        assert (verdict.word, verdict.look, verdict.key) == ("act", "other", "melt_pressure:P1")
        assert "pressure runs to its limit (said at 07:06)" in verdict.reason
        finding = to_check(replace(now, phase=phase))
        assert finding is not None and finding.last.checks == ("stand clear of the die",)
    both = replace(now, readings={**now.readings, "melt_pressure:P1": 110.0})
    assert verdict_of(both, data.clock("Line 3")).reason.endswith("Outside its window as well: talc T4 rate.")
    assert verdict_of(replace(now, stopped=True), data.clock("Line 3")).word == "no data"


def test_a_zone_without_control_touches_what_leaves_the_die_though_every_reading_is_inside(
    data: MemoryData, end_ns: int
) -> None:
    now, clock = data.line_now("Line 3"), data.clock("Line 3")
    run = data.run("Line 3", end_ns - 3 * HOUR, end_ns)
    one = run.findings[0]
    begun = end_ns - HOUR
    record = replace(
        one.last, finding="tc", family="sensor", condition="thermocouple_open", channel="zone_temperature:Z3",
        priority=1, since=begun, until=None, kind="opened", part_of="",
    )  # fmt: skip
    blind = replace(one, last=record)
    quiet = replace(now, readings={**now.readings, "feeder_rate:F4": 102.0}, findings=(blind,))
    act = verdict_of(quiet, clock)
    told = die_words(quiet, act, clock, replace(run, findings=(blind,)))
    assert act.word == "act" and told.startswith("What leaves the die is touched since 06:")

    ended = replace(blind, last=replace(record, until=end_ns, kind="closed"))
    calm = replace(quiet, findings=())
    grid = replace(run.grid, code=np.zeros_like(run.grid.code))
    inside = verdict_of(calm, clock)
    assert inside.word == "inside"
    assert die_words(calm, inside, clock, replace(run, grid=grid, findings=())) == ""
    soon = die_words(calm, inside, clock, replace(run, grid=grid, findings=(ended,)))
    assert soon.startswith("What leaves the die is touched still; untouched from about")


def test_inside_its_windows_and_touched_names_the_finding(data: MemoryData, end_ns: int) -> None:
    now, clock = data.line_now("Line 3"), data.clock("Line 3")
    run = data.run("Line 3", end_ns - 3 * HOUR, end_ns)
    inside = Verdict("inside", "calm", "")
    assert die_words(now, inside, clock, run).endswith(", by a finding still open: " + talc_words(now) + ".")
    assert "by a finding" not in die_words(now, replace(inside, word="look"), clock, run)


def talc_words(now: LineNow) -> str:
    return next(f.last.summary for f in now.findings if f.last.channel == "feeder_rate:F4")


def test_a_line_that_stands_is_stopped_and_its_finding_is_told_beside_the_word(data: MemoryData) -> None:
    """Only what is to be acted on now goes before it."""
    now, clock = replace(data.line_now("Line 3"), phase="stopped"), data.clock("Line 3")
    verdict = verdict_of(now, clock)
    assert (verdict.word, verdict.look) == ("stopped", "other")
    assert verdict.reason.startswith("The line stands since ") and "Open: talc T4 delivers" in verdict.reason
    calm = verdict_of(replace(now, findings=()), clock)
    assert (calm.word, calm.look) == ("stopped", "calm")
    # What is found of its standing goes before what was so while it ran, and says what to check.
    ran = replace(now.findings[0], last=replace(now.findings[0].last, since=now.phase_since - HOUR, priority=2))
    hot = replace(ran, last=replace(ran.last, finding="hot", since=now.phase_since + 1, summary="melt stands hot"))
    both = replace(now, findings=(ran, hot))
    assert "Open: melt stands hot" in verdict_of(both, clock).reason and to_check(both) is hot
    assert to_check(replace(now, findings=(ran,))) is None
    assert to_check(replace(now, phase="steady", findings=(ran,))) is ran
    urgent = replace(now.findings[0], last=replace(now.findings[0].last, priority=1))
    assert verdict_of(replace(now, findings=(urgent,)), clock).word == "act"
    assert verdict_of(replace(now, phase="heating"), clock).word == "look"
