"""What each fault does to the plant: which upsets it moves, and by how much at a time."""

from __future__ import annotations

import math

import numpy as np

from sample_logs.fault_effects_feeding import FEEDING
from sample_logs.fault_effects_heat import HEAT
from sample_logs.fault_effects_line import REST_OF_LINE
from sample_logs.fault_hit import Effect, Hit, puts
from sample_logs.faults import FAULTS, Fault
from sample_logs.plant import Plant
from sample_logs.upsets import TC_FROZEN, TC_OPEN, TC_SHORTED, Upsets

FREE_INTAKE = 3.0
"""Intake over nominal with dense pellets: the torque is what limits then."""
SURGE_PASSAGES = 1.5
"""Period of a feed surge in mean passages through the screw; shorter ones are smoothed out on the way."""
TORQUE_PER_RATE = 0.8
"""Torque goes with about this power of the rate, speed held; found by running the plant."""


def size_at(fault: Fault, time_s: float) -> tuple[float, float]:
    """Size at a time since the run's start (0 outside the fault) and hours since it began."""
    if not fault.start_s <= time_s < fault.end_s:
        return 0.0, 0.0
    since = time_s - fault.start_s
    ramp = FAULTS[fault.kind].ramp_s
    return fault.severity * (min(since / ramp, 1.0) if ramp > 0 else 1.0), since / 3600.0


def apply(upset: Upsets, run: int, plant: Plant, fault: Fault, time_s: float) -> None:
    """Moves the upsets of one run by one fault; the run must have been calmed first."""
    size, hours = size_at(fault, time_s)
    if size == 0.0:
        if fault.kind == "cold_start" and time_s < fault.start_s:
            size = fault.severity
        else:
            return
    _EFFECTS[fault.kind](Hit(upset, run, subject_index(plant, fault), size, hours, plant, fault.severity))


def subject_index(plant: Plant, fault: Fault) -> int:
    """Index of the fault's feeder or zone; 0 for the whole line."""
    on = FAULTS[fault.kind].on
    if on == "line":
        return 0
    names = plant.feeders if on == "feeder" else plant.zones
    if fault.subject not in names:
        raise ValueError(f"fault {fault.kind}: no {on} '{fault.subject}' in plant {plant.name} ({', '.join(names)})")
    return plant.facts["slots"][names.index(fault.subject)] if on == "feeder" else names.index(fault.subject)


def still_growing(fault: Fault, time_s: float) -> bool:
    """Whether the fault's size changes with time at this moment."""
    ramp = FAULTS[fault.kind].ramp_s
    return fault.start_s <= time_s < fault.end_s and (ramp < 0 or (ramp > 0 and time_s - fault.start_s < ramp))


def ultimate_gain(plant: Plant, zone: int) -> float:
    """Ultimate gain of a zone's loop, % per C: pi tau / (2 K dead time), with the probe's lag as dead time."""
    p = plant.parameters.zone
    dead = float(p.dead_s[zone] + p.probe_s[zone])
    return math.pi * float(p.tau_s[zone]) / (2.0 * float(p.gain_c_pct[zone]) * dead)


def _off_target(h: Hit) -> None:
    drive = float(h.plant.settled.feeder.drive_pct[h.index, 0])
    limit = float(h.plant.parameters.feeder.drive_limit_pct[h.index])
    h.put("factor_gain", (1.0 - h.size) * drive / limit)


def _bridged_volumetric(h: Hit) -> None:
    h.put("outlet", 1.0 - h.size)
    h.put("falls_back", 1.0)


def _flooded_intake(h: Hit) -> None:
    h.put("intake", h.plant.facts["intake_fill"] * (1.0 - h.size))


def _flooded_torque(h: Hit) -> None:
    demand = (1.0 + h.size) * 100.0 * float(h.plant.parameters.drive.limit) / h.plant.facts["steady"]["torque"]
    h.put("intake", FREE_INTAKE)
    rising = min(h.hours * 3600.0 / FAULTS["flooded_torque"].ramp_s, 1.0)
    h.times("rate_gain", 1.0 + (demand ** (1.0 / TORQUE_PER_RATE) - 1.0) * rising)


