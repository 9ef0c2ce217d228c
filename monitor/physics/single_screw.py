"""The metering section of a single screw against its die: isothermal, Newtonian, flight leakage neglected.

Reference: M. P. Groover, Fundamentals of Modern Manufacturing, chapter on shaping processes for plastics;
R. J. Crawford, Plastics Engineering, chapter 4. Real melts thin with shear, so these are for capacity, for
limits and for what moves which way, not for absolute pressures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from monitor.physics.values import Values, ratio

SQUARE_PITCH_HELIX_DEG = math.degrees(math.atan(1 / math.pi))
"""Helix angle, 17.66 degrees, of a flight that advances one diameter a turn."""


def drag_flow_m3_s(*, diameter_m: Values, speed_rev_s: Values, channel_depth_m: Values, helix_deg: Values) -> Values:
    """Volume the turning screw drags forward: all of the output when nothing resists at the head."""
    helix = np.deg2rad(helix_deg)
    return 0.5 * math.pi**2 * np.square(diameter_m) * speed_rev_s * channel_depth_m * np.sin(helix) * np.cos(helix)


def pressure_flow_m3_s(
    *,
    diameter_m: Values,
    channel_depth_m: Values,
    helix_deg: Values,
    length_m: Values,
    viscosity_pa_s: Values,
    pressure_pa: Values,
) -> Values:
    """Volume that head pressure drives back down the channel; output is drag flow less this.

    length_m: axial length of the metering section over which pressure builds.
    """
    square_of_sine = np.square(np.sin(np.deg2rad(helix_deg)))
    back = math.pi * diameter_m * np.power(channel_depth_m, 3) * square_of_sine * pressure_pa
    return ratio(back, 12 * viscosity_pa_s * length_m)


def max_pressure_pa(
    *,
    diameter_m: Values,
    speed_rev_s: Values,
    channel_depth_m: Values,
    helix_deg: Values,
    length_m: Values,
    viscosity_pa_s: Values,
) -> Values:
    """Head pressure against a closed die, where drag flow and pressure flow balance."""
    built = 6 * math.pi * diameter_m * speed_rev_s * length_m * viscosity_pa_s
    return ratio(built, np.square(channel_depth_m) * np.tan(np.deg2rad(helix_deg)))


def round_die_conductance_m3_s_pa(*, diameter_m: Values, length_m: Values, viscosity_pa_s: Values) -> Values:
    """Flow per pressure of a round land (Hagen-Poiseuille)."""
    return ratio(math.pi * np.power(diameter_m, 4), 128 * viscosity_pa_s * length_m)


def slit_die_conductance_m3_s_pa(*, width_m: Values, gap_m: Values, length_m: Values, viscosity_pa_s: Values) -> Values:
    """Flow per pressure of a slit much wider than its gap."""
    return ratio(width_m * np.power(gap_m, 3), 12 * viscosity_pa_s * length_m)


@dataclass(frozen=True)
class OperatingPoint:
    """Where the line of the screw meets the line of the die."""

    pressure_pa: Values
    flow_m3_s: Values


def operating_point(
    *, drag_flow_m3_s: Values, max_pressure_pa: Values, die_conductance_m3_s_pa: Values
) -> OperatingPoint:
    """Pressure and flow at which the die passes just what the screw delivers."""
    pressure = ratio(drag_flow_m3_s, die_conductance_m3_s_pa + ratio(drag_flow_m3_s, max_pressure_pa))
    return OperatingPoint(pressure, die_conductance_m3_s_pa * pressure)


def drag_capacity_kg_h_rpm(
    *, diameter_mm: Values, channel_depth_mm: Values, melt_density_kg_m3: Values, helix_deg: Values
) -> Values:
    """Specific throughput, kg/h per rpm, of a full metering section with no pressure to work against.

    A flood-fed screw that gives much less is starved, worn or held back; a grooved feed may give more.
    """
    flow_per_turn_m3 = drag_flow_m3_s(
        diameter_m=diameter_mm / 1000,
        speed_rev_s=1.0,
        channel_depth_m=channel_depth_mm / 1000,
        helix_deg=helix_deg,
    )
    turns_per_hour_at_1_rpm = 60
    return turns_per_hour_at_1_rpm * flow_per_turn_m3 * melt_density_kg_m3
