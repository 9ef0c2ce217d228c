"""On which feeders or zones of a plant a fault has something to move."""

from __future__ import annotations

from sample_logs.faults import FAULTS
from sample_logs.plant import Plant

SHEAR_HEATED_PCT = 12.0
"""Below this duty a dead heater does not show while the line runs."""
COOLS_PCT = -10.0
NEAR_LIMIT_PCT = 65.0
"""Below this torque a raised rate floods the intake or outruns the feeders before it reaches the torque limit."""
NEARLY_COOLS_PCT = 25.0
APART_C = 8.0
"""Set-points of two zones must be so far apart for swapped couples to show."""
TAKE_UP_WATER = ("amid AX", "ester BX")
POWDERS_ONLY = ("feeder_bridged", "feeder_bridged_volumetric", "rat_holing", "feeder_runs_through", "refill_flushing",
                "wrong_material", "refill_valve_leaks", "scale_hung_up")  # fmt: skip


def possible_faults(plant: Plant) -> tuple[str, ...]:
    """Kinds of fault this plant can have and that can be seen in some channel, logged or not."""
    return tuple(name for name, kind in FAULTS.items() if plant.kind in kind.lines and subjects(plant, name))


def subjects(plant: Plant, kind: str) -> tuple[str, ...]:
    """Feeders or zones of the plant on which the fault has something to move; ('',) for the whole line."""
    on = FAULTS[kind].on
    if on == "line":
        return ("",) if _line_can(plant, kind) else ()
    if on == "feeder":
        liquid = plant.facts.get("liquid", "")
        if kind.startswith("liquid_"):
            return (liquid,) if liquid else ()
        return tuple(f for f in plant.feeders if f != liquid or kind not in POWDERS_ONLY)
    return _zones(plant, kind)


def _zones(plant: Plant, kind: str) -> tuple[str, ...]:
    duty = {zone: plant.facts["steady"][f"zone_output:{zone}"] for zone in plant.zones}
    if kind in ("heater_dead", "heater_partial", "contactor_on", "thermocouple_open"):
        return tuple(z for z in plant.zones[1:] if duty[z] > SHEAR_HEATED_PCT)
    if kind == "cooling_dead":
        return tuple(z for z in plant.zones if duty[z] < COOLS_PCT)
    if kind == "cold_start":
        return plant.zones[-3:]
    if kind in ("steam_flash", "shear_overheats_zone"):
        return tuple(z for z in plant.zones[2:-3] if duty[z] < NEARLY_COOLS_PCT)
    if kind == "couples_swapped":
        wanted = plant.nominal.zone_c
        return tuple(plant.zones[i] for i in range(1, len(wanted) - 2) if abs(wanted[i + 1] - wanted[i]) > APART_C)
    if kind in ("zone_under_temperature", "zone_over_temperature", "cooling_stuck", "thermocouple_loose"):
        return plant.zones[2:]
    return plant.zones[1:]


def _line_can(plant: Plant, kind: str) -> bool:
    if kind == "flooded_torque":
        return plant.facts["steady"]["torque"] > NEAR_LIMIT_PCT
    if kind in ("side_feeder_backs_up", "filler_first"):
        return "F4" in plant.feeders
    if kind == "moisture":
        return plant.facts["polymer"].name in TAKE_UP_WATER
    if kind == "cooling_all_lost":
        return sum(plant.facts["steady"][f"zone_output:{zone}"] < COOLS_PCT / 2 for zone in plant.zones) >= 2
    if kind in ("strand_break", "gearbox_oil_pressure_low", "gearbox_filter_clogging"):
        return "surroundings" in plant.facts
    return True
