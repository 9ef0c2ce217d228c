"""Turns a running steady state into a stopped one: hot and full, or cold."""

from __future__ import annotations

from typing import Any

import numpy as np

from sample_logs.draw_zones import HALL_C


def stand_still(state: Any) -> None:
    """Screw and feeders stopped, melt at wall temperature, pressure gone; a twin screw run empty first; in place."""
    state.drive.motor_rpm[:] = 0.0
    state.drive.screw_rpm[:] = 0.0
    state.drive.torque[:] = 0.0
    state.barrel.temperature_c[:] = state.zone.metal_c
    state.barrel.pressure_bar = np.zeros_like(state.barrel.pressure_bar)
    state.barrel.passed_kg[:] = 0.0
    state.barrel.screw_w = np.zeros_like(state.barrel.screw_w)
    state.barrel.wall_w[:] = 0.0
    state.melt_probe_c[:] = state.zone.metal_c[-2]
    state.pressure_read[:] = 0.0
    state.turning_s[:] = 0.0
    state.rest()


def cool_down(state: Any) -> None:
    """Everything at hall temperature, heating off; in place, after `stand_still`."""
    for values in (
        state.zone.metal_c,
        state.zone.probe_c,
        state.barrel.temperature_c,
        state.control.reading_c,
    ):
        values[:] = HALL_C
    state.zone.line_pct[:] = 0.0
    state.control.integral_pct[:] = 0.0
    state.control.output_pct[:] = 0.0
    state.melt_probe_c[:] = HALL_C
    state.auxiliary.throat_c[:] = HALL_C
    state.auxiliary.oil_c[:] = HALL_C
