"""What goes wrong between controllers and log: silence, stale controllers, zeros at a restart, clocks apart, tags that
show the set-point."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ingest.block import FRESH, GOOD, NONE
from ingest.roles import ROLES, split_key
from sample_logs.plant import Plant
from sample_logs.scenario import Scenario

DRIVE_ROLES = ("screw_speed", "screw_speed_setpoint", "torque", "motor_current", "drive_power")


def controller_of(key: str) -> str:
    """The controller a channel comes from: zones, feeders, drive or rest."""
    role = split_key(key)[0]
    if role.startswith("zone_"):
        return "zones"
    if role.startswith("feeder_") or role in ("stuffer_load", "injection_pressure"):
        return "feeders"
    return "drive" if role in DRIVE_ROLES else "rest"


def late_clocks(plant: Plant, values: np.ndarray) -> None:
    """Channels of a controller whose clock is late hold readings of some seconds before; in place."""
    for c, key in enumerate(plant.channels):
        cells = round(plant.facts.get("clock_late_s", {}).get(controller_of(key), 0.0) / plant.cadence_s)
        if cells > 0:
            values[c] = np.concatenate([np.repeat(values[c, :1], cells), values[c, :-cells]])


def set_points_as_actuals(plant: Plant, values: np.ndarray) -> None:
    """Tags named actual that show the set-point; in place."""
    for key in plant.facts.get("set_point_as_actual", ()):
        role, _, at = key.partition(":")
        other = {"zone_temperature": "zone_setpoint", "feeder_rate": "feeder_setpoint"}.get(role, f"{role}_setpoint")
        source = f"{other}:{at}" if at else other
        if key in plant.channels and source in plant.channels:
            values[plant.channels.index(key)] = values[plant.channels.index(source)]


def stale_and_zeros(plant: Plant, scenario: Scenario, values: np.ndarray) -> None:
    """Controllers that stand still or write zeros at a restart, looking fresh; in place."""
    for kind, group, first, last in _spans(plant, scenario, values.shape[1]):
        if kind in ("stale", "zeros"):
            for c, key in enumerate(plant.channels):
                if controller_of(key) == group:
                    values[c, first:last] = values[c, max(first - 1, 0)] if kind == "stale" else 0.0


def silences(plant: Plant, scenario: Scenario, values: np.ndarray, status: np.ndarray) -> None:
    """Times without any reading: held as long as each channel may be, then nothing. A burst that was stored and
    forwarded comes with its last readings all at once, an empty stretch before; in place."""
    holds = np.array([s.get("hold_s", ROLES[s["role"]].hold_s) for s in plant.line["sensor"]]) / plant.cadence_s
    for kind, _, first, last in _spans(plant, scenario, values.shape[1]):
        if kind not in ("gap", "burst"):
            continue
        if kind == "burst" and last - first > 1:
            forwarded = values[:, last - 1].copy()
            _silent(values, status, holds, first, last - 1)
            values[:, last - 1], status[:, last - 1] = forwarded, GOOD | FRESH
        else:
            _silent(values, status, holds, first, last)


def _silent(values: np.ndarray, status: np.ndarray, holds: np.ndarray, first: int, last: int) -> None:
    for c in range(values.shape[0]):
        held = min(int(holds[c]), last - first) if first > 0 else 0
        if held > 0:
            values[c, first : first + held] = values[c, first - 1]
            status[c, first : first + held] = status[c, first - 1] & ~np.uint8(FRESH)
        values[c, first + max(held, 0) : last] = np.nan
        status[c, first + max(held, 0) : last] = NONE


def _spans(plant: Plant, scenario: Scenario, cells: int) -> Iterator[tuple[str, str, int, int]]:
    """Kind, controller, first and last cell of every event and fault of the log."""
    for event in scenario.events:
        if event.kind in ("gap", "burst", "stale", "zeros"):
            first = round(event.at_s / plant.cadence_s)
            last = min(round((event.at_s + event.duration_s) / plant.cadence_s), cells)
            yield event.kind, event.subject, first, last
    for fault in scenario.faults:
        if fault.kind in ("data_stopped", "controller_stale"):
            first = round(fault.start_s / plant.cadence_s)
            kind = "gap" if fault.kind == "data_stopped" else "stale"
            yield kind, "zones", first, min(round(fault.end_s / plant.cadence_s), cells)
