"""Which finding can explain which: by physics, one line each, and how late a cause may be dated.

A cause explains what follows from it and no more: a feed that fails takes rate, share, torque and pressure with it;
a dead heater or couple takes its zone's temperature.
"""

from __future__ import annotations

DATED_LATE_S = {
    "feed_factor_moved": 600,
    "scale_wrong": 300,
    "scale_jumped": 180,
    "wrong_material": 300,
    "material_changed": 360,
    "rate_not_weight": 1800,
    "refill_valve_leaking": 1200,
    "feeder_bridged": 180,
    "feeder_in_bursts": 180,
    "feeder_drive_near_limit": 120,
    "feeder_off_target": 300,
    "feeder_weight_still": 900,
    "contactor_stuck": 2400,
    "cooling_passing": 2400,
    "cooling_scaled": 900,
    "couples_swapped": 1500,
    "heater_dead": 2400,
    "heater_partial": 2400,
    "setpoint_not_recipe": 900,
    "sme_off": 240,
    "starved": 360,
    "restricted": 180,
    "share_wrong": 300,
    "shear_overheating": 900,
    "steam_flash": 1800,
    "surging": 1500,
    "thermocouple_frozen": 2400,
    "thermocouple_loose": 2400,
    "toward_over_pressure": 300,
    "viscous_lot": 180,
    "wrong_couple_type": 4500,
    "zone_hunting": 5400,
    "zone_in_manual": 1500,
    "controller_stale": 240,
    "die_plugging": 7200,
    "moisture": 900,
    "pressure_sensor_frozen": 900,
    "screen_blinding": 7200,
    "drift": 3600,
}
"""How much later than it really began a cause may be dated, seconds: the window its rule looks back over."""

TEMPERATURES = (
    "zone_over_temperature", "zone_under_temperature", "melt_over_temperature", "melt_under_temperature",
)  # fmt: skip

ZONES = ("zone_over_temperature", "zone_under_temperature")

SHARES = ("share_wrong", "composition_at_die")
FEED_LOST = ("starved", *SHARES, "recipe_window", "drift", "sme_off", "screen_ruptured", "melt_pump_starved")
"""What follows where less of an ingredient comes."""

LIQUID_LOST = (
    *SHARES, "feed_factor_moved", "sme_off", "viscous_lot", "screen_blinding", "die_plugging", "recipe_window", "drift",
)  # fmt: skip
"""What follows where oil, plasticiser or lubricant is missing: the melt is thicker."""

COLDER_MELT = ("restricted", "viscous_lot", "recipe_window", "melt_under_temperature")
"""What follows where melt or the wall it passes is too cold: it is stiffer."""

HEAT_LACKS = ("heater_dead", "heater_partial", "cooling_passing")
"""What a zone seems to lack whose reading is too low."""

SCALE_LIES = (
    "wrong_material", "feed_factor_moved", "sme_off", "starved", "flooded", "viscous_lot", "recipe_window", "drift",
    "melt_pump_worn",
)  # fmt: skip
"""What follows where more or less is fed than is shown."""

OTHER_MATERIAL = (
    "feed_factor_moved", "feeder_off_target", "sme_off", "screen_ruptured", "moisture", "viscous_lot", "recipe_window",
    "drift", "melt_over_temperature", "melt_under_temperature",
)  # fmt: skip
"""What follows where something thinner or thicker, denser or lighter comes."""

BY_A_WALL = ("screen_blinding", "die_plugging", "restricted", "recipe_window")
"""What a die or adapter does that is colder than is known."""

BY_A_COUPLE = (
    "thermocouple_loose", "contactor_stuck", "cooling_scaled", "shear_overheating", "zone_hunting", "drift",
)  # fmt: skip
"""What the rules see of a zone whose couple shows something else than its steel."""

