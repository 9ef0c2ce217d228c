"""Writes the recipe an engineer would write from the plant's own steady state, as a dict ready for TOML."""

from __future__ import annotations

from typing import Any

from ingest.roles import split_key

ZONE_C, MELT_C = (3.0, 5.0), (8.0, 12.0)
PRESSURE, TORQUE, FEEDER, SMALL_FEEDER, SPEED = (
    (0.15, 0.25),
    (0.12, 0.2),
    (0.03, 0.05),
    (0.05, 0.08),
    (0.01, 0.03),
)
VACUUM_MBAR = (25.0, 60.0)
SMALL_KG_H = 5.0


def windows(channels: tuple[str, ...], steady: dict[str, float], zone_wanted: dict[str, float]) -> list[dict[str, Any]]:
    """Windows round the steady values. steady: channel key -> value; zone_wanted: zone -> set-point, C."""
    found: list[dict[str, Any]] = []
    for key in channels:
        role, at = split_key(key)
        value = steady.get(key)
        if role == "zone_temperature":
            found.append(_window(role, at, zone_wanted[at], ZONE_C[0], ZONE_C[1]))
        elif value is None:
            continue
        elif role == "melt_temperature":
            found.append(_window(role, at, round(value), MELT_C[0], MELT_C[1]))
        elif role == "melt_pressure" and at not in zone_wanted:
            found.append(_window(role, at, round(value, 1), PRESSURE[0] * value, PRESSURE[1] * value))
        elif role == "torque":
            found.append(_window(role, at, round(value, 1), TORQUE[0] * value, TORQUE[1] * value))
        elif role == "screw_speed":
            found.append(_window(role, at, round(value, 1), SPEED[0] * value, SPEED[1] * value))
        elif role == "feeder_rate":
            inner, outer = FEEDER if value >= SMALL_KG_H else SMALL_FEEDER
            found.append(_window(role, at, round(value, 3), inner * value, outer * value))
        elif role == "line_rate":
            found.append(_window(role, at, round(value, 1), 0.06 * value, 0.12 * value))
        elif role == "vacuum":
            found.append({"role": role, "at": at, "target": round(value), "high": round(value + VACUUM_MBAR[0]),
                          "high_outer": round(value + VACUUM_MBAR[1])})  # fmt: skip
    return found


def _window(role: str, at: str, target: float, inner: float, outer: float) -> dict[str, Any]:
    window: dict[str, Any] = {"role": role}
    if at:
        window["at"] = at
    digits = 3 if inner < 1.0 else 2
    window |= {
        "target": target,
        "low": round(target - inner, digits),
        "high": round(target + inner, digits),
        "low_outer": round(target - outer, digits),
        "high_outer": round(target + outer, digits),
    }
    return window


def recipe_file(
    *,
    name: str,
    product: str,
    materials: tuple[str, ...],
    feed: str,
    melting_point_c: float | None,
    ceiling_c: float,
    hot_hold_min: float,
    rate_kg_h: float | None,
    screw_speed_rpm: float,
    bulk_density: float,
    melt_density: float,
    zones: dict[str, float],
    shares: dict[str, float],
    window: list[dict[str, Any]],
) -> dict[str, Any]:
    """The whole recipe file."""
    head: dict[str, Any] = {"name": name, "product": product, "materials": list(materials), "feed": feed}
    if melting_point_c is not None:
        head["melting_point_c"] = melting_point_c
    head |= {"ceiling_c": ceiling_c, "hot_hold_min": hot_hold_min}
    if rate_kg_h is not None:
        head["rate_kg_h"] = rate_kg_h
    head |= {
        "screw_speed_rpm": screw_speed_rpm,
        "bulk_density_kg_m3": round(bulk_density),
        "melt_density_kg_m3": round(melt_density),
    }
    content: dict[str, Any] = {"format": 1, "recipe": head, "zones": zones}
    if shares:
        content["shares"] = shares
    content["window"] = window
    return content
