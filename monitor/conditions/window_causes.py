"""What has most likely moved a pressure or a load out of its window, by what the other channels do meanwhile.

By physics: what is fed and not carried away as before moves load more than pressure, a thicker or colder melt moves
both, a narrower way out pressure alone; a leak, a torn screen or a sensor takes pressure and leaves the load.
"""

from __future__ import annotations

import numpy as np

from monitor.conditions import wall_off
from monitor.conditions.machine_load import Load
from monitor.conditions.melt_colder import COLDER_C, colder_cause, colder_enough, is_colder, zones_below
from monitor.contract import Context
from monitor.exact import Floats
from monitor.records import Cause
from monitor.view import CoarseView

QUANTITIES = ("net_torque", "sme", "total_feed", "total_setpoint", "specific_throughput", "pumped_per_turn")
"""What `machine_load.load` asks for."""

LOADS = ("torque", "motor_current", "drive_power")
MOVED_LN = 0.04
"""Logarithm below which load or pressure has not moved; common practice, no source."""

MORE_FED_LN, LESS_FED_LN, SPEED_OFF_LN = 0.03, -0.03, 0.02
GONE_LN = float(np.log(0.5))
"""No melt of one grade takes so much less torque, whatever the pressure does. Common practice, no source."""

DRAG_LN = 0.12
"""ln torque: less feed, melt or way out that makes so much shows in the pressure. Common practice, no source."""

TORQUE_PER_PRESSURE, MOST_TORQUE_PER_PRESSURE = 0.4, 1.4
"""ln torque per ln pressure: below, the way out is narrower; between, the melt is thicker; above, the screws are
fuller. As in die_side."""


def window_facts(found: Load, view: CoarseView, ctx: Context) -> dict[str, Floats]:
    """What `pressure_causes` and `load_causes` need of each cell, [n] each; NaN where not known."""
    speed, wanted = view.get("screw_speed"), view.get("screw_speed_setpoint")
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.log(np.where((speed > 0) & (wanted > 0), speed / wanted, np.nan))
    below, zones = zones_below(view, ctx)
    return {
        "ln_torque": found.torque, "ln_pressure": found.pressure, "ln_rate": found.rate,
        "ln_specific": found.specific_rate, "melt_c": found.melt_c, "ln_speed_off": off,
        "zones_below": below, "zones_known": zones,
        "hot_wall_c": wall_off.off_c(view, ctx, 1), "cold_wall_c": -wall_off.off_c(view, ctx, -1),
    }  # fmt: skip


def pressure_causes(over: bool, facts: dict[str, float]) -> tuple[Cause, ...]:
    """Causes of a melt pressure above or below its window, the likeliest first."""
    return _pressure_high(facts) if over else _pressure_low(facts)


def load_causes(over: bool, facts: dict[str, float], near_limit: bool = False) -> tuple[Cause, ...]:
    """Causes of a torque, current or power above or below its window, the likeliest first."""
    return _load_high(facts, near_limit) if over else _load_low(facts)


def _pressure_high(f: dict[str, float]) -> tuple[Cause, ...]:
    per = f["ln_torque"] / f["ln_pressure"] if f["ln_pressure"] >= MOVED_LN else np.nan
    thick, narrow = per >= TORQUE_PER_PRESSURE, per < TORQUE_PER_PRESSURE
    along, alone = "torque rose with pressure", "torque hardly rose"
    fed = Cause("more is fed than usual at this speed", _fed(f), (), ("flooded", "feeder_off_target"))
    colder = colder_cause(f)
    lot = Cause("more viscous lot", _if(thick, along), _if(narrow, alone), ("viscous_lot", "wrong_material"))
    way = Cause(
        "screen or die restricted", _if(narrow, alone), _if(thick, along),
        ("screen_blinding", "die_plugging", "restricted", "freeze_off", "toward_over_pressure"),
    )  # fmt: skip
    sensor = _sensor(f)
    ranked = (
        (bool(_fed(f)), fed),
        (is_colder(f) and colder_enough(f, f["ln_pressure"]), colder),
        (thick, lot),
        (narrow, way),
        (bool(sensor.speaks_for), sensor),
    )
    return _in_order(ranked, (way, lot, colder, fed, sensor), sensor)


def _pressure_low(f: dict[str, float]) -> tuple[Cause, ...]:
    torque, pressure = f["ln_torque"], f["ln_pressure"]
    holds = abs(torque) < MOVED_LN
    with_it = torque <= -MOVED_LN
    less = Cause(
        "less reaches the die: feed or throat",
        (
            *_short(f),
            *_if(with_it and torque < pressure, "torque fell more than pressure"),
            *_if(torque <= GONE_LN, "more than half of the load is gone"),
        ),
        _if(holds, "torque holds"),
        ("starved", "feeder_bridged", "feeder_tripped", "feeder_off_target"),
    )
    thin = Cause(
        "melt thinner or hotter: lot, moisture, temperature",
        (
            *_if(f["melt_c"] >= COLDER_C, f"melt temperature up {f['melt_c']:.0f} °C"),
            *_if(with_it and GONE_LN < torque >= pressure, "pressure fell at least as much as torque"),
        ),
        (),
        ("moisture", "melt_over_temperature", "zone_over_temperature", "wrong_material"),
    )
    out = Cause(
        "screen torn or new, or melt leaking ahead of the die", _if(holds, "torque holds"), _if(with_it, "torque fell"),
        ("screen_ruptured", "burst_disc_or_leak"),
    )  # fmt: skip
    sensor = _sensor(f)
    fell_more = with_it and (torque < pressure or torque <= GONE_LN)
    hotter = f["melt_c"] >= COLDER_C or (with_it and not fell_more)
    ranked = (
        (bool(_short(f)) or fell_more, less), (hotter, thin), (holds, out), (bool(sensor.speaks_for), sensor),
    )  # fmt: skip
    return _in_order(ranked, (out, less, thin, sensor), sensor)