EXPLAINS: dict[str, tuple[str, ...]] = {
    "cold_start": ("soak_short",),
    "refill_not_answered": ("hopper_running_empty", "feeder_bridged", "feeder_off_target", *FEED_LOST, *TEMPERATURES),
    "hopper_running_empty": ("feeder_bridged", "feeder_off_target", *FEED_LOST, *TEMPERATURES),
    "refill_valve_leaking": ("scale_wrong", "scale_jumped", "rate_not_weight", "feed_factor_moved"),
    "flushing": (
        "wrong_material",
        "feeder_bridged",
        "feeder_weight_still",
        "rate_not_weight",
        "feeder_off_target",
        "feed_factor_moved",
        "flooded",
        "restricted",
        "viscous_lot",
        "sme_off",
        "torque_high",
        "speed_deviation",
        *SHARES,
        "recipe_window",
        "drift",
    ),
    "liquid_prime_lost": ("feeder_bridged", "feeder_tripped", "feeder_off_target", *LIQUID_LOST),
    "liquid_nozzle_plugged": ("feeder_bridged", "feeder_off_target", *LIQUID_LOST),
    "feeder_bridged": (
        "feeder_off_target",
        "feeder_drive_near_limit",
        "feed_factor_moved",
        "rate_not_weight",
        *FEED_LOST,
    ),
    "feeder_tripped": ("feeder_off_target", "feed_factor_moved", "rate_not_weight", "flooded", *FEED_LOST),
    "feeder_weight_still": ("rate_not_weight", "volumetric_too_long", *FEED_LOST),
    "rate_not_weight": ("volumetric_too_long", *FEED_LOST),
    "wrong_material": ("scale_wrong", "material_changed", *OTHER_MATERIAL),
    "material_changed": OTHER_MATERIAL,
    "scale_wrong": SCALE_LIES,
    "scale_jumped": ("scale_wrong", "feeder_off_target", *SCALE_LIES),
    "feed_factor_moved": ("feeder_drive_near_limit", "feeder_off_target"),
    "feeder_drive_near_limit": ("feeder_off_target",),
    "feeder_in_bursts": (
        "flushing",
        "feeder_off_target",
        "feed_factor_moved",
        "feeder_drive_near_limit",
        "starved",
        "flooded",
        "torque_high",
        "speed_deviation",
        "sme_off",
        *SHARES,
        "recipe_window",
        "drift",
        "screen_ruptured",
    ),
    "feeder_off_target": ("starved", "flooded", *SHARES, "recipe_window", "drift", "screen_ruptured"),
    "side_feeder_backing_up": (
        "wrong_material",
        "starved",
        "flooded",
        "sme_off",
        "recipe_window",
        "drift",
        "screen_ruptured",
    ),
    "start_order": ("starved", *SHARES),
    "starved": ("recipe_window", "drift", *TEMPERATURES, "sme_off", "melt_pump_starved", "screen_ruptured", "surging"),
    "flooded": ("vent_flooded", "backed_up", "viscous_lot", "recipe_window", "drift", *TEMPERATURES, "sme_off"),
    "coupling_gone": ("sme_off", "starved", "recipe_window", "drift", *TEMPERATURES),
    "restricted": ("flooded", "vent_flooded", "backed_up", "recipe_window", "drift", *TEMPERATURES),
    "viscous_lot": (
        "sme_off",
        "flooded",
        "vent_flooded",
        "backed_up",
        "screen_blinding",
        "die_plugging",
        "recipe_window",
        "drift",
        *TEMPERATURES,
    ),
    "backed_up": ("vent_flooded",),
    "vent_flooded": ("vacuum_off", "sme_off", "moisture", "drift"),
    "surging": ("starved", "screen_ruptured", "sme_off", "recipe_window", "drift"),
    "toward_over_pressure": ("recipe_window", "drift"),
    "heater_dead": (
        *ZONES,
        "heater_partial",
        "heater_dead",
        "thermocouple_loose",
        "drift",
        "screen_blinding",
        "die_plugging",
        "sme_off",
        *COLDER_MELT,
    ),
    "thermocouple_open": (
        *ZONES,
        *HEAT_LACKS,
        "couples_swapped",
        *BY_A_COUPLE,
        "moisture",
        "melt_over_temperature",
        "melt_under_temperature",
        "sme_off",
        "viscous_lot",
        "restricted",
        "recipe_window",
    ),
    "thermocouple_frozen": (*ZONES, *HEAT_LACKS, *BY_A_COUPLE, "wrong_couple_type", *BY_A_WALL),
    "share_wrong": ("composition_at_die", "drift", "sme_off"),
    "setpoint_not_recipe": (*TEMPERATURES, "setpoint_not_recipe", *SHARES, "recipe_window", "drift"),
    "zone_in_manual": (
        "zone_over_temperature",
        "zone_under_temperature",
        "cooling_passing",
        "heater_partial",
        "drift",
        "moisture",
    ),
    "couples_swapped": (*ZONES, *HEAT_LACKS, *BY_A_COUPLE, "wrong_couple_type"),
    "wrong_couple_type": ("zone_over_temperature", "zone_under_temperature", "heater_partial", "drift"),
    "thermocouple_loose": ("zone_under_temperature", "heater_partial", "heater_dead", "drift"),
    "contactor_stuck": (
        "zone_over_temperature",
        "zone_under_temperature",
        "melt_over_temperature",
        "shear_overheating",
        "cooling_scaled",
        "contactor_stuck",
        "screen_ruptured",
        "recipe_window",
        "drift",
        "moisture",
    ),
    "cooling_scaled": (
        "zone_over_temperature",
        "zone_under_temperature",
        "shear_overheating",
        "cooling_scaled",
        "drift",
    ),
    "cooling_passing": (
        "zone_under_temperature",
        "zone_over_temperature",
        "heater_partial",
        "thermocouple_loose",
        "drift",
        *COLDER_MELT,
    ),
    "heater_partial": (
        "zone_under_temperature",
        "zone_over_temperature",
        "heater_partial",
        "screen_blinding",
        "die_plugging",
        "drift",
    ),
    "shear_overheating": ("zone_over_temperature", "drift"),
    "steam_flash": (*ZONES, "zone_hunting", "heater_partial", "cooling_passing"),
    "zone_hunting": ("zone_over_temperature", "zone_under_temperature"),
    "burst_disc_or_leak": (
        "recipe_window",
        "drift",
        "moisture",
        "screen_ruptured",
        "sme_off",
        "pressure_sensor_frozen",
    ),
    "data_stopped": ("controller_stale",),
    "controller_stale": (
        "pressure_sensor_frozen",
        "thermocouple_frozen",
        "feeder_weight_still",
        "zone_in_manual",
        "share_wrong",
        "drift",
    ),
    "tramp_metal": ("torque_high", "speed_deviation"),
    "pressure_sensor_frozen": ("pressure_sensor_plugged", "recipe_window", "drift"),
    "screen_ruptured": ("recipe_window", "drift", "moisture", "sme_off"),
    "freeze_off": ("restricted", "recipe_window", "drift"),
    "screen_blinding": ("restricted", "recipe_window", "drift", "melt_pump_starved"),
    "die_plugging": ("restricted", "recipe_window", "drift"),
    "throat_hopper_emptying": ("starved", "melt_pump_starved", "sme_off", "recipe_window", "drift", *TEMPERATURES),
    "throat_warm": ("starved", "flooded", "sme_off", "recipe_window", "drift", "melt_under_temperature"),
    "speed_not_recipe": ("recipe_window", "drift", "sme_off"),
    "speed_deviation": ("surging", "flooded", "sme_off", "recipe_window", "drift"),
    "sme_off": (*TEMPERATURES, "recipe_window", "drift"),
    "zone_under_temperature": (
        "drift",
        "screen_blinding",
        "die_plugging",
        "sme_off",
        *COLDER_MELT,
        "zone_over_temperature",
    ),
    "zone_over_temperature": ("screen_ruptured", "recipe_window", "drift", *TEMPERATURES),
    "melt_over_temperature": ("recipe_window", "drift", "zone_over_temperature"),
    "moisture": ("recipe_window", "drift", "sme_off", "melt_under_temperature"),
    "melt_pump_worn": ("recipe_window", "drift"),
    "melt_pump_starved": ("speed_deviation", "recipe_window", "drift", "sme_off", *TEMPERATURES),
    "drift": ("drift",),
}
"""condition -> conditions whose findings it can explain."""

