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
    "through": ("feeder", 0.0),  # flow past the feed screw, part of the set-point
    "holes": ("feeder", 0.0),  # depth of the dips of a rat-holing hopper
    "inflow": ("feeder", 0.0),  # what leaks into the hopper, part of the set-point
    "recall": ("feeder", 0.0),  # 1: a refill is called at once
    "by_hand": ("feeder", 0.0),  # 1: filled by hand, the controller told to hold its drive meanwhile
    "rate_echo": ("feeder", 0.0),  # 1: the reported rate is the set-point
    "volumetric": ("feeder", 0.0),  # 1: left in volumetric mode
    "nozzle": ("feeder", 0.0),  # part of a liquid's nozzle that is shut
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
    "manual": ("zone", 0.0),  # 1: controller in manual
    "manual_pct": ("zone", 0.0),  # its output then
    "couple_gain": ("zone", 1.0),  # rise over the hall that the couple shows (wrong type)
    "swapped": ("zone", 0.0),  # 1, -1: shows the next, the last zone's couple
    "flash_pct": ("zone", 0.0),  # cooling in each steam flash
    "flash_period_s": ("zone", 180.0),
    "shear_pct": ("zone", 0.0),  # heat from the screw into the wall, % of the bands
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
    "clock_s": ("line", 0.0),  # time of the run; set each step, moves whatever swings
    "mains": ("line", 1.0),  # mains voltage over nominal
    "swing": ("line", 0.0),  # amplitude of a hunting speed, part
    "swing_period_s": ("line", 40.0),
    "slip": ("line", 0.0),  # speed below its set-point, part
    "tramp": ("line", 0.0),  # torque spikes, part of rated
    "ripple": ("line", 0.0),  # pressure ripple at the screw's turns, part
    "melt_leak": ("line", 0.0),  # part of the melt that leaks ahead of the die
    "pressure_lag_s": ("line", 0.0),  # plugged pressure sensor
    "steam": ("line", 0.0),  # moisture in the melt: noise at vent and pressure
    "dew_c": ("line", 0.0),  # dryer's dew point over its usual
    "vacuum_set_mbar": ("line", 0.0),  # added to the vacuum's set-point
    "seal_water_mbar": ("line", 0.0),  # what warm seal water costs the pump
    "oil_c": ("line", 0.0),  # gearbox oil over what the load makes
    "oil_pressure": ("line", 1.0),  # part of the oil pressure left
    "filter_bar": ("line", 0.0),  # added drop over the oil filter
    "throat_c": ("line", 0.0),  # throat jacket over its usual
    "water_c": ("line", 0.0),  # cooling water over its usual
    "bath_c": ("line", 0.0),  # water bath over its usual
    "strands": ("line", 0.0),  # strands broken
    "jog_rpm": ("line", 0.0),  # small change of the set speed by a trim
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
    through: np.ndarray
    holes: np.ndarray
    inflow: np.ndarray
    recall: np.ndarray
    by_hand: np.ndarray
    rate_echo: np.ndarray
    volumetric: np.ndarray
    nozzle: np.ndarray
    manual: np.ndarray
    manual_pct: np.ndarray
    couple_gain: np.ndarray
    swapped: np.ndarray
    flash_pct: np.ndarray
    flash_period_s: np.ndarray
    shear_pct: np.ndarray
    clock_s: np.ndarray
    mains: np.ndarray
    swing: np.ndarray
    swing_period_s: np.ndarray
    slip: np.ndarray
    tramp: np.ndarray
    ripple: np.ndarray
    melt_leak: np.ndarray
    pressure_lag_s: np.ndarray
    steam: np.ndarray
    dew_c: np.ndarray
    vacuum_set_mbar: np.ndarray
    seal_water_mbar: np.ndarray
    oil_c: np.ndarray
    oil_pressure: np.ndarray
    filter_bar: np.ndarray
    throat_c: np.ndarray
    water_c: np.ndarray
    bath_c: np.ndarray
    strands: np.ndarray
    jog_rpm: np.ndarray

    def calm(self, run: int) -> None:
        """Puts one run back to neutral."""
        for name, (_, neutral) in NEUTRAL.items():
            getattr(self, name)[..., run] = neutral


def no_upsets(feeders: int, zones: int, runs: int) -> Upsets:
    """Everything neutral."""
    sizes = {"feeder": (feeders, runs), "zone": (zones, runs), "line": (runs,)}
    return Upsets(**{f.name: np.full(sizes[NEUTRAL[f.name][0]], NEUTRAL[f.name][1]) for f in fields(Upsets)})