def _load_high(f: dict[str, float], near_limit: bool) -> tuple[Cause, ...]:
    up = f["ln_pressure"] >= MOVED_LN
    per = f["ln_torque"] / f["ln_pressure"] if up else np.nan
    name = "torque at its limit: " if near_limit else ""
    fed = Cause(
        f"{name}more in the screws than usual: over-fed for this speed",
        (*_fed(f), *_if(f["ln_pressure"] < 0.5 * f["ln_torque"], "pressure rose less than torque")),
        (), ("flooded", "feeder_off_target"),
    )  # fmt: skip
    colder = colder_cause(f)
    lot = Cause(f"{name}more viscous lot", _if(up, "pressure rose with torque"), (), ("viscous_lot", "wrong_material"))
    way = Cause(
        f"{name}screen or die restricted: the screws fill back",
        _if(up, "pressure is up"), _if(f["ln_pressure"] < MOVED_LN, "pressure is not up"),
        ("restricted", "screen_blinding", "die_plugging", "toward_over_pressure", "backed_up"),
    )  # fmt: skip
    slow = Cause("screw slower than set", _if(f["ln_speed_off"] <= -SPEED_OFF_LN, "speed is below its set-point"))
    still = abs(f["ln_pressure"]) < MOVED_LN and abs(f["melt_c"]) < COLDER_C and not f["ln_rate"] >= MORE_FED_LN
    drag = Cause(
        f"{name}drag of the machine itself: bearing, gearbox, screw rubbing",
        _if(still, "pressure, melt temperature and rate are as before"), (),
        ("gearbox", "tramp_metal"),
    )  # fmt: skip
    colder = Cause(name + colder.text, colder.speaks_for, colder.speaks_against, colder.shown_by)
    ranked = (
        (bool(_fed(f)), fed), (f["ln_speed_off"] <= -SPEED_OFF_LN, slow), (is_colder(f), colder),
        (still and f["ln_torque"] >= DRAG_LN, drag),
        (TORQUE_PER_PRESSURE <= per <= MOST_TORQUE_PER_PRESSURE, lot), (per < TORQUE_PER_PRESSURE, way),
    )  # fmt: skip
    return _in_order(ranked, (fed, lot, colder, drag, way), way)


def _load_low(f: dict[str, float]) -> tuple[Cause, ...]:
    gone = f["ln_torque"] <= GONE_LN
    same = f["ln_pressure"] <= f["ln_torque"] and not gone
    less = Cause(
        "less reaches the screws: feed or throat",
        (
            *_short(f),
            *_if(f["ln_torque"] < f["ln_pressure"], "torque fell more than pressure"),
            *_if(gone, "more than half of the load is gone"),
        ),
        (),
        ("starved", "feeder_bridged", "feeder_tripped", "feeder_off_target"),
    )  # fmt: skip
    thin = Cause(
        "melt thinner or hotter: lot, moisture, lubricant, temperature",
        (*_if(same, "pressure fell as well"), *_if(f["melt_c"] >= COLDER_C, f"melt up {f['melt_c']:.0f} °C")), (),
        ("moisture", "melt_over_temperature", "zone_over_temperature", "wrong_material", "share_wrong"),
    )  # fmt: skip
    fast = Cause("screw faster than set", _if(f["ln_speed_off"] >= SPEED_OFF_LN, "speed is above its set-point"))
    ranked = (
        (bool(_short(f)) or gone, less), (f["ln_speed_off"] >= SPEED_OFF_LN, fast),
        (same or f["melt_c"] >= COLDER_C, thin),
    )  # fmt: skip
    return _in_order(ranked, (less, thin), thin)


def _sensor(f: dict[str, float]) -> Cause:
    others = ("ln_torque", "ln_rate", "melt_c")
    still = abs(f["ln_torque"]) < MOVED_LN and not is_colder(f) and not abs(f["melt_c"]) >= COLDER_C
    known = any(f[name] == f[name] for name in others)
    return Cause(
        "pressure sensor: zero, plug, wire", _if(still and known, "nothing else moved"), (),
        ("pressure_zero_drift", "pressure_sensor_plugged", "pressure_sensor_frozen"),
    )  # fmt: skip


def _fed(f: dict[str, float]) -> tuple[str, ...]:
    return (
        *_if(f["ln_rate"] >= MORE_FED_LN, f"feed {100 * np.expm1(f['ln_rate']):.0f} % over its set-point"),
        *_if(f["ln_specific"] >= MORE_FED_LN, f"rate over speed up {100 * np.expm1(f['ln_specific']):.0f} %"),
    )


def _short(f: dict[str, float]) -> tuple[str, ...]:
    return (
        *_if(f["ln_rate"] <= LESS_FED_LN, f"feed {-100 * np.expm1(f['ln_rate']):.0f} % under its set-point"),
        *_if(f["ln_specific"] <= LESS_FED_LN, f"rate over speed down {-100 * np.expm1(f['ln_specific']):.0f} %"),
    )


def _in_order(
    ranked: tuple[tuple[bool | np.bool_, Cause], ...], usual: tuple[Cause, ...], last: Cause
) -> tuple[Cause, ...]:
    """What was seen first, then what is usual; `last` at the end unless seen."""
    first = [cause for holds, cause in ranked if holds]
    rest = [cause for cause in usual if cause not in first and cause is not last]
    return (*first, *rest, *(() if last in first else (last,)))


def _if(holds: bool | np.bool_, words: str) -> tuple[str, ...]:
    return (words,) if holds else ()
