"""What goes on around a fault so that it can show: a steady line, a planned stop, a start."""

from __future__ import annotations

from typing import Literal

import numpy as np

from sample_logs.draw_scenario import planned_stop, start_up
from sample_logs.faults import Fault
from sample_logs.plant import Plant
from sample_logs.scenario import Event, Scenario

Scene = Literal["steady", "stop", "cold", "hot"]
LASTS_ITS_SEVERITY = ("filler_first", "data_stopped", "controller_stale")
"""Faults whose severity is how long they last, s."""
FEED_AFTER_S = 60.0
STOP_AFTER_S, STOPPED_S = 900.0, 900.0


def scene_of(kind: str) -> Scene:
    """A pressure sensor shows its fault at a stop; a start fault needs a start."""
    if kind in ("pressure_plugged", "pressure_zero_drift"):
        return "stop"
    return "cold" if kind == "cold_start" else "hot" if kind == "filler_first" else "steady"


def run_of(
    rng: np.random.Generator, plant: Plant, scene: Scene, start_s: float, everyday: tuple[Event, ...], *faults: Fault
) -> Scenario:
    """A run with its faults, which begin at start_s. everyday: nuisances of a running line."""
    if scene == "steady":
        return Scenario(faults, everyday)
    if scene == "stop":
        at = start_s + STOP_AFTER_S
        kept = tuple(e for e in everyday if not at - 60 <= e.at_s <= at + STOPPED_S + 900)
        return Scenario(faults, (*kept, *planned_stop(at, restart_s=at + STOPPED_S)))
    if scene == "cold":
        return Scenario(faults, start_up(rng, plant, cold=True, screw_at_s=start_s), "cold")
    events = start_up(rng, plant, cold=False, screw_at_s=start_s - FEED_AFTER_S, feed_after_s=FEED_AFTER_S)
    return Scenario(faults, events, "hot")
