"""The check-suite, over every registered condition, and over all of them together."""

from __future__ import annotations

import functools
from pathlib import Path

import pytest

import monitor.conditions
from monitor.conditions.registry import CONDITIONS
from monitor.contract import Condition
from monitor.records import Record
from tests.monitor import check_suite
from tests.monitor.scripted_world import World, eventful_twin
from tests.monitor.worlds import WORLDS

BY_NAME = {condition.name: condition for condition in CONDITIONS}
EVERY_WORLD = pytest.mark.parametrize("world", WORLDS)
FULL = ("twin", "single", "feeders", "heat running", "stops", "path upsets")
"""Where most conditions speak; each condition is looked at in its own world besides."""
FULL_WORLDS = pytest.mark.parametrize("world", FULL)
EACH = pytest.mark.parametrize("name", BY_NAME)


@functools.cache
def world_of(name: str) -> World:
    """A world, made once; nothing may write into it."""
    made = WORLDS[name]()
    made.block.values.setflags(write=False)
    made.block.status.setflags(write=False)
    return made


@functools.cache
def said_in(world: str) -> tuple[Record, ...]:
    """All records of a world, with every condition armed."""
    one = check_suite.whole(world_of(world), CONDITIONS)
    return (*one.records, *one.ended)


@functools.cache
def home(name: str) -> World:
    """The first world in which the condition speaks: there it is checked."""
    found = next((w for w in WORLDS if any(record.condition == name for record in said_in(w))), None)
    assert found is not None, f"{name} speaks in no world: every check of it would pass without having seen it at work"
    return world_of(found)


def speaking_in(world: str) -> tuple[Condition, ...]:
    """The conditions that speak in a world: those for which it is home, and more."""
    return tuple(BY_NAME[name] for name in BY_NAME if any(record.condition == name for record in said_in(world)))


def of(name: str) -> tuple[Condition, ...]:
    return (BY_NAME[name],)


def test_every_condition_speaks_somewhere_in_the_worlds() -> None:
    """Else every check below would pass without having seen it at work."""
    spoken = {record.condition for world in WORLDS for record in said_in(world)}

    assert spoken == set(BY_NAME)


def test_every_file_of_the_folder_is_in_the_registry() -> None:
    folder = Path(monitor.conditions.__file__).parent
    shared = {"__init__", "registry", "feeder_signals", "machine_load", "temperature_limits", "temperature_causes"}
    shared |= {"intake_or_path", "load_evidence", "die_side", "swing", "scale_jump_slow"}
    shared |= {"zone_minutes", "zone_signals", "duty_against_reference", "duty_before_stop"}
    shared |= {"heat_up_rates", "regular_cycles", "window_causes", "melt_colder", "melt_leaves"}
    shared |= {"standing_faults", "heater_dead_stands", "share_scale", "vacuum_set_at_first"}
    shared |= {"intake_or_path_words", "starved_words", "flooded_words", "window_off_point", "window_regained"}
    shared |= {"mirrored_zones", "frozen_at_full", "wall_moved", "no_current", "pressures_apart", "stop_before"}
    shared |= {"current_for_output", "usual_jumps", "held_unwritten", "pressure_alone", "leaps", "heat_lacks"}
    shared |= {"group_rest", "more_than_shown", "couple_jumps"}
    shared |= {"current_tells", "heat_short", "many_setpoints", "screen_let_go", "wall_off", "hoppers_empty"}
    shared |= {
        "another_melt",
        "at_rest_elsewhere",
        "clear_fall",
        "hotter_than_melt",
        "lost_together",
        "melt_causes",
        "refill_pulse",
        "refill_leap",
        "right_again",
    }
    files = {path.stem for path in folder.glob("*.py")} - shared

    assert files == {type(condition).__module__.rsplit(".", 1)[1] for condition in CONDITIONS}


@FULL_WORLDS
def test_all_together_hold_at_every_cut(world: str) -> None:
    """Round their decisions each condition is cut by itself (`test_cuts`), and all of them in the fullest world, there
    round one in three, as every one of them has its own cuts."""
    check_suite.check_cuts(world_of(world), CONDITIONS, one_in=3 if world == "twin" else 0)


@pytest.mark.parametrize("world", [world for world in WORLDS if world not in FULL])
def test_those_that_speak_hold_at_every_cut(world: str) -> None:
    """So that every condition is cut in every way in its own world."""
    check_suite.check_cuts(world_of(world), speaking_in(world), one_in=0)


@FULL_WORLDS
def test_all_together_from_checkpoints(world: str) -> None:
    check_suite.check_checkpoints(world_of(world), CONDITIONS)


@pytest.mark.parametrize(("start", "width"), [(1495, 1), (3895, 1), (8595, 1), (20395, 1), (9000, 7)])
def test_all_together_cell_by_cell(start: int, width: int) -> None:
    check_suite.check_narrow_cuts(world_of("twin"), CONDITIONS, start, 240 * width, width)


@pytest.mark.parametrize("cadence_s", [0.5, 7.0, 10.0, 30.0, 60.0])
def test_all_together_at_other_cadences(cadence_s: float) -> None:
    world = eventful_twin(cadence_s=cadence_s)
    check_suite.check_cuts(world, CONDITIONS, one_in=0)


@EACH
def test_cuts(name: str) -> None:
    """Round its own decisions; the other ways of cutting are those of its world, above."""
    check_suite.check_cuts_round_decisions(home(name), of(name))


@EACH
def test_checkpoints(name: str) -> None:
    check_suite.check_checkpoints(home(name), of(name))


@EACH
def test_purity(name: str) -> None:
    check_suite.check_purity(home(name), of(name))


@EACH
def test_no_reading_ahead(name: str) -> None:
    check_suite.check_no_reading_ahead(home(name), of(name))


@EACH
def test_time_shift(name: str) -> None:
    check_suite.check_time_shift(home(name), of(name))


@EVERY_WORLD
def test_missing_data(world: str) -> None:
    """Of all that speak in the world when nothing is missing."""
    check_suite.check_missing_data(world_of(world), speaking_in(world))


@EACH
def test_bounded_state(name: str) -> None:
    check_suite.check_bounded_state(home(name), of(name))


@EACH
def test_settings(name: str) -> None:
    check_suite.check_settings(BY_NAME[name])


@EACH
def test_documented(name: str) -> None:
    check_suite.check_documented(BY_NAME[name])


@EVERY_WORLD
def test_episodes_alternate(world: str) -> None:
    check_suite.check_episodes_alternate(said_in(world))


@EVERY_WORLD
def test_words(world: str) -> None:
    check_suite.check_words(said_in(world))


@EVERY_WORLD
def test_records_survive_json(world: str) -> None:
    assert [Record.from_json(record.as_json()) for record in said_in(world)] == list(said_in(world))
