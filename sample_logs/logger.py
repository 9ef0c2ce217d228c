"""What the plant's logger makes of the transmitters' readings: resolution, deadband, false samples, gaps, ..."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ingest.block import FRESH, GOOD, NONE
from ingest.roles import ROLES, split_key
from sample_logs.log_faults import late_clocks, set_points_as_actuals, silences, stale_and_zeros
from sample_logs.plant import Plant
from sample_logs.scenario import Scenario


def logged(plant: Plant, scenario: Scenario, shown: np.ndarray, seed: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """Values and status, [channel, cell], as a reader would put them on the plant's cadence.

    shown: [reading, channel]. A value not stored is held as long as the line file's hold time allows, without FRESH.
    """
    values = np.ascontiguousarray(shown.T.astype(np.float64))
    status = np.full(values.shape, GOOD | FRESH, dtype=np.uint8)
    holds = {s["tag"]: s.get("hold_s", ROLES[s["role"]].hold_s) for s in plant.line["sensor"]}
    apart = {split_key(key)[1] for key in plant.channels if key.startswith("zone_cooling:")}
    for c, (key, sensor) in enumerate(zip(plant.channels, plant.line["sensor"], strict=True)):
        role, at = split_key(key)
        if role == "zone_output" and at in apart:
            values[c] = np.maximum(values[c], 0.0)
        step = plant.logger.resolution.get(role, 0.0)
        if step > 0:
            values[c] = np.round(values[c] / step) * step
            values[c] = np.round(values[c], 6)
        low, high = sensor.get("range", (-np.inf, np.inf))
        values[c] = np.clip(values[c], low, high)
    late_clocks(plant, values)
    set_points_as_actuals(plant, values)
    _spikes(plant, scenario, values)
    stale_and_zeros(plant, scenario, values)
    for c, (key, sensor) in enumerate(zip(plant.channels, plant.line["sensor"], strict=True)):
        band = plant.logger.deadband.get(split_key(key)[0], 0.0)
        if band > 0:
            kept = _stored(values[c], band, max(int(plant.logger.longest_s / plant.cadence_s), 1))
            _hold(values[c], status[c], kept, holds[sensor["tag"]] / plant.cadence_s)
    silences(plant, scenario, values, status)
    return values, status


def _stored(values: np.ndarray, band: float, longest: int) -> np.ndarray:
    """Which readings a store-on-change logger keeps: moved by more than `band`, or `longest` cells since the last."""
    kept = np.zeros(len(values), dtype=bool)
    i = 0
    while i < len(values):
        kept[i] = True
        ahead = values[i + 1 : i + 1 + longest]
        moved = np.flatnonzero(np.abs(ahead - values[i]) > band)
        i += 1 + (int(moved[0]) if len(moved) else max(len(ahead) - 1, 0) if len(ahead) == longest else len(ahead))
    return kept


def _hold(values: np.ndarray, status: np.ndarray, kept: np.ndarray, hold_cells: float) -> None:
    last = np.maximum.accumulate(np.where(kept, np.arange(len(values)), -1))
    age = np.arange(len(values)) - last
    old = (last < 0) | (age > hold_cells)
    values[:] = np.where(old, np.nan, values[np.maximum(last, 0)])
    status[:] = np.where(old, NONE, np.where(kept, GOOD | FRESH, GOOD))


def _spikes(plant: Plant, scenario: Scenario, values: np.ndarray) -> None:
    for event in scenario.events:
        cell = int(event.at_s / plant.cadence_s)
        if event.kind == "spike" and event.subject in plant.channels and cell < values.shape[1]:
            values[plant.channels.index(event.subject), cell] = event.value
