"""What faults and disturbances change in the plant. Every array has a neutral value; a fault moves some of them."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

TC_GOOD, TC_OPEN, TC_SHORTED, TC_FROZEN = 0.0, 1.0, 2.0, 3.0

NEUTRAL: dict[str, tuple[str, float]] = {
    # per feeder
    "outlet": ("feeder", 1.0),  # part of the hopper's outlet that is open
    "tripped": ("feeder", 0.0),  # 1: drive off
    "supply": ("feeder", 1.0),  # 0: a refill finds nothing
    "span": ("feeder", 1.0),  # gain of the load cell
    "setpoint_gain": ("feeder", 1.0),  # wrong set-point, followed
    "factor_gain": ("feeder", 1.0),  # feed factor (bulk density, flight fill)
    "flush": ("feeder", 0.0),  # extra relative flow while a refill falls in
    "falls_back": ("feeder", 0.0),  # 1: controller falls back to volumetric at its drive limit
    "touched_kg": ("feeder", 0.0),  # load on the scale that is no material
    "sampled": ("feeder", 0.0),  # 1: flow caught in a cup, not fed
    # per zone
    "heater": ("zone", 1.0),  # part of the bands that heat
    "stuck_pct": ("zone", 0.0),  # heating that comes whatever the controller says, % of the bands
    "cooling_pct": ("zone", 0.0),  # cooling that comes whatever the controller says
    "cooler": ("zone", 1.0),  # part of the cooling that still works
    "couple": ("zone", TC_GOOD),  # state of the thermocouple
    "couple_low_c": ("zone", 0.0),  # loose: reads so much low at full wall temperature
    "loop_gain": ("zone", 1.0),  # factor on the controller's gain
    "setpoint_c": ("zone", 0.0),  # added to the zone's set-point
    "setpoint_cap_c": ("zone", 1000.0),  # zone not heated beyond this
    "draught": ("zone", 1.0),  # factor on the loss to the hall
    # per line
    "path": ("line", 1.0),  # part of the way between feeders and throat that is open
    "side_path": ("line", 1.0),
    "intake": ("line", 1.0),  # part of the nominal intake capacity
    "rate_gain": ("line", 1.0),  # factor on all feeder set-points (a changed rate)
    "ln_lot": ("line", 0.0),  # ln of the melt's consistency over nominal
    "dissipation": ("line", 1.0),  # factor on screw heat
    "screen": ("line", 0.0),  # added to the screen's relative resistance
    "die": ("line", 1.0),  # factor on the die's resistance
    "leak": ("line", 0.0),  # 1: burst disc open
    "pressure_frozen": ("line", 0.0),
    "pressure_offset_bar": ("line", 0.0),
    "screw_stopped": ("line", 0.0),
    "feed_stopped": ("line", 0.0),
    "interlock_off": ("line", 0.0),  # 1: feeders go on when the screw stops
    "uncoupled": ("line", 0.0),  # 1: motor turns, screw does not
    "speed_gain": ("line", 1.0),
    "vacuum_leak": ("line", 0.0),
    "vent_flooded": ("line", 0.0),
    "surge": ("line", 0.0),  # depth of feed surges, single screw
    "surge_period_s": ("line", 60.0),
    "throat_open": ("line", 1.0),  # single screw: part of the throat that is open
    "loader": ("line", 1.0),  # single screw: 0 = nothing comes into the hopper
}
"""Name of each upset: what it belongs to and its neutral value."""


@dataclass
class Upsets:
    """One array per name in NEUTRAL, shape [feeder, run], [zone, run] or [run]."""

    outlet: np.ndarray
    tripped: np.ndarray
    supply: np.ndarray
    span: np.ndarray
    setpoint_gain: np.ndarray
    factor_gain: np.ndarray
    flush: np.ndarray
    falls_back: np.ndarray
    touched_kg: np.ndarray
    sampled: np.ndarray
    heater: np.ndarray
    stuck_pct: np.ndarray
    cooling_pct: np.ndarray
    cooler: np.ndarray
    couple: np.ndarray
    couple_low_c: np.ndarray
    loop_gain: np.ndarray
    setpoint_c: np.ndarray
    setpoint_cap_c: np.ndarray
    draught: np.ndarray
    path: np.ndarray
    side_path: np.ndarray
    intake: np.ndarray
    rate_gain: np.ndarray
    ln_lot: np.ndarray
    dissipation: np.ndarray
    screen: np.ndarray
    die: np.ndarray
    leak: np.ndarray
    pressure_frozen: np.ndarray
    pressure_offset_bar: np.ndarray
    screw_stopped: np.ndarray
    feed_stopped: np.ndarray
    interlock_off: np.ndarray
    uncoupled: np.ndarray
    speed_gain: np.ndarray
    vacuum_leak: np.ndarray
    vent_flooded: np.ndarray
    surge: np.ndarray
    surge_period_s: np.ndarray
    throat_open: np.ndarray
    loader: np.ndarray

    def calm(self, run: int) -> None:
        """Puts one run back to neutral."""
        for name, (_, neutral) in NEUTRAL.items():
            getattr(self, name)[..., run] = neutral


def no_upsets(feeders: int, zones: int, runs: int) -> Upsets:
    """Everything neutral."""
    sizes = {"feeder": (feeders, runs), "zone": (zones, runs), "line": (runs,)}
    return Upsets(**{f.name: np.full(sizes[NEUTRAL[f.name][0]], NEUTRAL[f.name][1]) for f in fields(Upsets)})
