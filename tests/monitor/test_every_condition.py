"""The check-suite, over every registered condition, and over all of them together."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import monitor.conditions
from monitor.conditions.registry import CONDITIONS
from monitor.contract import Condition
from monitor.records import Record
from tests.monitor import check_suite
from tests.monitor.scripted_world import World, eventful_single, eventful_twin

WORLDS: dict[str, Callable[[], World]] = {"twin": eventful_twin, "single": eventful_single}
BY_NAME = {condition.name: condition for condition in CONDITIONS}
BOTH = pytest.mark.parametrize("world", WORLDS)
EACH = pytest.mark.parametrize("name", BY_NAME)


@pytest.fixture(scope="module")
def said() -> dict[str, list[Record]]:
    """All records of both worlds, with every condition armed."""
    out = {}
    for name, make in WORLDS.items():
        world = make()
        monitor = check_suite.monitor_of(world, CONDITIONS)
        state, step = monitor.advance(monitor.start(), world.block)
        out[name] = [*step.records, *monitor.finish(state)]
    return out


def of(name: str) -> tuple[Condition, ...]:
    return (BY_NAME[name],)


def test_every_condition_speaks_somewhere_in_the_worlds(said: dict[str, list[Record]]) -> None:
    """Else every check below would pass without having seen it at work."""
    spoken = {record.condition for records in said.values() for record in records}

    assert spoken == set(BY_NAME)


def test_every_file_of_the_folder_is_in_the_registry() -> None:
    folder = Path(monitor.conditions.__file__).parent
    shared = {"__init__", "registry", "feeder_signals", "machine_load", "temperature_limits"}
    files = {path.stem for path in folder.glob("*.py")} - shared

    assert files == {type(condition).__module__.rsplit(".", 1)[1] for condition in CONDITIONS}


@BOTH
def test_all_together_hold_at_every_cut(world: str) -> None:
    check_suite.check_cuts(WORLDS[world](), CONDITIONS)


@BOTH
def test_all_together_from_checkpoints(world: str) -> None:
    check_suite.check_checkpoints(WORLDS[world](), CONDITIONS)


@pytest.mark.parametrize(("start", "width"), [(1495, 1), (3895, 1), (8595, 1), (20395, 1), (9000, 7)])
def test_all_together_cell_by_cell(start: int, width: int) -> None:
    check_suite.check_narrow_cuts(eventful_twin(), CONDITIONS, start, 240 * width, width)


@pytest.mark.parametrize("cadence_s", [0.5, 2.0, 5.0, 10.0, 7.0])
def test_all_together_at_other_cadences(cadence_s: float) -> None:
    world = eventful_twin(cadence_s=cadence_s)
    check_suite.check_cuts(world, CONDITIONS)


@BOTH
@EACH
def test_cuts(name: str, world: str) -> None:
    check_suite.check_cuts(WORLDS[world](), of(name))


@EACH
def test_checkpoints(name: str) -> None:
    check_suite.check_checkpoints(eventful_twin(), of(name))


@EACH
def test_purity(name: str) -> None:
    check_suite.check_purity(eventful_twin(), of(name))


@EACH
def test_no_reading_ahead(name: str) -> None:
    check_suite.check_no_reading_ahead(eventful_twin(), of(name))


@EACH
def test_time_shift(name: str) -> None:
    check_suite.check_time_shift(eventful_twin(), of(name))


@EACH
def test_missing_data(name: str) -> None:
    check_suite.check_missing_data(eventful_twin(), of(name))


@EACH
def test_bounded_state(name: str) -> None:
    check_suite.check_bounded_state(eventful_twin(), of(name))


@EACH
def test_settings(name: str) -> None:
    check_suite.check_settings(BY_NAME[name])


@EACH
def test_documented(name: str) -> None:
    check_suite.check_documented(BY_NAME[name])


@BOTH
def test_episodes_alternate(world: str, said: dict[str, list[Record]]) -> None:
    check_suite.check_episodes_alternate(said[world])


@BOTH
def test_words(world: str, said: dict[str, list[Record]]) -> None:
    check_suite.check_words(said[world])


@BOTH
def test_records_survive_json(world: str, said: dict[str, list[Record]]) -> None:
    assert [Record.from_json(record.as_json()) for record in said[world]] == said[world]
