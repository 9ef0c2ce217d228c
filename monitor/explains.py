"""Which finding can explain which: by physics, one line each, and how late a cause may be dated.

A cause explains what follows from it and no more: a feed that fails takes rate, share, torque and pressure with it;
a dead heater or couple takes its zone's temperature.
"""

from __future__ import annotations

DATED_LATE_S = {
    "feeder_off_target": 300,
    "feeder_weight_still": 900,
    "heater_dead": 1200,
    "share_wrong": 300,
    "toward_over_pressure": 300,
}
"""How much later than it really began a cause may be dated, seconds: the window its rule looks back over."""

TEMPERATURES = (
    "zone_over_temperature", "zone_under_temperature", "melt_over_temperature", "melt_under_temperature",
)  # fmt: skip

EXPLAINS: dict[str, tuple[str, ...]] = {
    "feeder_bridged": ("starved", "share_wrong", "recipe_window", "feeder_off_target", "drift"),
    "feeder_tripped": ("starved", "share_wrong", "recipe_window", "feeder_off_target", "drift"),
    "feeder_weight_still": ("starved", "share_wrong", "recipe_window", "drift"),
    "feeder_off_target": ("starved", "flooded", "share_wrong", "recipe_window", "drift"),
    "starved": ("recipe_window", "drift", *TEMPERATURES),
    "flooded": ("recipe_window", "drift", *TEMPERATURES),
    "toward_over_pressure": ("recipe_window", "drift"),
    "heater_dead": ("zone_over_temperature", "zone_under_temperature", "drift"),
    "thermocouple_open": ("zone_over_temperature", "zone_under_temperature", "heater_dead", "drift"),
    "share_wrong": ("drift",),
}
"""condition -> conditions whose findings it can explain."""

BACKS_UP = {"starved": ("feeder_bridged", "feeder_tripped", "feeder_off_target", "feeder_weight_still")}
"""What a blocked path does to the feeders before it, a minute and more later: they stand in their own material."""

BACKS_UP_AFTER_S = 60

NEAR_BY = ("heater_dead", "thermocouple_open")
"""These explain only what happens in their own zone and the next ones, which they heat and cool, and a slow drift
of the melt."""

AFTERMATH_S = 1200
RECOVERING = ("feeder_off_target", "share_wrong", "recipe_window")
RECOVERY_S = 300
"""A feeder that comes back over- and undershoots for some minutes, and means of five minutes still hold the gap."""
