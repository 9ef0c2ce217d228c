"""What counts as right for each fault. Written before the bench was first run, from the trade meaning of conditions.

found: one of these conditions speaks, at priority 1 to 3, folded or not, at the fault's own zone or feeder where the
condition names one. lead: conditions that may lead (be the unfolded finding) with the cause right by their name alone.
cause: else a word in the first cause of the leading finding. family: for the table. sense: what it is not to be called.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Answer:
    """What is right."""

    family: str
    found: tuple[str, ...]
    lead: tuple[str, ...]
    cause: str
    sense: Literal["", "starved", "flooded"] = ""


def _a(family: str, found: str, lead: str, cause: str, sense: Literal["", "starved", "flooded"] = "") -> Answer:
    return Answer(family, tuple(found.split()), tuple(lead.split()), cause, sense)


PATH = "restricted screen_blinding die_plugging toward_over_pressure recipe_window freeze_off"
ANSWERS: dict[str, Answer] = {
    "feeder_bridged": _a(
        "feeder",
        "feeder_bridged feeder_off_target feeder_weight_still feed_factor_moved feeder_drive_near_limit starved",
        "feeder_bridged feeder_weight_still",
        "bridg|arch|block|rat-?hol|flow",
        "starved",
    ),
    "feeder_tripped": _a(
        "feeder",
        "feeder_tripped feeder_bridged feeder_off_target liquid_prime_lost",
        "feeder_tripped liquid_prime_lost",
        "trip|stopped|motor|drive off|switched|pump|empty",
        "starved",
    ),
    "stuck_rate": _a(
        "feeder",
        "feeder_weight_still rate_not_weight starved feeder_bridged",
        "feeder_weight_still rate_not_weight",
        "bridg|echo|frozen|held|set-point|copy|weight|block",
        "starved",
    ),
    "chute_blocked": _a("starved", "starved", "", "chute|block|path|between|takes", "starved"),
    "refill_unheard": _a(
        "feeder",
        "refill_not_answered hopper_running_empty feeder_bridged starved feeder_off_target",
        "refill_not_answered hopper_running_empty",
        "empty|refill|silo|suppl",
        "starved",
    ),
    "scale_wrong": _a(
        "feeder", "scale_wrong feed_factor_moved rate_not_weight", "scale_wrong", "scale|cell|load|span|weigh"
    ),
    "factor_drift": _a(
        "feeder",
        "feed_factor_moved feeder_drive_near_limit",
        "",
        "bulk|densit|rat-?hol|flow|build|worn|wear|stick|screw",
    ),
    "flushing": _a("feeder", "flushing scale_wrong feeder_off_target", "flushing", "flush|aerat"),
    "wrong_material": _a(
        "composition",
        "wrong_material feed_factor_moved viscous_lot",
        "wrong_material",
        "material|lot|bulk|densit|refill",
    ),
    "wrong_set": _a(
        "composition",
        "setpoint_not_recipe share_wrong composition_at_die",
        "setpoint_not_recipe",
        "set-?point|recipe|set ",
    ),
    "side_backs_up": _a(
        "feeder", "side_feeder_backing_up starved surging", "side_feeder_backing_up", "back|side|stuff|vent|fluff"
    ),
    "heater_dead": _a(
        "heater",
        "heater_dead heater_partial zone_under_temperature recipe_window",
        "heater_dead",
        "heat|band|fuse|contactor",
    ),
    "heater_part": _a("heater", "heater_partial heater_dead", "heater_partial", "band|heat|phase"),
    "contactor_stuck": _a(
        "heater", "contactor_stuck cooling_scaled shear_overheating", "contactor_stuck", "contactor|stuck|relay"
    ),
    "cooling_open": _a(
        "heater",
        "cooling_passing heater_partial zone_under_temperature heater_dead recipe_window",
        "cooling_passing",
        "cool|valve|pass",
    ),
    "cooling_shut": _a(
        "heater",
        "cooling_scaled throat_warm zone_over_temperature melt_over_temperature recipe_window",
        "cooling_scaled",
        "cool|valve|water|scal",
    ),
    "couple_open": _a("sensor", "thermocouple_open", "thermocouple_open", "couple|open|wire|sensor"),
    "couple_short": _a(
        "sensor", "thermocouple_open thermocouple_loose", "thermocouple_open", "short|couple|pinch|wire|sensor"
    ),
    "couple_loose": _a(
        "sensor", "thermocouple_loose thermocouple_open heater_partial", "thermocouple_loose", "loose|couple|seat"
    ),
    "couple_drift": _a(
        "sensor", "thermocouple_loose wrong_couple_type drift melt_temperature_drift", "", "couple|drift|sensor"
    ),
    "hunting": _a("heater", "zone_hunting", "zone_hunting", "tun|gain|control|hunt"),
    "zone_set_wrong": _a(
        "window",
        "setpoint_not_recipe zone_over_temperature melt_over_temperature recipe_window",
        "setpoint_not_recipe",
        "set-?point|recipe|operator|set ",
    ),
    "screen_blinds": _a("pressure", PATH, "screen_blinding", "screen|mesh|blind"),
    "screen_torn": _a(
        "pressure", "screen_ruptured burst_disc_or_leak restricted", "screen_ruptured", "torn|rupt|blown|screen"
    ),
    "die_blocked": _a("pressure", PATH, "die_plugging", "die|hole|plug|freez|screen|block"),
    "freezes_off": _a("pressure", PATH, "freeze_off", "freez|water|hole|die"),
    "disc_open": _a("pressure", "burst_disc_or_leak", "burst_disc_or_leak", "disc|leak|burst"),
    "viscous_lot": _a(
        "pressure",
        "viscous_lot restricted torque_high sme_off flooded toward_over_pressure recipe_window",
        "viscous_lot",
        "visc|lot|thick|material|grade",
    ),
    "moisture": _a("pressure", "moisture", "moisture", "wet|moist|water|hydro|dr(y|ier)"),
    "bulk_down": _a("flooded", "flooded backed_up starved", "", "intake|bulk|densit|throat|fluff|take", "flooded"),
    "throat_starved": _a(
        "starved",
        "starved melt_pump_starved surging",
        "melt_pump_starved",
        "bridg|empty|throat|hopper|suppl|feed",
        "starved",
    ),
    "surging": _a("pressure", "surging", "surging", "feed|throat|surg|melt|bridg"),
    "shaft_broken": _a("drive", "coupling_gone", "coupling_gone", "coupl|shaft|limiter"),
    "stops_fed": _a("drive", "feeders_screw_stopped", "feeders_screw_stopped", "stop|interlock|trip"),
    "tramp": _a("drive", "tramp_metal torque_high", "tramp_metal", "metal|hard|foreign"),
    "drive_limited": _a("drive", "speed_deviation", "speed_deviation", "drive|limit|speed|load"),
    "gearbox_hot": _a("drive", "gearbox", "gearbox", "oil|cool|gear|bear"),
    "pump_worn": _a("drive", "melt_pump_worn starved", "melt_pump_worn", "wear|worn|pump|slip"),
    "vacuum_leak": _a("vacuum", "vacuum_off", "vacuum_off", "leak|seal|pump|vacuum|pot"),
    "vent_flooded": _a("vacuum", "vent_flooded vacuum_off", "vent_flooded", "flood|melt|vent|plug", "flooded"),
    "sensor_stuck": _a("sensor", "pressure_sensor_frozen", "pressure_sensor_frozen", "froz|stuck|sensor|still"),
    "sensor_drift": _a(
        "sensor", "pressure_zero_drift restricted screen_blinding die_plugging", "", "sensor|drift|zero|screen|die"
    ),
    "cold_start": _a("cold_start", "cold_start", "cold_start", "cold|soak|heat"),
    "hot_hold": _a("hot_hold", "hot_hold", "hot_hold", "stop|hot|hold|stand"),
}
