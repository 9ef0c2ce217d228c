"""The demo's plant gives the same readings however often it is read again, at the pace it is told."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from dashboards.command_line import demo_plant
from dashboards.command_line.demo_data import finished_lots
from dashboards.command_line.demo_plant import (
    START_NS,
    LivePlant,
    PlantSource,
    live_plant,
    shift_blocks,
    shift_scenario,
)
from ingest.block import Block
from sample_logs.logger import logged
from sample_logs.plant import Plant
from sample_logs.scenario import Event, Scenario
from sample_logs.simulate import simulate

S = 1_000_000_000


class Clock:
    def __init__(self, now: int = 0) -> None:
        self.now = now

    def now_ns(self) -> int:
        return self.now


class Late:
    """A clock that always says that the time has come."""

    def __init__(self) -> None:
        self.now = 0

    def now_ns(self) -> int:
        self.now += 3600 * S
        return self.now


@pytest.fixture(scope="module")
def live() -> LivePlant:
    return live_plant()


def values(blocks: list[Block]) -> bytes:
    return np.concatenate([block.values for block in blocks], axis=1).tobytes()


def test_the_pieces_are_those_of_the_whole_simulation(live):
    """Made in two pieces of 600 s, with the logger's deadbands and rounding, and all at once."""
    pieces = list(itertools.islice(shift_blocks(live.plant, 5, 0), 2))

    whole = simulate([live.plant], [shift_scenario(live.plant, 5, 0)], 1200, seed=5).block(0)

    assert values(pieces) == whole.values.tobytes()
    assert np.array_equal(np.concatenate([piece.status for piece in pieces], axis=1), whole.status)
    assert [(note.kind, note.text) for note in pieces[0].notes] == [("lot", "L2100"), ("recipe", whole.notes[1].text)]


def test_what_the_logger_looks_back_at_is_kept(live, monkeypatch):
    """Silences over the edges of pieces, a late clock, a false sample: as in one simulation, held only so far back."""
    events = (
        Event(590.0, "gap", duration_s=20.0), Event(1100.0, "stale", "zones", duration_s=700.0),
        Event(1900.0, "burst", duration_s=60.0), Event(2000.0, "spike", "torque", 33.0),
        Event(2399.0, "zeros", "drive", duration_s=2.0),
    )  # fmt: skip
    late = replace(live.plant, facts={**live.plant.facts, "clock_late_s": {"feeders": 7.0}})
    scenario = Scenario(events=events, start_ns=START_NS)
    held = []

    def noted(plant: Plant, held_scenario: Scenario, shown: np.ndarray, words: list[int]) -> tuple:
        held.append(len(shown))
        return logged(plant, held_scenario, shown, words)

    monkeypatch.setattr(demo_plant, "shift_scenario", lambda *_: scenario)
    monkeypatch.setattr(demo_plant, "logged", noted)
    pieces = list(itertools.islice(shift_blocks(late, 5, 0), 5))

    whole = simulate([late], [scenario], 3000, seed=5).block(0)
    assert np.array_equal(np.concatenate([piece.values for piece in pieces], axis=1), whole.values, equal_nan=True)
    assert np.array_equal(np.concatenate([piece.status for piece in pieces], axis=1), whole.status)
    assert max(held) == 2400 and held[-1] == 1200


def test_read_again_from_a_position(live):
    def first(position: str, count: int) -> list[tuple[Block, str]]:
        source = PlantSource(live.plant, seed=5, clock=Late(), speed=60)
        found = ((block, at) for block, at in source.read_from(position) if block is not None)
        return list(itertools.islice(found, count))

    whole = first("", 25)
    position = whole[13][1]
    again = first(position, 11)

    assert whole[0][0].t0 == START_NS and position == str(again[0][0].t0)
    assert values([block for block, _ in again]) == values([block for block, _ in whole[14:]])
    assert [at for _, at in again] == [at for _, at in whole[14:]]


def test_the_pace(live):
    clock = Clock(7 * S)
    reading = PlantSource(live.plant, seed=5, clock=clock, speed=60, tick_s=1.0).read_from("")
    seconds = 0
    for _ in range(50):
        block, _ = next(reading)
        if block is None:
            clock.now += S // 10
        else:
            seconds += block.n
            assert (clock.now - 7 * S) * 60 >= seconds * S

    assert (clock.now - 7 * S) * 60 - seconds * S < 60 * S + 6 * S


def test_finished_lots_fit_into_one_journal():
    """One line of the journal holds one cadence; lots of a line do not overlap."""
    lots = finished_lots()
    cadences = {}
    for lot in lots:
        assert cadences.setdefault(lot.line.name, lot.line.line.cadence_s) == lot.line.line.cadence_s
        assert lot.line.name in lot.line_text
    assert len(lots) >= 5 and len(cadences) < len(lots)
