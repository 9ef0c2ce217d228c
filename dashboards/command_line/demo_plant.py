"""The demo's live line: the invented plant as a source that can be read again from any position.

It runs in shifts of 12 h. Each is simulated from its own seed, so that a restart makes the same readings again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ingest.block import Block, Note
from monitor.live_clock import Clock
from monitor.live_source import after, ticks
from sample_logs.dialects import DIALECTS
from sample_logs.draw_plant import relogged
from sample_logs.draw_scenario import draw_fault, draw_nuisances, possible_faults
from sample_logs.faults import Fault
from sample_logs.logger import logged
from sample_logs.plant import Plant
from sample_logs.runner import Runner
from sample_logs.sample_runs import DAY, TIME_ZONE, TWIN_PRODUCT, sample_plants
from sample_logs.scenario import Scenario
from sample_logs.toml_text import toml_text
from sample_logs.write_logs import line_in_dialect

SHIFT_S = 12 * 3600
LOT_S = 4 * 3600
CADENCE_S = 1.0
START_NS = round((DAY + dt.timedelta(days=1, hours=5)).timestamp()) * 10**9
STORY = (
    ("feeder_bridged", 0.4, 18), ("path_blocked", 1.4, 7), ("heater_dead", 2.3, 45), ("screen_blinding", 4.0, 120),
    ("thermocouple_open", 7.0, 30), ("feeder_off_target", 8.5, 15), ("cooling_dead", 9.5, 40),
)  # fmt: skip
"""Faults of a shift: kind, hours from its start, minutes."""
_NS = 1_000_000_000


@dataclass(frozen=True)
class LivePlant:
    """The plant of the sample logs' twin screw, all channels, one reading a second."""

    plant: Plant
    line_text: str
    recipe_text: str


def live_plant() -> LivePlant:
    """The plant with the texts of its line and recipe files."""
    plant = relogged(sample_plants()["twin"], plain=False, cadence_s=CADENCE_S, product=TWIN_PRODUCT)
    line: dict[str, Any] = line_in_dialect(plant, DIALECTS["english"], TIME_ZONE)
    return LivePlant(
        plant, toml_text(line, f"Line '{plant.name}' of the invented plant, live."),
        toml_text(plant.recipe, "Invented product; windows written from the plant's own steady state."),
    )  # fmt: skip


def shift_scenario(plant: Plant, seed: int, shift: int) -> Scenario:
    """What happens in one shift."""
    # The simulator of the demo may be random: it judges nothing.
    rng = np.random.default_rng([seed, shift])  # noqa: TID251
    faults: list[Fault] = []
    for kind, hour, minutes in STORY:
        if kind in possible_faults(plant):
            at_s = 3600 * hour + float(rng.uniform(-300, 300))
            faults.append(draw_fault(rng, plant, kind, at_s, 60.0 * minutes))
    start_ns = START_NS + shift * SHIFT_S * _NS
    return Scenario(
        tuple(faults), draw_nuisances(rng, plant, SHIFT_S, often=0.5), start_ns=start_ns, lot=lot_at(start_ns)
    )


def lot_at(at_ns: int) -> str:
    """Number of the lot that starts then."""
    return f"L{2100 + (at_ns - START_NS) // (LOT_S * _NS)}"


def shift_blocks(plant: Plant, seed: int, shift: int) -> Iterator[Block]:
    """The shift's log in pieces, as they come into being; the pieces do not depend on how far it is read."""
    scenario, words = shift_scenario(plant, seed, shift), [seed, shift]
    runner = Runner([plant], [scenario], [words], CADENCE_S)
    shown: list[np.ndarray] = []
    first = given = 0
    while given < SHIFT_S:
        shown.append(runner.advance()[0])
        last = min(first + sum(map(len, shown)), SHIFT_S)
        values, status = _logged_from(plant, scenario, shown, first, given, last, words)
        t0 = scenario.start_ns + given * _NS
        yield Block(t0, _NS, plant.channels, values, status, _notes(plant, t0, t0 + (last - given) * _NS))
        given = last
        # What the logger may still look back at is kept; a shift of it all would be 50 MB.
        for held in range(1, len(shown)):
            if _can_begin(plant, scenario, given - sum(map(len, shown[-held:]))):
                first, shown = given - sum(map(len, shown[-held:])), shown[-held:]
                break


def _logged_from(
    plant: Plant, scenario: Scenario, shown: list[np.ndarray], first: int, given: int, last: int, words: list[int]
) -> tuple[np.ndarray, np.ndarray]:
    """Values and status of the cells [given, last) of a log that is held from the cell `first` on.

    What is yet to come is not told to the logger.
    """
    events = tuple(replace(e, at_s=e.at_s - first) for e in scenario.events if first <= e.at_s < last)
    faults = tuple(
        replace(f, start_s=f.start_s - first, end_s=f.end_s - first) for f in scenario.faults if f.start_s >= first
    )
    held = replace(scenario, events=events, faults=faults)
    values, status = logged(plant, held, np.concatenate(shown), words)
    part = np.s_[:, given - first : last - first]
    return np.ascontiguousarray(values[part]), np.ascontiguousarray(status[part])


def _can_begin(plant: Plant, scenario: Scenario, cell: int) -> bool:
    """Whether a log held from there on reads the same: no deadband to remember, and no silence that began before."""
    spans = [(e.at_s, e.at_s + e.duration_s) for e in scenario.events]
    spans += [(f.start_s, f.end_s) for f in scenario.faults if f.kind in ("data_stopped", "controller_stale")]
    return not plant.logger.deadband and not any(start < cell + 1 and end > cell for start, end in spans)


def _notes(plant: Plant, t0: int, t1: int) -> tuple[Note, ...]:
    notes: list[Note] = []
    for at_ns in range(START_NS, t1, LOT_S * _NS):
        if at_ns >= t0:
            notes += [Note(at_ns, "lot", lot_at(at_ns)), Note(at_ns, "recipe", plant.recipe["recipe"]["name"])]
    return tuple(notes)


class PlantSource:
    """The plant at `speed` times its own pace, shift after shift, for ever.

    The position is the end of the last cell given, UTC nanoseconds; whatever lies before START_NS is the start.
    """

    def __init__(self, plant: Plant, *, seed: int, clock: Clock, speed: float, tick_s: float = 0.5) -> None:
        self._plant, self._seed, self._clock, self._speed = plant, seed, clock, speed
        self._tick_ns = max(1, round(tick_s * speed)) * _NS

    def account(self) -> None:
        """A simulator has no rows to account for."""
        return

    def read_from(self, position: str) -> Iterator[tuple[Block | None, str]]:
        """Every tick after `position`, when its time has come."""
        first_ns = max(START_NS, int(position) if position else 0)
        shift = (first_ns - START_NS) // (SHIFT_S * _NS)
        began_ns: int | None = None
        while True:
            for whole in shift_blocks(self._plant, self._seed, shift):
                block = after(whole, str(first_ns))
                for part in ticks(block, self._tick_ns) if block is not None else ():
                    began_ns = self._clock.now_ns() if began_ns is None else began_ns
                    while self._clock.now_ns() - began_ns < (part.end - first_ns) / self._speed:
                        yield None, position
                    position = str(part.end)
                    yield part, position
            shift += 1