STANDS_IN_ITS_MATERIAL = (
    "feeder_bridged", "feeder_tripped", "feeder_off_target", "feeder_weight_still", "feed_factor_moved",
    "feeder_drive_near_limit",
)  # fmt: skip
BACKS_UP = {"starved": STANDS_IN_ITS_MATERIAL, "flooded": STANDS_IN_ITS_MATERIAL}
"""What a blocked path or a flooded intake does to the feeders before it, a minute and more later."""

BACKS_UP_AFTER_S = 60

NEAR_BY = (
    "heater_dead", "thermocouple_open", "setpoint_not_recipe", "zone_in_manual", "couples_swapped",
    "wrong_couple_type", "thermocouple_loose", "contactor_stuck", "cooling_scaled", "cooling_passing",
    "thermocouple_frozen", "heater_partial", "shear_overheating", "steam_flash", "zone_hunting",
    "zone_under_temperature",
)  # fmt: skip
"""These explain only what happens in their own zone and the next ones, which they heat and cool, and a slow drift
of the melt; beyond the screw also what colder melt does to the pressure."""

OF_SEVERAL = {
    "heater_dead": "zone_output",
    "heater_partial": "zone_output",
    "cooling_scaled": "cooling_water_temperature",
    "setpoint_not_recipe": "zone_setpoint",
}
"""Channel of the one finding of a condition that stands for many at once, a phase, a header, a recipe: it explains
each of them, and no single one explains another."""

