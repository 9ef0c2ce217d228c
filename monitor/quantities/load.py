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

MAGNETISING_SHARE = 1 / 3
"""Share of rated current that makes the field where the line file does not say; common practice, no source."""


def load_words(ctx: Context) -> tuple[str, str]:
    """What the load of this line is called and its unit: a current of unknown rating stays a current."""
    if ctx.has("torque") or (ctx.has("motor_current") and _current_is_torque(ctx)):
        return "net torque", "%"
    if ctx.has("motor_current"):
        return "motor current", "A"
    rated = ctx.line.drive.rated_power_kw is not None and ctx.line.drive.rated_speed_rpm is not None
    return ("net torque", "%") if rated else ("power over speed", "kW/rpm")


def _current_is_torque(ctx: Context) -> bool:
    return ctx.line.drive.rated_current_a is not None and "motor_current" not in ctx.line.relative_channels


def _net_torque(x: Inputs) -> Floats:
    drive = x.ctx.line.drive
    if x.ctx.has("torque"):
        if not _unit_known(x.ctx, "torque"):
            return x.readings.get("torque")
        shown = x.readings.get("torque")
        return np.asarray(net_torque_pct(torque_pct=shown, no_load_torque_pct=drive.no_load_torque_pct))
    if x.ctx.has("motor_current"):
        current = x.readings.get("motor_current")
        if drive.rated_current_a is None or not _current_is_torque(x.ctx):
            return current
        field = drive.magnetising_current_a
        torque = torque_from_current_pct(
            current_a=current,
            magnetising_current_a=MAGNETISING_SHARE * drive.rated_current_a if field is None else field,
            rated_current_a=drive.rated_current_a,
        )
        return np.asarray(net_torque_pct(torque_pct=torque, no_load_torque_pct=drive.no_load_torque_pct))
    power, speed = x.readings.get("drive_power"), x.readings.get("screw_speed")
    rated, at = drive.rated_power_kw, drive.rated_speed_rpm
    with np.errstate(divide="ignore", invalid="ignore"):
        if rated is None or at is None or not _unit_known(x.ctx, "drive_power"):
            return np.where(speed > 0, power / speed, np.nan)
        return np.where(speed > 0, 100 * power * at / (rated * speed), np.nan) - drive.no_load_torque_pct


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
