"""Every derived quantity, and those whose normal value is learned inside a run."""

from __future__ import annotations

from monitor.quantities import feed, load, screw
from monitor.quantities.per_feeder import PER_FEEDER_UNITS
from monitor.quantities.quantity import Quantity

QUANTITIES: tuple[Quantity, ...] = (
    feed.TOTAL_FEED,
    feed.MOVED_TOGETHER,
    feed.TOTAL_SETPOINT,
    load.NET_TORQUE,
    load.SHAFT_POWER,
    load.SME,
    screw.SPECIFIC_THROUGHPUT,
    screw.FILL,
    screw.RESIDENCE_TIME,
    screw.DRAG_FLOW,
    screw.PUMPED_PER_TURN,
)

LEARNED = ("net_torque", "specific_throughput", "sme", "screw_speed", "pumped_per_turn")
"""Quantities (and the screw speed) with a learned expectation, beside every melt pressure and melt temperature."""

UNITS = {quantity.name: quantity.unit for quantity in QUANTITIES} | PER_FEEDER_UNITS