def _screen(h: Hit, part: float) -> None:
    die = h.plant.parameters.die
    h.add("screen", part * float(die.die_bar + die.screen_bar) / float(die.screen_bar))


def _hunting(h: Hit) -> None:
    kp = float(h.plant.parameters.control.kp_pct_c[h.index])
    h.put("loop_gain", h.size * ultimate_gain(h.plant, h.index) / kp)


def _surging(h: Hit) -> None:
    settled = h.plant.settled.barrel
    passage_s = float(settled.content_kg[:-3].sum()) / float(settled.passed_kg[-1, 0])
    h.put("surge", h.size)
    h.put("surge_period_s", SURGE_PASSAGES * passage_s)


def _cold(h: Hit) -> None:
    h.put("setpoint_cap_c", h.plant.facts["soften_c"] - h.size)


def _vent(h: Hit) -> None:
    h.put("vent_flooded", h.size)
    h.times("dissipation", 1.0 + 0.05 * h.size)


def _both(h: Hit, first: str, second: str) -> None:
    h.put(first, 1.0)
    h.put(second, 1.0)


_EFFECTS: dict[str, Effect] = {
    "feeder_bridged": puts("outlet", lambda s: 1.0 - s),
    "feeder_bridged_volumetric": _bridged_volumetric,
    "feeder_tripped": puts("tripped", lambda s: 1.0),
    "feeder_empty": puts("supply", lambda s: 0.0),
    "feeder_off_target": _off_target,
    "wrong_setpoint": puts("setpoint_gain", lambda s: 1.0 + s),
    "scale_span": puts("span", lambda s: 1.0 + s),
    "path_blocked": puts("path", lambda s: 1.0 - s),
    "refill_flushing": puts("flush", lambda s: s),
    "flooded_intake": _flooded_intake,
    "flooded_torque": _flooded_torque,
    "throat_bridged": puts("throat_open", lambda s: 1.0 - s),
    "hopper_empty": puts("loader", lambda s: 0.0),
    "surging": _surging,
    "viscous_lot": lambda h: h.add("ln_lot", float(np.log1p(h.size))),
    "screen_blinding": lambda h: _screen(h, h.size * h.hours),
    "restricted": lambda h: _screen(h, h.size),
    "die_blocked": lambda h: h.times("die", min(1.0 / max(1.0 - h.size, 1e-3), 1e3)),
    "burst_disc": puts("leak", lambda s: 1.0),
    "pressure_frozen": puts("pressure_frozen", lambda s: 1.0),
    "pressure_drift": lambda h: h.add("ln_lot", float(np.log1p(h.size * h.hours))),
    "heater_dead": puts("heater", lambda s: 1.0 - s),
    "heater_partial": puts("heater", lambda s: 1.0 - s),
    "contactor_on": puts("stuck_pct", lambda s: 100.0 * s),
    "cooling_stuck": puts("cooling_pct", lambda s: 100.0 * s),
    "cooling_dead": puts("cooler", lambda s: 1.0 - s),
    "thermocouple_open": puts("couple", lambda s: TC_OPEN),
    "thermocouple_shorted": puts("couple", lambda s: TC_SHORTED),
    "thermocouple_frozen": puts("couple", lambda s: TC_FROZEN),
    "thermocouple_loose": puts("couple_low_c", lambda s: s),
    "zone_hunting": _hunting,
    "zone_over_temperature": puts("setpoint_c", lambda s: s),
    "zone_under_temperature": puts("setpoint_c", lambda s: -s),
    "melt_over_temperature": lambda h: h.times("dissipation", 1.0 + h.size),
    "melt_temperature_drift": lambda h: h.times("dissipation", 1.0 + h.size * h.hours),
    "cold_start": _cold,
    "hot_hold": lambda h: _both(h, "screw_stopped", "feed_stopped"),
    "feeding_stopped_screw": lambda h: _both(h, "screw_stopped", "interlock_off"),
    "turning_empty": puts("feed_stopped", lambda s: 1.0),
    "coupling_gone": puts("uncoupled", lambda s: 1.0),
    "vacuum_lost": puts("vacuum_leak", lambda s: s),
    "vent_flooded": _vent,
    **FEEDING,
    **HEAT,
    **REST_OF_LINE,
}