SPREADS = ("contactor_stuck", "heater_dead")
"""What one zone does beside another looks there like the same fault: the older explains it."""

SPREADS_BY_SHARE = ("heater_dead",)
"""Of these, only what neighbours that couple make: a second dead heater is its own finding."""

LATE_FOR_S = {
    ("screen_blinding", "restricted"): 1200,
    ("die_plugging", "restricted"): 600,
    ("flushing", "viscous_lot"): 900,
}
"""Pairs of which the second comes with the first or not at all: dated late by no more, seconds. A screen is told from
four points of five minutes at least, by when its pressure is over its limit where it fills fast; what ran through a
feeder while it was filled, a quarter of an hour where that is done by hand, is told by its weight when that is over."""

OF_TWO_ZONES = ("couples_swapped",)
"""Said of the first of two zones: what it does is about the second, and its neighbours, as well."""

AFTERMATH_S = 1200
OF_ONE_FEEDER = (
    "refill_not_answered", "hopper_running_empty", "refill_valve_leaking", "flushing", "liquid_prime_lost",
    "liquid_nozzle_plugged", "feeder_bridged", "feeder_tripped", "feeder_weight_still", "rate_not_weight",
    "volumetric_too_long", "wrong_material", "material_changed", "scale_wrong", "scale_jumped", "feed_factor_moved",
    "feeder_in_bursts", "feeder_drive_near_limit", "feeder_off_target",
)  # fmt: skip
"""What one feeder does explains what the same feeder does, not another's trouble."""

RECOVERS_SLOWLY = (*OF_ONE_FEEDER, "starved", "flooded", "share_wrong", "setpoint_not_recipe")
"""Causes after whose end feed and composition still swing; a pressure or a sensor is back at once."""

RECOVERING = (
    "feeder_off_target", *SHARES, "recipe_window", "flooded", "melt_pump_starved",
)  # fmt: skip
FOLLOWS_THE_LOAD = ("viscous_lot", "sme_off")
"""What over-fed screws show once the pressure has come up behind their load: then they no longer look over-fed."""

BRAKED = ("feeder_bridged", "feeder_tripped", "feeder_weight_still", "rate_not_weight", "feed_factor_moved")
"""What a feeder seems to do after powder has run through it: its controller has gone to its least and comes back."""

STILL_HOT = ("thermocouple_open", "thermocouple_loose", "contactor_stuck", "zone_in_manual", "couples_swapped")
NEEDS_NO_HEAT = ("contactor_stuck", "cooling_scaled", "shear_overheating", "heater_partial")
"""A zone that was overheated gives heat to the next ones for as long as its steel takes to cool."""

RECOVERY_S = 300
"""A feeder that comes back over- and undershoots for some minutes, and means of five minutes still hold the gap."""
