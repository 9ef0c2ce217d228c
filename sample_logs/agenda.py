"""Plays events and faults into commands and upsets at the right step, for many runs."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence

import numpy as np

from sample_logs.commands import Commands
from sample_logs.fault_effects import apply, still_growing
from sample_logs.faults import Fault
from sample_logs.plant import Plant
from sample_logs.scenario import Event
from sample_logs.upsets import Upsets

GROWTH_STEP_S = 5.0
"""Growing faults are brought up to date so often (every second in their first ten seconds)."""


class Agenda:
    """What is still to happen. Times count from the start of the runs, in seconds.

    on_line: called with run and kind of event for what is done to the machine itself: screen_change, reset.
    """

    def __init__(
        self, plants: Sequence[Plant], command: Commands, upset: Upsets, on_line: Callable[[int, str], None]
    ) -> None:
        self._plants, self._command, self._upset = plants, command, upset
        self._on_line = on_line
        self._queue: list[tuple[float, int, int, Event | Fault | None]] = []
        self._order = 0
        self._active: list[list[Event | Fault]] = [[] for _ in plants]

    def add(self, run: int, item: Event | Fault) -> None:
        """Plans an event or a fault of one run."""
        if isinstance(item, Fault):
            self._push(0.0 if item.kind == "cold_start" else item.start_s, run, item)
            if item.kind == "cold_start":
                self._push(item.start_s, run, None)
            self._push(item.end_s, run, None)
        else:
            self._push(item.at_s, run, item)
            if item.kind in _PASSING:
                self._push(item.at_s + item.duration_s, run, None)

    def play(self, time_s: float) -> None:
        """Carries out everything due by now."""
        while self._queue and self._queue[0][0] <= time_s + 1e-9:
            _, _, run, item = heapq.heappop(self._queue)
            if isinstance(item, Fault) or (item is not None and item.kind in _PASSING):
                self._active[run].append(item)
            elif item is not None:
                self._do(run, item)
            self._refresh(run, time_s)

    def _push(self, at_s: float, run: int, item: Event | Fault | None) -> None:
        self._order += 1
        heapq.heappush(self._queue, (at_s, self._order, run, item))

    def _refresh(self, run: int, time_s: float) -> None:
        active = self._active[run]
        active[:] = [a for a in active if time_s < (a.end_s if isinstance(a, Fault) else a.at_s + a.duration_s) - 1e-9]
        self._upset.calm(run)
        again = False
        for item in active:
            if isinstance(item, Fault):
                apply(self._upset, run, self._plants[run], item, time_s)
                again = again or still_growing(item, time_s)
            else:
                _pass(self._upset, run, self._plants[run], item)
        if again and not any(r == run and i is None and t <= time_s + GROWTH_STEP_S for t, _, r, i in self._queue[:4]):
            fast = any(isinstance(a, Fault) and time_s - a.start_s < 10.0 for a in active)
            self._push(time_s + (1.0 if fast else GROWTH_STEP_S), run, None)

    def _do(self, run: int, event: Event) -> None:
        c, plant = self._command, self._plants[run]
        if event.kind == "rate":
            aim = plant.nominal.feeder_kg_h * event.value
            c.feeder_aim[:, run] = aim
            change = np.abs(aim - c.feeder_kg_h[:, run])
            c.feeder_slew[:, run] = np.maximum(change / max(event.duration_s, 1.0), 1e-9)
        elif event.kind == "speed":
            c.speed_rpm[run] = plant.nominal.speed_rpm * event.value
        elif event.kind == "zone_setpoint":
            c.zone_c[plant.zones.index(event.subject), run] = event.value
        elif event.kind == "hall":
            c.hall_c[run] += event.value
        elif event.kind == "lot":
            c.ln_lot[run] = event.value
        elif event.kind in ("screen_change", "reset"):
            self._on_line(run, event.kind)
        elif event.kind in _SWITCHES:
            getattr(c, _SWITCHES[event.kind])[run] = event.value


_SWITCHES = {"feed": "feed_on", "screw": "screw_on", "heat": "heat_on", "vacuum": "vacuum_on"}
_PASSING = ("hopper_touched", "catch_sample", "outlet_tapped", "screen_half", "upset")


def _pass(upset: Upsets, run: int, plant: Plant, event: Event) -> None:
    if event.kind == "screen_half":
        upset.screen[run] += 0.9
        return
    if event.kind == "upset":
        name, _, at = event.subject.partition(":")
        getattr(upset, name)[(_slot_or_zone(plant, at), run) if at else (..., run)] = event.value
        return
    slot = plant.facts["slots"][plant.feeders.index(event.subject)]
    if event.kind == "hopper_touched":
        upset.touched_kg[slot, run] = event.value
    elif event.kind == "catch_sample":
        upset.sampled[slot, run] = 1.0
    elif event.kind == "outlet_tapped":
        upset.factor_gain[slot, run] *= event.value


def _slot_or_zone(plant: Plant, at: str) -> int:
    return plant.zones.index(at) if at in plant.zones else plant.facts["slots"][plant.feeders.index(at)]
