"""What is known of a zone, by name, whichever way the plant logs its output.

Outputs come as -100 to +100 (cooling negative), as heating 0 to 100 with the cooling apart, as heating alone, or not
at all. Each signal is a function of the view; NaN where it is not known.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ingest.roles import channel_key
from monitor.contract import Context
from monitor.exact import Bools, Floats
from monitor.phases import RUNNING
from monitor.view import CoarseView

Zones = tuple[str, ...]

PAUSE_A, ASKS_PCT = 0.05, 5.0
"""Current that a display of 0.1 A shows as none, and output that asks for heat."""


def zones_with_output(ctx: Context) -> Zones:
    """Zones with a temperature and an output."""
    outputs = set(ctx.subjects_of("zone_output"))
    return tuple(name for name in ctx.subjects_of("zone_temperature") if name in outputs)


def zones_with_temperature(ctx: Context) -> Zones:
    """Zones with a temperature."""
    return ctx.subjects_of("zone_temperature")


def output_limits(zones: Zones, ctx: Context) -> Floats:
    """The most that each zone's output may stand at, % [zone, 1]."""
    return np.array([ctx.line.zone_named(zone).output_limit_pct for zone in zones]).reshape(-1, 1)


def with_cooling(zones: Zones, ctx: Context) -> Bools:
    """Which zones have cooling, [zone, 1]."""
    return np.array([ctx.line.zone_named(zone).cooled for zone in zones], bool).reshape(-1, 1)


def wanted(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
    """What the controller aims at: its set-point, else the recipe's, C [zone, n]."""
    said = view.rows("zone_setpoint", zones)
    recipe = np.array([ctx.recipe.zones.get(zone, np.nan) if ctx.recipe else np.nan for zone in zones])
    return np.where(np.isnan(said), recipe.reshape(-1, 1), said)


def heat(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
    """Heating called for, 0 to 100 % [zone, n]."""
    return np.fmax(view.rows("zone_output", zones), 0.0 * view.rows("zone_output", zones)) + 0.0


def as_read(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
    """Temperatures with those that no steel can have (`jump_guard`) left in, C [zone, n]."""
    believed = view.rows("zone_temperature", zones)
    return np.where(np.isnan(believed), view.rows("zone_temperature", zones, raw=True), believed)


def cool(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
    """Cooling called for, 0 to 100 % [zone, n]; 0 where the line only logs heating."""
    apart = view.rows("zone_cooling", zones)
    output = view.rows("zone_output", zones)
    below = np.where(np.isnan(output), np.nan, np.where(output < 0, -output, 0.0))
    return np.where(np.isnan(apart), below, np.abs(apart))


def cool_heated(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
    """Cooling called for while heat is, 0 to 100 % [zone, n]; NaN while none is, and where one output says both: it
    says them one after the other."""
    output, apart = view.rows("zone_output", zones), np.abs(view.rows("zone_cooling", zones))
    with np.errstate(invalid="ignore"):
        return np.where(output > 0, apart, np.nan)


def net(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
    """Output with cooling negative, -100 to +100 % [zone, n]."""
    output, apart = view.rows("zone_output", zones), np.abs(view.rows("zone_cooling", zones))
    return np.where(np.isnan(apart), output, output - apart)


def pauses(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
    """1 where a heater draws nothing while its output asks for heat, else 0; NaN where one is not known [zone, n]."""
    current, output = view.rows("zone_current", zones), view.rows("zone_output", zones)
    with np.errstate(invalid="ignore"):
        off = ((current <= PAUSE_A) & (output >= ASKS_PCT)).astype(float)
    return np.where(np.isfinite(current) & np.isfinite(output), off, np.nan)


def set_age(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
    """Seconds since each zone's set-point moved [zone, n]."""
    order = ctx.subjects_of("zone_temperature")
    return np.array([view.ages["zones"][order.index(zone)] for zone in zones]).reshape(len(zones), view.n)


def _learned(kind: str) -> Callable[[CoarseView, Zones, Context], Floats]:
    """One row a zone of what was learned of its output: 'expected', 'scatter' or 'before'."""

    def rows(view: CoarseView, zones: Zones, ctx: Context) -> Floats:
        out = np.full((len(zones), view.n), np.nan)
        for row, zone in enumerate(zones):
            key = channel_key("zone_output", zone)
            if kind == "before":
                out[row] = view.expectation(f"before {key}")[0]
            else:
                out[row] = view.expectation(key)[0 if kind == "expected" else 1]
        return out

    return rows


ZONE_ROWS: dict[str, Callable[[CoarseView, Zones, Context], Floats]] = {
    "temperature": lambda view, zones, ctx: view.rows("zone_temperature", zones),
    "as_read": as_read,
    "wanted": wanted,
    "heat": heat,
    "cool": cool,
    "cool_heated": cool_heated,
    "net": net,
    "set_age_s": set_age,
    "current": lambda view, zones, ctx: view.rows("zone_current", zones),
    "pauses": pauses,
    "auto": lambda view, zones, ctx: view.rows("zone_auto", zones),
    "output": lambda view, zones, ctx: view.rows("zone_output", zones),
    "expected": _learned("expected"),
    "scatter": _learned("scatter"),
    "before": _learned("before"),
}
"""Zone signals by name: (view, zones, context) -> [zone, n]."""


def _first(role: str) -> Callable[[CoarseView, Context], Floats]:
    def row(view: CoarseView, ctx: Context) -> Floats:
        at = ctx.subjects_of(role)
        return view.get(channel_key(role, at[0])) if at else view.get(role)

    return row


def _melt_expected(view: CoarseView, ctx: Context) -> Floats:
    at = ctx.subjects_of("melt_temperature")
    return view.expectation(channel_key("melt_temperature", at[0] if at else ""))[0]


LINE_ROWS: dict[str, Callable[[CoarseView, Context], Floats]] = {
    "running": lambda view, ctx: view.in_phase(*RUNNING).astype(float),
    "steady": lambda view, ctx: view.in_phase("steady").astype(float),
    "heating": lambda view, ctx: view.in_phase("heating").astype(float),
    "hot": lambda view, ctx: view.in_phase(*RUNNING, "idle", "ready", "soaking", "stopped").astype(float),
    "end_s": lambda view, ctx: (view.ends() // 1_000_000_000).astype(float),
    "still_s": lambda view, ctx: view.ages["still"],
    "started_s": lambda view, ctx: view.ages["started"],
    "unchanged_s": lambda view, ctx: view.ages["unchanged"],
    "speed": lambda view, ctx: view.get("screw_speed"),
    "speed_expected": lambda view, ctx: view.expectation("screw_speed")[0],
    "speed_before": lambda view, ctx: view.expectation("before screw_speed")[0],
    "rate": lambda view, ctx: view.quantity("total_feed"),
    "torque": lambda view, ctx: view.quantity("net_torque"),
    "torque_expected": lambda view, ctx: view.expectation("net_torque")[0],
    "sme": lambda view, ctx: view.quantity("sme"),
    "sme_expected": lambda view, ctx: view.expectation("sme")[0],
    "water_c": lambda view, ctx: view.get("cooling_water_temperature"),
    "mains_v": lambda view, ctx: view.get("mains_voltage"),
    "melt_c": _first("melt_temperature"),
    "melt_expected": _melt_expected,
}
"""Line signals by name: (view, context) -> [n]."""
