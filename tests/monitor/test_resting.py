"""Conditions that rest say the same, in the same second, as if every one judged every cell as it comes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from monitor import resting
from monitor.conditions.registry import CONDITIONS
from monitor.conditions.screen_blinding import ScreenBlinding
from monitor.conditions.vacuum_off import VacuumOff
from monitor.core import Monitor
from monitor.records import Record
from monitor.resting import Marks
from tests.monitor import check_suite
from tests.monitor.scripted_world import World, eventful_single, eventful_twin
from tests.monitor.worlds import WORLDS


def never_resting(world: World, monkeypatch: pytest.MonkeyPatch) -> Monitor:
    """A monitor in which every condition judges every cell at once: the plain way, the measure of the other."""
    monitor = check_suite.monitor_of(world, CONDITIONS)
    every = {condition.name: Marks(1, 0) for condition in CONDITIONS if condition.grid == "coarse"}
    with_subjects = Monitor._marks
    monkeypatch.setattr(Monitor, "_marks", lambda self, recipe: {k: every[k] for k in with_subjects(self, recipe)})
    return monitor


def told(monitor: Monitor, world: World) -> tuple[list[Record], dict[Any, float]]:
    """All records of a world, and the seconds in which conditions were blind."""
    state, step = monitor.advance(monitor.start(), world.block)
    blind = dict(step.blind)
    for what, seconds in monitor.blind_at_end(state).items():
        blind[what] = blind.get(what, 0.0) + seconds
    return [*step.records, *monitor.finish(state)], blind


@pytest.mark.parametrize("name", WORLDS)
def test_the_records_are_those_of_a_monitor_in_which_nothing_rests(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    world = WORLDS[name]()
    resting_told = told(check_suite.monitor_of(world, CONDITIONS), world)

    assert resting_told == told(never_resting(world, monkeypatch), world)
    assert resting_told[0]


@pytest.mark.parametrize("make", [eventful_twin, eventful_single])
def test_what_is_decided_is_said_in_the_tick_in_which_it_is(make: Callable[[], World]) -> None:
    """Cell by cell, round everything that is decided in the first hours."""
    world = make()
    block, monitor = world.block.cut(0, 9000), check_suite.monitor_of(world, CONDITIONS)
    state, step = monitor.advance(monitor.start(), block)
    near = check_suite.around_decisions([record.as_json() for record in step.records], block)
    assert len(step.records) > 10

    state, said = monitor.start(), 0
    for piece in check_suite.pieces(block, near):
        state, step = monitor.advance(state, piece)
        said += len(step.records)
        assert all(piece.t0 < record.decided_at <= piece.end for record in step.records)
    assert said > 10


def test_most_ticks_in_which_a_cell_ends_judge_few_conditions() -> None:
    """Else the whole is for nothing: of the conditions that may rest, a part is judged in any second."""
    world = eventful_twin()
    monitor = check_suite.monitor_of(world, CONDITIONS)
    marks = monitor._marks(world.recipes[0].name)
    late = [one for one in marks.values() if one.late]

    assert len(late) > 0.7 * len(marks)
    assert {one.late for one in late} == set(range(1, resting.LATE_TICKS + 1))
    for second in range(50):
        due = [one for one in marks.values() if one.newest(second, 10) > one.newest(second - 1, 10)]
        assert len(due) < 0.4 * len(marks)


@pytest.mark.parametrize("late", [0, 1, 3])
@pytest.mark.parametrize("period", resting.PERIODS)
def test_the_newest_mark_is_the_last_one_that_is_due(period: int, late: int) -> None:
    for first in range(period):
        marks = Marks(period, first, late)
        for fine_end in range(500, 700):
            known = [c for c in range(fine_end // 10 + 1) if c % period == first and c * 10 + late <= fine_end]
            assert marks.newest(fine_end, 10) == known[-1]


def test_with_cells_as_wide_as_the_grid_nothing_is_late() -> None:
    world = eventful_twin()
    monitor = check_suite.monitor_of(world, CONDITIONS)
    armed, ctx = monitor.arming.arm(world.recipes[0].name), monitor.arming.context(world.recipes[0].name, coarse=True)

    assert all(one.late == 0 for one in resting.marks(armed, 1, ctx).values())
    assert any(one.late > 0 for one in resting.marks(armed, 2, ctx).values())


@dataclass(frozen=True)
class BelievesItIsSilent(VacuumOff):
    """Tells that it cannot speak for minutes, and speaks within one."""

    def silent_for(self, state: Any, index: int, ctx: Any) -> int:
        return 30


def test_a_condition_that_is_not_as_silent_as_it_tells_is_caught() -> None:
    world = vacuum_lost()
    check_suite.check_no_reading_ahead(world, (VacuumOff(),))

    with pytest.raises(AssertionError):
        check_suite.check_no_reading_ahead(world, (BelievesItIsSilent(),))


def vacuum_lost() -> World:
    """The first world in which a vacuum is lost."""
    for make in WORLDS.values():
        world = make()
        if told(check_suite.monitor_of(world, (VacuumOff(),)), world)[0]:
            return world
    raise AssertionError("no vacuum is lost in any world")


def test_a_screen_that_has_spoken_is_looked_at_in_every_cell() -> None:
    """Where its verdict stands but a reading is missing, it may speak again with the next."""
    world = eventful_twin()
    ctx = check_suite.monitor_of(world, CONDITIONS).arming.context(world.recipes[0].name, coarse=True)
    screen = ScreenBlinding()
    state = screen.start(screen.subjects(ctx), ctx)

    assert screen.silent_for(state, 0, ctx) == ctx.cells(300) and screen.silent_for(state, 29, ctx) == 1
    assert screen.silent_for({**state, "on": np.ones(1, bool)}, 0, ctx) == 1


def test_notes_are_taken_after_what_came_before_them_was_judged() -> None:
    """Blind seconds belong to the lot in which they were blind, though they are judged later."""
    from ingest.block import Note

    world = eventful_twin()
    block, monitor = world.block.cut(0, 3600), check_suite.monitor_of(world, CONDITIONS)
    at = block.t0 + 1807 * block.step
    noted = replace(block, notes=(*block.notes, Note(at, "lot", "L2")))
    state, step = monitor.advance(monitor.start(), noted)
    blind = {**step.blind}
    for what, seconds in monitor.blind_at_end(state).items():
        blind[what] = blind.get(what, 0.0) + seconds
    before = {what[1:]: seconds for what, seconds in blind.items() if what[0] != "L2"}
    _, half = monitor.advance(monitor.start(), block.cut(0, 1807))
    whole = {what[1:]: seconds for what, seconds in half.blind.items()}
    for what, seconds in monitor.blind_at_end(monitor.advance(monitor.start(), block.cut(0, 1807))[0]).items():
        whole[what[1:]] = whole.get(what[1:], 0.0) + seconds

    assert before and before == whole
