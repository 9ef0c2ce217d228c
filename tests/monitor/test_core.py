"""The one path: gaps, what does not fit, and each cell's answers given once."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from ingest.block import BAD, FRESH, GOOD, NONE, UNCERTAIN, Note
from monitor.checkpoint import CheckpointError, dump_state
from monitor.conditions.recipe_window import RecipeWindow
from monitor.conditions.thermocouple_open import ThermocoupleOpen
from monitor.core import Monitor
from monitor.phases import PHASES
from monitor.settings_file import SettingsError
from tests.monitor.core_cases import LINE, R1, WINDOW, block_of, empty, judge, recipe, steady
from tests.monitor.scripted_world import NS, T0, eventful_twin

# -- gaps


@pytest.mark.parametrize("gap_s", [1, 3, 10, 119, 121, 300])
def test_a_short_gap_is_the_same_as_cells_without_readings(gap_s: int) -> None:
    script = steady(2400)
    script.put("torque", 900, 2400, 90)
    before, after = block_of(script, 0, 1205), block_of(script, 1205 + gap_s, 2400)
    monitor = Monitor(LINE, [R1])

    gapped = judge(monitor, [before, after])
    filled = judge(monitor, [before, empty(before, before.end, gap_s), after])

    assert [record.as_json() for record in gapped[0]] == [record.as_json() for record in filled[0]]
    assert dump_state(gapped[1]) == dump_state(filled[1])
    assert gapped[0], "else nothing was compared"


def test_a_long_gap_cuts_off_what_is_open_and_begins_afresh() -> None:
    script = steady(4000)
    script.put("torque", 900, 4000, 90)
    script.put("zone_temperature:Z2", 600, 4000, 400)
    monitor = Monitor(LINE, [R1], conditions=(ThermocoupleOpen(), RecipeWindow()))
    before, after = block_of(script, 0, 1200), block_of(script, 2000, 4000)

    records, state = judge(monitor, [before, after])

    first = [record for record in records if record.decided_at <= before.end + 300 * NS]
    assert {r.condition: r.kind for r in first} == {"thermocouple_open": "cut off", "recipe_window": "cut off"}
    couple = next(r for r in first if r.condition == "thermocouple_open" and r.kind == "cut off")
    assert couple.decided_at == before.end + 300 * NS, "its last sight is lost with the gap"
    rest = [record for record in records if record.decided_at > before.end + 300 * NS]
    assert {r.condition for r in rest} == {"recipe_window"}, "400 C from the start is no jump"
    assert rest[0].kind == "opened" and rest[0].since >= after.t0
    assert [value["condition"] for value in state["standing"].values() if value["ended"] is None] == ["recipe_window"]


@pytest.mark.parametrize(("gap_s", "end"), [(60, None), (200, "cut off")])
def test_a_gap_does_not_close_what_is_open(gap_s: int, end: str | None) -> None:
    """No data is no end: it goes on, or sight is lost."""
    script = steady(3000)
    script.put("torque", 900, 3000, 90)
    monitor = Monitor(LINE, [R1], conditions=WINDOW)

    records, _ = judge(monitor, [block_of(script, 0, 1200), block_of(script, 1200 + gap_s, 3000)])

    ended = [record.kind for record in records if record.kind in ("closed", "cut off")]
    assert ended == ([end] if end else [])


def test_after_a_long_gap_it_judges_as_a_new_monitor_does() -> None:
    script = steady(4000)
    script.put("torque", 3000, 3400, 90)
    monitor = Monitor(LINE, [R1])
    after = block_of(script, 2000, 4000)

    with_past, _ = judge(monitor, [block_of(script, 0, 1200), after])
    alone, _ = judge(monitor, [after])

    assert [replace(r, seq=0) for r in with_past if r.since >= after.t0] == [replace(r, seq=0) for r in alone] != []


def test_every_opened_finding_ends_whatever_gaps_there_are() -> None:
    script = steady(6000)
    script.put("torque", 900, 6000, 90)
    script.put("zone_temperature:Z2", 600, 6000, 400)
    monitor = Monitor(LINE, [R1])
    pieces = [block_of(script, a, b) for a, b in ((0, 1300), (1400, 2600), (3000, 3900), (4250, 6000))]

    records, state = judge(monitor, pieces)
    records += monitor.finish(state)

    last = {record.finding: record.kind for record in records}
    assert set(last.values()) <= {"closed", "cut off"} and len(last) > 2
    assert [record.seq for record in records] == list(range(1, len(records) + 1))


# -- what comes out


def test_phase_of_every_cell_is_the_newest_known_and_quantities_come_once() -> None:
    script = steady(600)
    block = block_of(script)
    monitor = Monitor(LINE, [R1])

    def run(cuts: list[int]) -> tuple[list[int], list[int], list[float]]:
        state, phases, times, feed = monitor.start(), [], [], []
        for first, last in itertools.pairwise([0, *cuts, block.n]):
            state, step = monitor.advance(state, block.cut(first, last))
            assert len(step.phase) == last - first
            phases += step.phase.tolist()
            if step.quantities:
                t, values = step.quantities["total_feed"]
                times, feed = times + t.tolist(), feed + values.tolist()
        return phases, times, feed

    phases, times, feed = run([])

    assert phases[:10] == [0] * 10, "nothing is known before the first 10 s are over"
    assert PHASES[phases[10]] == "starting" and PHASES[phases[-1]] == "steady"
    assert times == list(range(T0, block.end, 10 * NS))
    assert feed[0] == pytest.approx(300, rel=0.01)
    for cuts in ([3, 4, 17, 200, 201, 599], list(range(1, 600)), [300]):
        assert run(cuts) == (phases, times, feed)


def test_a_log_that_begins_inside_a_ten_second_cell() -> None:
    script = steady(300)
    monitor = Monitor(LINE, [R1])

    _, step = monitor.advance(monitor.start(), block_of(script, 7, 300))

    assert step.quantities["total_feed"][0].tolist() == list(range(T0, T0 + 300 * NS, 10 * NS))
    assert (step.phase[:3] == 0).all() and step.phase[3] != 0


@pytest.mark.parametrize(("status", "judged"), [(GOOD, True), (UNCERTAIN, True), (BAD, False), (NONE, False)])
def test_bad_readings_are_not_judged(status: int, judged: bool) -> None:
    script = steady(2400)
    script.put("torque", 900, 2400, 90)
    block = block_of(script)
    marks = block.status.copy()
    marks[block.channels.index("torque"), 900:] = status | FRESH

    records, _ = judge(Monitor(LINE, [R1], conditions=WINDOW), [replace(block, status=marks)])

    assert bool(records) == judged


def test_finish_cuts_off_what_is_open_once_and_says_nothing_else() -> None:
    script = steady(2000)
    script.put("torque", 900, 2000, 90)
    monitor = Monitor(LINE, [R1], conditions=WINDOW)
    records, state = judge(monitor, [block_of(script)])

    last = monitor.finish(state)

    assert [(r.kind, r.finding, r.until) for r in last] == [("cut off", records[0].finding, None)]
    assert last[0].decided_at == T0 + 2000 * NS and last[0].seq == len(records) + 1
    assert monitor.finish(monitor.start()) == []


def test_no_cells_change_nothing() -> None:
    script = steady(100)
    monitor = Monitor(LINE, [R1])
    state, _ = monitor.advance(monitor.start(), block_of(script))

    after, step = monitor.advance(state, block_of(script).cut(100, 100))

    assert after is state and step.records == [] and step.phase.shape == (0,) and step.quantities == {}


# -- what does not fit


def test_other_channels_are_refused() -> None:
    block = block_of(steady(10))
    other = replace(block, channels=tuple(reversed(block.channels)))
    monitor = Monitor(LINE, [R1])

    with pytest.raises(ValueError, match="channels are not those of the line file, in its order"):
        monitor.advance(monitor.start(), other)


def test_another_cadence_is_refused_with_both() -> None:
    block = block_of(steady(10))
    monitor = Monitor(LINE, [R1])

    with pytest.raises(ValueError, match="cells are 2000000000 ns wide, the line's 1000000000 ns"):
        monitor.advance(monitor.start(), replace(block, step=2 * NS))


def test_cells_already_judged_are_refused() -> None:
    script = steady(100)
    monitor = Monitor(LINE, [R1])
    state, _ = monitor.advance(monitor.start(), block_of(script, 0, 50))

    with pytest.raises(ValueError, match=f"starts at {T0 + 49 * NS}, before {T0 + 50 * NS}, which is already judged"):
        monitor.advance(state, block_of(script, 49, 60))


@pytest.mark.parametrize(
    "other",
    [
        Monitor(LINE.model_copy(update={"version": "2"}), [R1]),
        Monitor(LINE, [R1.model_copy(update={"version": "2"})]),
        Monitor(LINE, [R1], [Note(T0, "lot", "L")]),
        Monitor(LINE, []),
        Monitor(LINE, [R1], conditions=(RecipeWindow(on_s=40),)),
    ],
    ids=["line", "recipe", "schedule", "no recipe", "setting"],
)
def test_a_state_of_other_files_is_refused(other: Monitor) -> None:
    monitor = Monitor(LINE, [R1], conditions=WINDOW) if len(other.arming.conditions) == 1 else Monitor(LINE, [R1])

    assert other.fingerprint != monitor.fingerprint
    with pytest.raises(CheckpointError, match="belongs to another line file, recipe, schedule or version"):
        other.advance(monitor.start(), block_of(steady(10)))


def test_the_fingerprint_does_not_depend_on_the_order_of_the_schedule() -> None:
    notes = [Note(T0, "lot", "A"), Note(T0 + NS, "lot", "B")]

    assert Monitor(LINE, [R1], notes).fingerprint == Monitor(LINE, [R1], notes[::-1]).fingerprint


# -- settings in line and recipe files


def with_settings(model: Any, **given: Any) -> Any:
    return model.model_copy(update={"settings": given, "version": str(given)})


def test_settings_that_do_not_exist_or_are_out_of_bounds_are_told_all_at_once() -> None:
    line = with_settings(LINE, starved={"torque_fall": 9, "rate": 1}, starvd={"rate_loss": 0.1})
    other = with_settings(R1, drift={"rest_s": "long"})

    with pytest.raises(SettingsError) as error:
        Monitor(line, [other])

    assert len(error.value.problems) == 4
    text = str(error.value)
    for part in (
        "settings.starvd: no such condition; there are ",
        "settings.starved.torque_fall = 9: must be 0.03 to 0.7 in ln torque",
        "settings.starved.rate: no such setting; it has rate_loss, torque_fall",
        "settings.drift.rest_s = 'long': must be 0 to 7200 s",
    ):
        assert part in text


def test_the_recipes_setting_goes_before_the_lines() -> None:
    line = with_settings(LINE, recipe_window={"on_s": 600, "off_s": 600})
    r2 = with_settings(recipe("R2"), recipe_window={"on_s": 20})
    arming = Monitor(line, [R1, r2]).arming

    def delays(name: str) -> tuple[float, float]:
        armed = next(a for a in arming.arm(name) if a.condition.name == "recipe_window")
        return armed.condition.on_s, armed.condition.off_s  # type: ignore[attr-defined]

    assert delays("R1") == (600, 600) and delays("R2") == (20, 600) and delays("") == (600, 600)


def test_a_setting_changes_what_is_said() -> None:
    script = steady(2400)
    script.put("torque", 900, 1400, 75)
    patient = with_settings(LINE, recipe_window={"on_s": 600})

    assert judge(Monitor(LINE, [R1], conditions=WINDOW), [block_of(script)])[0]
    assert not judge(Monitor(patient, [R1], conditions=WINDOW), [block_of(script)])[0]


def test_parts_that_share_the_memory_of_a_block_are_judged_alike_and_not_kept() -> None:
    world = eventful_twin()
    monitor, block = Monitor(world.line, world.recipes), world.block
    places = [0, 1, 3605, 9000, 14407, block.n]
    pairs = list(itertools.pairwise(places))

    apart = judge(monitor, [block.cut(first, last) for first, last in pairs])
    shared = judge(monitor, [block.cut(first, last, shared=True) for first, last in pairs])

    assert [record.as_json() for record in shared[0]] == [record.as_json() for record in apart[0]]
    assert shared[0], "else nothing was compared"
    assert dump_state(shared[1]) == dump_state(apart[1])
    assert not [array for array in arrays_in(shared[1]) if np.may_share_memory(array, block.values)]


def arrays_in(state: Any) -> list[np.ndarray]:
    """Every array of a state."""
    if isinstance(state, np.ndarray):
        return [state]
    parts = state.values() if isinstance(state, dict) else state if isinstance(state, (list, tuple)) else ()
    return [array for part in parts for array in arrays_in(part)]
