"""How hard the screws work: net torque, shaft power, specific mechanical energy."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context
from monitor.exact import Floats
from monitor.physics.energy import (
    net_torque_pct,
    shaft_power_from_motor_kw,
    shaft_power_kw,
    specific_energy_kwh_kg,
    torque_from_current_pct,
)
from monitor.quantities.quantity import Inputs, Quantity, pointwise
from monitor.view import Readings

MAGNETISING_SHARE = 1 / 3
"""Share of rated current that makes the field where the line file does not say; common practice, no source."""


LEAST_SPEED_SHARE = 0.05
"""Of the rated or recipe's speed. Below it power over speed is the drive's own consumption and noise, divided by next
to nothing: it says nothing of the torque."""


def speed_for_power(speed: Floats, ctx: Context) -> Floats:
    """Screw speed, rpm, NaN where it is too low to get a torque from power."""
    drive = ctx.line.drive
    wanted = ctx.recipe.recipe.screw_speed_rpm if ctx.recipe else None
    least = LEAST_SPEED_SHARE * (drive.rated_speed_rpm or wanted or 50.0)
    with np.errstate(invalid="ignore"):
        return np.where(speed >= least, speed, np.nan)


def load_words(ctx: Context) -> tuple[str, str]:
    """What the load of this line is called and its unit: a current of unknown rating stays a current, and what is
    logged in an unknown unit has none."""
    if ctx.has("torque"):
        return ("net torque", "%") if _unit_known(ctx, "torque") else ("torque", "")
    if ctx.has("motor_current") and _current_is_torque(ctx):
        return "net torque", "%"
    if ctx.has("motor_current"):
        return "motor current", "A" if _unit_known(ctx, "motor_current") else ""
    rated = ctx.line.drive.rated_power_kw is not None and ctx.line.drive.rated_speed_rpm is not None
    return ("net torque", "%") if rated else ("power over speed", "kW/rpm")


def _current_is_torque(ctx: Context) -> bool:
    return ctx.line.drive.rated_current_a is not None and "motor_current" not in ctx.line.relative_channels


def gross_torque_known(ctx: Context) -> bool:
    """Whether the line gives a torque in percent of rated: as logged, from current of known rating, or from power."""
    drive = ctx.line.drive
    if ctx.has("torque"):
        return _unit_known(ctx, "torque")
    if ctx.has("motor_current"):
        return _current_is_torque(ctx)
    rated = drive.rated_power_kw is not None and drive.rated_speed_rpm is not None
    return rated and _unit_known(ctx, "drive_power") and ctx.has("screw_speed")


def gross_torque_of(readings: Readings, ctx: Context) -> Floats:
    """Torque in percent of rated, no-load part included, on any grid, [n]; only where `gross_torque_known`.

    From motor current: the magnetising part taken off in quadrature, where it is not stated a third of the rated
    current. At the rated current the torque is 100 % whatever that part, so a limit near there is judged well.
    """
    drive = ctx.line.drive
    if ctx.has("torque"):
        return readings.get("torque")
    if ctx.has("motor_current"):
        rated, field = drive.rated_current_a, drive.magnetising_current_a
        assert rated is not None
        return np.asarray(
            torque_from_current_pct(
                current_a=readings.get("motor_current"),
                magnetising_current_a=MAGNETISING_SHARE * rated if field is None else field,
                rated_current_a=rated,
            )
        )
    power, speed = readings.get("drive_power"), speed_for_power(readings.get("screw_speed"), ctx)
    assert drive.rated_power_kw is not None and drive.rated_speed_rpm is not None
    return 100 * power * drive.rated_speed_rpm / (drive.rated_power_kw * speed)


def _net_torque(x: Inputs) -> Floats:
    if gross_torque_known(x.ctx):
        no_load = x.ctx.line.drive.no_load_torque_pct
        return np.asarray(net_torque_pct(torque_pct=gross_torque_of(x.readings, x.ctx), no_load_torque_pct=no_load))
    if x.ctx.has("torque"):
        return x.readings.get("torque")
    if x.ctx.has("motor_current"):
        return x.readings.get("motor_current")
    return x.readings.get("drive_power") / speed_for_power(x.readings.get("screw_speed"), x.ctx)


def _shaft_power(x: Inputs) -> Floats:
    drive, speed = x.ctx.line.drive, x.readings.get("screw_speed")
    if _unit_known(x.ctx, "drive_power"):
        return np.asarray(
            shaft_power_from_motor_kw(motor_power_kw=x.readings.get("drive_power"), efficiency=drive.efficiency)
        )
    if drive.rated_power_kw is None or drive.rated_speed_rpm is None:
        return np.full(x.readings.n, np.nan)
    return np.asarray(
        shaft_power_kw(
            torque_pct=x["net_torque"] + drive.no_load_torque_pct,
            speed_rpm=speed,
            rated_power_kw=drive.rated_power_kw,
            rated_speed_rpm=drive.rated_speed_rpm,
            efficiency=drive.efficiency,
        )
    )


def _sme(x: Inputs) -> Floats:
    wanted = np.where(np.isnan(x["total_setpoint"]), 0.0, x["total_setpoint"])
    return np.asarray(
        specific_energy_kwh_kg(shaft_power_kw=x["shaft_power"], rate_kg_h=x["total_feed"], target_rate_kg_h=wanted)
    )


def _has_load(ctx: Context) -> bool:
    return ctx.has("torque") or ctx.has("motor_current") or ctx.has("drive_power")


def _unit_known(ctx: Context, role: str) -> bool:
    """Whether the line logs this role in its own unit. Of a unit that is not known nothing can be taken off."""
    return ctx.has(role) and role not in ctx.line.relative_channels


def _has_power(ctx: Context) -> bool:
    drive = ctx.line.drive
    known = drive.rated_power_kw is not None and drive.rated_speed_rpm is not None
    if ctx.has("torque"):
        torque = _unit_known(ctx, "torque")
    else:
        torque = _unit_known(ctx, "motor_current") and drive.rated_current_a is not None
    return _unit_known(ctx, "drive_power") or (known and torque)


NET_TORQUE = Quantity(
    "net_torque",
    "%",
    "torque that works on the melt, no-load part taken off",
    pointwise(_net_torque),
    possible=_has_load,
)
SHAFT_POWER = Quantity(
    "shaft_power",
    "kW",
    "power into the screws",
    pointwise(_shaft_power),
    ("net_torque",),
    ("screw_speed",),
    possible=_has_power,
)
SME = Quantity(
    "sme",
    "kWh/kg",
    "specific mechanical energy; blank below a quarter of the wanted rate",
    pointwise(_sme),
    ("shaft_power", "total_feed", "total_setpoint"),
)
