"""The data door: bounded, fresh, and honest about what is missing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dashboards.account_words import account_rows
from dashboards.cells import means, trailing_mean
from dashboards.charts import limit_of
from dashboards.composition import delivered
from dashboards.memory_data import MemoryData, MemoryLine
from dashboards.outlook import delay_of, outlook
from dashboards.upkeep_items import upkeep_items
from dashboards.upkeep_state import state_words
from dashboards.verdict import verdict_of
from dashboards.watched import watched
from dashboards.windows import NO_READING, NOT_JUDGED
from tests.dashboards.lines import twin

SECOND = 1_000_000_000
HOUR = 3600 * SECOND


def test_means_on_the_grid_equal_plain_means(data: MemoryData, end_ns: int) -> None:
    cells = means(data.source, "Line 3", end_ns - HOUR, end_ns, ("torque",), 60 * SECOND)
    block = data.source.blocks("Line 3", end_ns - HOUR, end_ns, ("torque",))
    plain = block.values[0].reshape(60, 60)
    assert np.allclose(cells.mean[0], plain.mean(axis=1))
    assert np.array_equal(cells.high[0], plain.max(axis=1))
    assert np.array_equal(cells.low[0], plain.min(axis=1))


def test_trailing_mean_leaves_gaps_alone() -> None:
    y = np.array([1.0, 3.0, np.nan, 5.0, 7.0])
    found = trailing_mean(y, 2)
    assert np.isnan(found[2])
    assert found[[0, 1, 3, 4]].tolist() == [1.0, 2.0, 5.0, 6.0]


def test_stopped_line_shows_no_reading_as_live(data: MemoryData) -> None:
    now = data.line_now("Line 5")
    assert now.stopped and now.readings == {}
    assert not data.line_now("Line 3").stopped


def test_data_stop_after_five_seconds(data: MemoryData, end_ns: int) -> None:
    later = MemoryData.__new__(MemoryData)
    later.__dict__.update(data.__dict__)
    for seconds, stopped in ((4.9, False), (6.1, True)):
        later.now_ns = lambda s=seconds: end_ns - SECOND + int(s * SECOND)
        assert later.line_now("Line 3").stopped is stopped


def test_live_rate_is_a_minute_mean_and_the_rest_ten_seconds(data: MemoryData, end_ns: int) -> None:
    block = data.source.blocks("Line 3", end_ns - 60 * SECOND, end_ns, ("feeder_rate:F1", "zone_temperature:Z1"))
    readings = data.line_now("Line 3").readings
    assert np.isclose(readings["feeder_rate:F1"], block.values[0].mean())
    assert np.isclose(readings["zone_temperature:Z1"], block.values[1, -10:].mean())


def test_map_shows_the_short_feeder_the_gap_and_what_is_not_judged(data: MemoryData, end_ns: int) -> None:
    run = data.run("Line 3", end_ns - 3 * HOUR, end_ns, 360)
    grid = run.grid
    row = grid.code[grid.keys.index("feeder_rate:F4")]
    at = grid.t0 + grid.step * np.arange(len(row))
    assert (row[at >= end_ns - 22 * 60 * SECOND] == -2).all()
    assert (row[(at > end_ns - 100 * 60 * SECOND) & (at < end_ns - 26 * 60 * SECOND)] == 0).all()
    gap = (at > end_ns - 3 * HOUR + 3010 * SECOND) & (at < end_ns - 3 * HOUR + 3140 * SECOND)
    assert gap.any() and (grid.code[:, gap] == NO_READING).all()
    assert (grid.code[:, at < end_ns - 3 * HOUR + 560 * SECOND] == NOT_JUDGED).all()
    assert grid.code.shape[1] <= 361


def test_long_stretch_is_answered_from_coarse_cells(data: MemoryData, end_ns: int) -> None:
    trace = data.trace("Line 3", "torque", end_ns - 90 * 24 * HOUR, end_ns, 2000)
    assert len(trace.t) <= 2000
    block = data.source.blocks("Line 3", end_ns - 3 * HOUR, end_ns, ("torque",))
    assert np.nanmax(trace.y) == np.nanmax(block.values) and np.nanmin(trace.y) == np.nanmin(block.values)


def test_lots_follow_the_notes(data: MemoryData, end_ns: int) -> None:
    lots = data.lots("Line 3")
    assert [(lot.number, lot.running) for lot in lots] == [("4416", False), ("4417", True)]
    assert lots[0].end == lots[1].start and lots[1].end == end_ns
    assert lots[1].product == "grey talc compound"
    assert [lot.number for lot in data.lots("Line 5")] == [""]


def test_no_lot_of_a_finished_log_is_running(end_ns: int) -> None:
    held = MemoryLine(**{**vars(twin()), "source": "finished log"})
    assert not any(lot.running for lot in MemoryData([held], clock=lambda: end_ns).lots("Line 3"))


def test_lot_ends_with_its_last_reading_not_where_the_next_begins(end_ns: int) -> None:
    held = twin()
    second = next(note.at_ns for note in held.block.notes if note.text == "4417")
    quiet = second - 1200 * SECOND
    runs = [(start, min(end, quiet), name) for start, end, name in held.phases if start < quiet]
    held.phases = [*runs, (second, end_ns, "steady")]
    lots = MemoryData([held], clock=lambda: end_ns).lots("Line 3")
    assert lots[0].end == quiet and (lots[1].start, lots[1].end) == (second, end_ns)


def test_composition_weighs_by_kilograms(data: MemoryData, end_ns: int) -> None:
    found = {item.feeder: item for item in delivered(data, "Line 3", end_ns - 2 * HOUR, end_ns)}
    total = sum(item.kg for item in found.values())
    assert np.isclose(sum(item.share for item in found.values()), 100)
    assert all(np.isclose(item.share, 100 * item.kg / total) for item in found.values())
    _, fed = delay_of(data, "Line 3", end_ns - 2 * HOUR, end_ns)
    assert np.isclose(total, fed.between(end_ns - 2 * HOUR, end_ns), rtol=0.002)
    talc = found["F4"]
    assert talc.difference is not None and -1.2 < talc.difference < -0.3
    assert talc.lowest is not None and abs(talc.lowest[0] - 17.1) < 0.3


def test_a_sensor_at_fault_watches_nothing(data: MemoryData, end_ns: int) -> None:
    run = data.run("Line 3", end_ns - 3 * HOUR, end_ns, 1000)
    one, key = run.findings[0], "zone_temperature:Z3"
    record = replace(
        one.last, finding="tc", family="sensor", condition="thermocouple_open", channel=key, priority=1,
        since=end_ns - HOUR, until=end_ns - HOUR // 2, kind="closed", part_of="",
    )  # fmt: skip
    doubted = watched(data, replace(run, findings=(replace(one, last=record),)))
    plain = watched(data, replace(run, findings=()))
    (blind,) = (b for b in doubted.blind if b.why == "sensor")
    assert key in run.grid.keys and blind.key == key and abs(blind.seconds - 1800) <= 60
    assert doubted.any_s > plain.any_s + 1500 and not any(b.why == "sensor" for b in plain.blind)
    note = replace(one, last=replace(record, priority=4))
    assert watched(data, replace(run, findings=(note,))) == plain


def test_gap_counts_as_not_watched(data: MemoryData, end_ns: int) -> None:
    watch = watched(data, data.run("Line 3", end_ns - 3 * HOUR, end_ns, 1000))
    assert 150 <= watch.any_s <= 200
    assert watch.total_s == 3 * 3600 and abs(watch.judged_s - (3 * 3600 - 600)) < 30


def test_outlook_is_ordered_and_silent_without_data(data: MemoryData) -> None:
    coming, rooms = outlook(data, data.line_now("Line 3"))
    assert [item.in_s for item in coming] == sorted(item.in_s for item in coming)
    assert any(item.key == "melt_pressure:P1" for item in coming)
    assert rooms and rooms[0].factor == min(room.factor for room in rooms)
    assert outlook(data, data.line_now("Line 5")) == ([], [])


def test_upkeep_puts_open_findings_first(data: MemoryData) -> None:
    items = upkeep_items(data, "Line 3")
    assert items[0].name == "Line 3/feeder:F4" and items[0].findings
    assert {item.kind for item in items} == {"zone", "feeder", "screen", "vent", "drive"}
    assert [i.order() for i in items] == sorted(i.order() for i in items)


def test_a_feeder_that_failed_and_came_back_still_calls(end_ns: int) -> None:
    held = twin()
    short = next(f for f in held.findings if f.last.channel == "feeder_rate:F4" and not f.last.part_of)
    ended = replace(short, last=replace(short.last, kind="closed", until=end_ns - 600 * SECOND, family="feeder"))
    held.findings = [ended]
    data = MemoryData([held], clock=lambda: end_ns)
    item = next(i for i in upkeep_items(data, "Line 3") if i.name == "Line 3/feeder:F4")
    assert not item.standing and item.gone == (ended,) and item.calls
    assert state_words(item, data.clock("Line 3")) == (
        "So now: near its limit or far from its usual. Once before within a day it began and ended."
    )
    held.findings = [replace(ended, last=replace(ended.last, part_of="another"))]
    item = next(i for i in upkeep_items(data, "Line 3") if i.name == "Line 3/feeder:F4")
    assert item.gone == ()


def test_actions_are_written_through_the_door(data: MemoryData) -> None:
    finding = data.findings("Line 3")[0].last.finding
    data.act("Line 3", finding, "note", "Ana", "condensate pot emptied")
    assert [(a.kind, a.who) for a in data.actions("Line 3", finding)] == [("note", "Ana")]


def test_account_is_told_without_folders_and_without_nothings() -> None:
    account = {
        "rows_read": 1200,
        "rows_accepted": 1190,
        "set_aside_by_reason": {"time not understood": 10},
        "duplicates": 0,
        "gap_count": 2,
        "gap_s": 90.0,
        "conversions": {"z1": "degF to C"},
        "silent_tags": [],
        "files": [{"path": "/plant/logs/log.csv"}],
        "assumptions": ["/plant/logs/log.csv: decimal commas"],
    }
    rows = dict(account_rows(account))
    assert rows["rows read"] == "1,200" and rows["set aside: time not understood"] == "10"
    assert rows["gaps without rows"] == "2, 2 min in all"
    assert rows["assumed"] == "log.csv: decimal commas"
    assert "rows that repeat an earlier time" not in rows
    assert account_rows({"rows": 3}) == [("rows", "3")]
    assert account_rows({}) == []


def test_a_finished_log_is_not_live_however_new_its_end_is(end_ns: int) -> None:
    """Exported a second ago, or by a clock that is ahead."""
    held = MemoryLine(**{**vars(twin()), "source": "finished log"})
    for now_ns in (end_ns + SECOND, end_ns - HOUR):
        now = MemoryData([held], clock=lambda at=now_ns: at).line_now("Line 3")
        assert now.finished and now.stopped


def test_finished_log_stands_at_its_end_and_says_so(data: MemoryData, end_ns: int) -> None:
    held = MemoryLine(**{**vars(twin()), "source": "finished log"})
    late = MemoryData([held], clock=lambda: end_ns + 400 * 24 * HOUR)
    now = late.line_now("Line 3")
    assert now.finished and now.stopped and now.readings
    verdict = verdict_of(now, late.clock("Line 3"))
    assert verdict.word == "log" and "not live" in verdict.reason


def test_what_stands_at_its_limit_is_said_to_be_there_and_not_to_come(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    limit = limit_of(now.line, "melt_pressure:P1")
    assert limit is not None
    coming, _ = outlook(data, replace(now, readings={**now.readings, "melt_pressure:P1": limit}))
    assert [item.kind for item in coming if item.key == "melt_pressure:P1"] == ["at limit"]
