"""What faults of pressure path, drive, vent and downstream do to the plant (fault_catalogue_line.toml)."""

from __future__ import annotations

import math

from sample_logs.fault_hit import Effect, Hit, puts

FREEZE_STEPS = 4
COLD_BATH_C = -12.0
STEAMS_FULLY = 0.45
DEW_C = 100.0
"""Dew point over its usual, C, per part of the consistency lost to hydrolysis; own choice."""


def _holes_shut(h: Hit, part: float) -> None:
    """A power-law melt through fewer holes."""
    h.times("die", (1.0 - part) ** -float(h.plant.parameters.melt.power_law_index))


def _freezes(h: Hit) -> None:
    _holes_shut(h, math.ceil(FREEZE_STEPS * h.grown) / FREEZE_STEPS * h.full)
    h.put("bath_c", COLD_BATH_C)


def _torque(h: Hit) -> None:
    steady, idle = h.plant.facts["steady"]["torque"], h.plant.facts["no_load_pct"]
    wanted = (100.0 * h.full - idle) / (steady - idle)
    h.times("dissipation", 1.0 + (wanted - 1.0) * h.grown)


def _moist(h: Hit) -> None:
    h.add("ln_lot", math.log1p(-h.size))
    h.put("steam", min(h.size / STEAMS_FULLY, 1.0))
    h.put("dew_c", DEW_C * h.full * min(3.0 * h.grown, 1.0))


def _nothing(h: Hit) -> None:
    """The log stops, not the plant (logger.py)."""


REST_OF_LINE: dict[str, Effect] = {
    "screen_ruptured": lambda h: h.add("screen", -1.05 * h.size),
    "die_plugging": lambda h: _holes_shut(h, h.size),
    "freeze_off": _freezes,
    "melt_leak": puts("melt_leak", lambda s: s),
    "pressure_plugged": puts("pressure_lag_s", lambda s: s),
    "pressure_zero_drift": puts("pressure_offset_bar", lambda s: s),
    "torque_over_limit": _torque,
    "tramp_metal": puts("tramp", lambda s: s),
    "speed_deviation": puts("slip", lambda s: s),
    "speed_hunting": puts("swing", lambda s: s),
    "moisture": _moist,
    "vacuum_pot_full": lambda h: h.put("vacuum_leak", h.size * h.hours),
    "vacuum_setpoint_wrong": puts("vacuum_set_mbar", lambda s: s),
    "gearbox_hot": puts("oil_c", lambda s: s),
    "gearbox_oil_pressure_low": puts("oil_pressure", lambda s: 1.0 - s),
    "gearbox_filter_clogging": lambda h: h.put("filter_bar", h.size * h.hours),
    "strand_break": puts("strands", lambda s: s),
    "data_stopped": _nothing,
    "controller_stale": _nothing,
}
