"""Which channels a machine logs, in its units, and the values its recorder keeps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.third_plant.machine import Machine
from tests.benchmarks.third_plant.plant import Course
from tests.benchmarks.third_plant.tags import LINE_TAGS, OTHER_TAGS

Floats = NDArray[np.float64]
PSI_BAR, POUND_KG, MAGNETISING = 14.5038, 2.20462, 0.33


@dataclass(frozen=True)
class Channel:
    """One tag. key, index: in a course. decimals: stored. position: of a melt pressure."""

    tag: str
    role: str
    at: str
    unit: str
    key: str
    index: int | None
    decimals: int
    position: str = ""


def rated_current(machine: Machine) -> float:
    """Rated current of the drive, A."""
    return round(1.8 * machine.rated_kw)


def rated_torque(machine: Machine) -> float:
    """Rated torque of the drive, N m."""
    return 9550 * machine.rated_kw / machine.speed_max


def in_units(machine: Machine, channel: Channel, values: Floats) -> Floats:
    """Truth in the units of the log."""
    unit, role = channel.unit, channel.role
    if role in ("torque", "motor_current") and unit == "A":
        full, still = rated_current(machine), MAGNETISING * rated_current(machine)
        return np.sqrt(still**2 + (full**2 - still**2) * (values / 100) ** 2)
    factor = {"psi": PSI_BAR, "MPa": 0.1, "lb/h": POUND_KG, "N m": rated_torque(machine) / 100}.get(unit, 1.0)
    return values * 1.8 + 32 if unit == "degF" else values * factor


def channels(machine: Machine) -> list[Channel]:
    """Every tag of a machine's log."""
    m, d, has = machine, machine.dialect, machine.logged
    tags, whole = LINE_TAGS[d.language] | OTHER_TAGS, d.integers
    one = 0 if whole else 1
    found: list[Channel] = []

    def add(key: str, role: str, at: str, unit: str, index: int | None, decimals: int, position: str = "") -> None:
        name = (
            (at[1:] if d.language == "us" and at[:1] in "ZB" and at[1:].isdigit() else at) if "{}" in tags[key] else ""
        )
        found.append(Channel(tags[key].format(name), role, at, unit, key, index, decimals, position))

    for i, zone in enumerate(m.zones):
        add("zone", "zone_temperature", zone.name, d.temperature, i, one)
        if has.zone_setpoints:
            add("set", "zone_setpoint", zone.name, d.temperature, i, one)
        if has.outputs:
            add("output", "zone_output", zone.name, "%", i, one)
        if has.currents:
            add("amps", "zone_current", zone.name, "A", i, 1)
    add("speed", "screw_speed", "", "rpm", None, one)
    if has.speed_setpoint:
        add("speed_set", "screw_speed_setpoint", "", "rpm", None, one)
    add("load", "motor_current" if d.load == "A" else "torque", "", d.load, None, 0 if d.load == "N m" else one)
    digits = {"psi": 0, "MPa": 2}.get(d.pressure, one)
    if m.kind == "single_pump":
        add("before_pump", "melt_pressure", "P0", d.pressure, None, digits, "before_screen")
        add("suction", "melt_pressure", "PS", d.pressure, None, digits, "pump_suction")
        add("bar", "melt_pressure", "P1", d.pressure, None, digits, "pump_discharge")
        add("pump", "melt_pump_speed", "", "rpm", None, 2)
        add("rate", "line_rate", "", d.rate, None, 1)
    else:
        both = has.two_pressures and m.screen_part > 0
        add("bar", "melt_pressure", "P1", d.pressure, None, digits, "before_screen" if both else "")
        if both:
            add("after_screen", "melt_pressure", "P2", d.pressure, None, digits, "after_screen")
    if has.melt:
        add("melt", "melt_temperature", "M1", d.temperature, None, one)
    for i, feeder in enumerate(m.feeders):
        nominal = m.rate_kg_h * feeder.share_pct / 100
        digits = 3 if nominal < 5 else 2 if nominal < 60 else 1
        add("fed", "feeder_rate", feeder.name, d.rate, i, digits)
        add("fed_set", "feeder_setpoint", feeder.name, d.rate, i, digits)
        if has.drives:
            add("drive", "feeder_drive", feeder.name, "%", i, 1)
        if has.weights and feeder.weighed:
            add("weight", "feeder_weight", feeder.name, "kg", i, 3 if feeder.hopper_kg < 15 else 2)
        if has.refill and feeder.weighed and not feeder.liquid:
            add("refill", "feeder_refill", feeder.name, "", i, 0)
            add("gravimetric", "feeder_gravimetric", feeder.name, "", i, 0)
        if feeder.liquid and has.drives:
            add("injection", "injection_pressure", feeder.name, "bar", None, 1)
    first_side = next((f for f in m.feeders if f.side), None)
    if first_side is not None and has.stuffer:
        add("stuffer", "stuffer_load", first_side.name, "%", None, 1)
    if m.hopper_kg > 0 and has.weights:
        add("hopper", "feeder_weight", "HOP", "kg", None, 1)
    if m.vent:
        add("vacuum", "vacuum", "V1", "mbar", None, 0)
    for key, role, logged in (
        ("oil", "gearbox_oil_temperature", has.oil), ("throat_c", "throat_temperature", has.throat),
        ("hall", "ambient_temperature", has.hall), ("bath", "bath_temperature", m.underwater),
        ("cutter", "cutter_speed", m.underwater), ("product", "diverter_to_product", m.underwater and has.refill),
    ):  # fmt: skip
        if logged:
            add(
                key,
                role,
                "",
                {"cutter": "rpm", "product": ""}.get(key, "C"),
                None,
                0 if key in ("cutter", "product") else 1,
            )
    return found


def kept(machine: Machine, course: Course, channel: Channel) -> Floats:
    """What the recorder keeps of a channel: at the cadence, in its unit, rounded."""
    every = round(machine.cadence_s / course.step_s)
    values = course.values[channel.key]
    column = (values if channel.index is None else values[:, channel.index])[::every]
    return np.round(in_units(machine, channel, column), channel.decimals)
