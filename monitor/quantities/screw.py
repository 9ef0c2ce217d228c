"""How full the screws are and how long the melt stays, from geometry, rate and speed."""

from __future__ import annotations

import math

import numpy as np

from monitor.contract import Context
from monitor.exact import Floats
from monitor.physics.composition import total_rate_kg_h
from monitor.physics.fill_and_residence import (
    degree_of_fill,
    filled_kg,
    specific_throughput_kg_h_rpm,
    swept_volume_l_turn,
)
from monitor.physics.single_screw import drag_capacity_kg_h_rpm
from monitor.physics.twin_screw import free_area_mm2
from monitor.physics.values import ratio
from monitor.quantities.quantity import Inputs, Quantity, pointwise

BULK_DENSITY_KG_M3 = 550.0
MELT_DENSITY_KG_M3 = 800.0
"""Where neither recipe nor material says; common practice, no source."""


def free_area(ctx: Context) -> float:
    """Free cross-section of a twin-screw barrel, mm2."""
    geometry = ctx.line.geometry
    assert geometry.screw_diameter_mm is not None and geometry.diameter_ratio is not None
    root = geometry.screw_diameter_mm / geometry.diameter_ratio
    return float(free_area_mm2(outer_mm=geometry.screw_diameter_mm, root_mm=root))


def melt_density(ctx: Context) -> float:
    """Density of the melt, kg/m3: recipe, else material table, else a usual value."""
    said = ctx.recipe.recipe.melt_density_kg_m3 if ctx.recipe else None
    if said:
        return said
    return ctx.material.melt_density_kg_m3.middle if ctx.material else MELT_DENSITY_KG_M3


def fed_at_throat(x: Inputs) -> Floats:
    """What enters at the throat, kg/h: side feeders fill the screws further down. NaN while any of it is not known."""
    main = [f.name for f in x.ctx.line.feeder if not f.side]
    side = [f.name for f in x.ctx.line.feeder if f.side]
    weighed = x.ctx.subjects_of("feeder_rate")
    if not side or not weighed:
        return x["total_feed"]
    return total_rate_kg_h(x.readings.rows("feeder_rate", [name for name in weighed if name in main]))


def _fill(x: Inputs) -> Floats:
    geometry = x.ctx.line.geometry
    lead = geometry.lead_mm or geometry.screw_diameter_mm
    assert lead is not None
    said = x.ctx.recipe.recipe.bulk_density_kg_m3 if x.ctx.recipe else None
    return np.asarray(
        degree_of_fill(
            rate_kg_h=fed_at_throat(x),
            speed_rpm=x.readings.get("screw_speed"),
            swept_volume_l_turn=swept_volume_l_turn(free_area_mm2=free_area(x.ctx), lead_mm=lead),
            density_kg_m3=said or BULK_DENSITY_KG_M3,
        )
    )


def melt_held_kg(ctx: Context) -> float | None:
    """Melt in screws, adapter, screen and die, kg: what passes in one mean residence time; None without geometry.

    A starve-fed twin screw is filled to the line file's mean fill, a single screw's channel is taken as full.
    """
    geometry = ctx.line.geometry
    if geometry.length_over_diameter is None or geometry.screw_diameter_mm is None:
        return None
    length = geometry.screw_diameter_mm * geometry.length_over_diameter
    if _twin_geometry(ctx):
        litres, fill = free_area(ctx) * length / 1e6, geometry.mean_fill
    elif _channel_geometry(ctx):
        assert geometry.channel_depth_mm is not None
        mean_diameter = geometry.screw_diameter_mm - geometry.channel_depth_mm
        litres, fill = math.pi * mean_diameter * geometry.channel_depth_mm * length / 1e6, 1.0
    else:
        return None
    density = melt_density(ctx)
    screw = filled_kg(volume_l=litres, melt_density_kg_m3=density, fill=fill)
    after = filled_kg(volume_l=geometry.downstream_volume_l, melt_density_kg_m3=density)
    return float(screw + after)


def _residence(x: Inputs) -> Floats:
    held_kg = melt_held_kg(x.ctx)
    assert held_kg is not None
    return np.asarray(ratio(held_kg, x["total_feed"] / 3600))


def _pumped_per_turn(x: Inputs) -> Floats:
    pump, screw = x.readings.get("melt_pump_speed"), x.readings.get("screw_speed")
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(screw > 0, pump / screw, np.nan)


def _drag_flow(x: Inputs) -> Floats:
    geometry = x.ctx.line.geometry
    assert geometry.screw_diameter_mm is not None and geometry.channel_depth_mm is not None
    capacity = drag_capacity_kg_h_rpm(
        diameter_mm=geometry.screw_diameter_mm,
        channel_depth_mm=geometry.channel_depth_mm,
        helix_deg=geometry.helix_angle_deg,
        melt_density_kg_m3=melt_density(x.ctx),
    )
    return np.asarray(capacity * x.readings.get("screw_speed"))


def _twin_geometry(ctx: Context) -> bool:
    geometry = ctx.line.geometry
    return (
        ctx.line.line.kind == "twin-screw"
        and geometry.screw_diameter_mm is not None
        and geometry.diameter_ratio is not None
    )


def _residence_possible(ctx: Context) -> bool:
    return melt_held_kg(ctx) is not None


def _channel_geometry(ctx: Context) -> bool:
    geometry = ctx.line.geometry
    return (
        ctx.line.line.kind == "single-screw"
        and geometry.screw_diameter_mm is not None
        and geometry.channel_depth_mm is not None
    )


SPECIFIC_THROUGHPUT = Quantity(
    "specific_throughput",
    "kg/h/rpm",
    "rate over screw speed: the natural measure of fill",
    pointwise(
        lambda x: specific_throughput_kg_h_rpm(rate_kg_h=x["total_feed"], speed_rpm=x.readings.get("screw_speed"))
    ),
    ("total_feed",),
    ("screw_speed",),
)
FILL = Quantity(
    "fill",
    "1",
    "degree of fill of a conveying element at the throat",
    pointwise(_fill),
    ("total_feed",),
    ("screw_speed",),
    possible=_twin_geometry,
)
RESIDENCE_TIME = Quantity(
    "residence_time",
    "s",
    "mean residence time in screws, adapter, screen and die",
    pointwise(_residence),
    ("total_feed",),
    possible=_residence_possible,
)
PUMPED_PER_TURN = Quantity(
    "pumped_per_turn",
    "1",
    "melt pump turns per screw turn: output over screw speed where the pump holds its suction pressure",
    pointwise(_pumped_per_turn),
    (),
    ("melt_pump_speed", "screw_speed"),
)
DRAG_FLOW = Quantity(
    "drag_flow",
    "kg/h",
    "what the metering section drags forward against no pressure",
    pointwise(_drag_flow),
    (),
    ("screw_speed",),
    possible=_channel_geometry,
)
