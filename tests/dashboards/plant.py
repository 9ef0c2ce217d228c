"""An invented twin-screw line as arrays: three hours, the talc feeder short in the last 24 minutes."""

from __future__ import annotations

import numpy as np

from ingest.block import FRESH, Block, Note
from monitor.line import Line
from monitor.recipe import Recipe

SECOND = 1_000_000_000
HOUR = 3600 * SECOND
END = 1_772_519_340 * SECOND
"""3 March 2026 06:29:00 UTC, 07:29 in Madrid."""

HOURS = 3
ELEMENTS = (
    "conveying",
    "conveying",
    "kneading",
    "conveying",
    "mixing",
    "conveying",
    "kneading",
    "conveying",
    "reverse",
    "metering",
)
ZONE_C = (130, 180, 218, 222, 213, 207, 203, 205, 209, 215, 215, 218)
FEEDERS = (
    ("F1", "carrier", "PX", "Z1", False, 376.9),
    ("F2", "masterbatch", "K1", "Z1", False, 15.3),
    ("F3", "stabiliser", "S2", "Z1", False, 15.3),
    ("F4", "talc", "T4", "Z6", True, 102.2),
)
SHORT_SINCE = END - 24 * 60 * SECOND
RECIPE = "R-T101"


def twin_line() -> Line:
    zones = [
        {"name": f"Z{i + 1}", "kind": "feed" if i == 0 else "barrel", "element": element}
        for i, element in enumerate(ELEMENTS)
    ] + [
        {"name": "adapter", "kind": "adapter", "element": "none"},
        {"name": "die", "kind": "die", "element": "none"},
    ]
    sensors = []
    for zone in zones:
        for role, tag in (("zone_temperature", "T"), ("zone_setpoint", "TS"), ("zone_output", "Y")):
            sensors.append({"tag": f"{tag}_{zone['name']}", "role": role, "at": zone["name"]})
    for name, *_ in FEEDERS:
        for role in ("feeder_rate", "feeder_setpoint", "feeder_drive", "feeder_weight", "feeder_gravimetric"):
            sensors.append({"tag": f"{role}_{name}", "role": role, "at": name})
    sensors += [
        {"tag": "N", "role": "screw_speed"},
        {"tag": "M", "role": "torque"},
        {"tag": "P1", "role": "melt_pressure", "at": "P1"},
        {"tag": "P2", "role": "melt_pressure", "at": "P2"},
        {"tag": "TM", "role": "melt_temperature", "at": "melt"},
        {"tag": "VAC", "role": "vacuum", "at": "V1"},
    ]
    return Line.model_validate(
        {
            "format": 1,
            "line": {"name": "Line 3", "kind": "twin-screw", "time_zone": "Europe/Madrid"},
            "geometry": {
                "screw_diameter_mm": 58,
                "length_over_diameter": 40,
                "diameter_ratio": 1.55,
                "downstream_volume_l": 1.2,
            },
            "drive": {"rated_power_kw": 315, "rated_speed_rpm": 600},
            "limits": {"melt_pressure_bar": 120, "screw_speed_rpm": 600},
            "zone": zones,
            "feeder": [
                {
                    "name": n,
                    "title": f"{t} {m}",
                    "material": m,
                    "at": at,
                    "side": side,
                    "hopper_kg": 160 if kg > 50 else 30,
                    "refill_below_kg": 40 if kg > 50 else 8,
                }
                for n, t, m, at, side, kg in FEEDERS
            ],
            "vent": [{"name": "V1", "at": "Z8"}],
            "sensor": sensors,
        }
    )


def twin_recipe() -> Recipe:
    total = sum(f[5] for f in FEEDERS)
    windows = [
        {
            "role": "feeder_rate",
            "at": n,
            "target": kg,
            "low": kg * 0.97,
            "high": kg * 1.03,
            "low_outer": kg * 0.92,
            "high_outer": kg * 1.08,
        }
        for n, *_, kg in FEEDERS
    ] + [
        {"role": "screw_speed", "target": 480, "low": 475, "high": 485},
        {"role": "torque", "target": 71, "low": 64, "high": 78, "high_outer": 88},
        {"role": "melt_pressure", "at": "P1", "target": 56, "low": 48, "high": 64, "high_outer": 80},
        {"role": "melt_pressure", "at": "P2", "target": 43, "low": 36, "high": 50},
        {"role": "melt_temperature", "at": "melt", "target": 238, "low": 232, "high": 244, "high_outer": 250},
        {"role": "vacuum", "at": "V1", "target": 100, "high": 130, "high_outer": 160},
    ]
    return Recipe.model_validate(
        {
            "format": 1,
            "recipe": {
                "name": RECIPE,
                "product": "grey talc compound",
                "materials": ["PP"],
                "rate_kg_h": total,
                "screw_speed_rpm": 480,
                "melt_density_kg_m3": 900,
                "ceiling_c": 260,
            },
            "zones": dict(zip([*(f"Z{i}" for i in range(1, 11)), "adapter", "die"], ZONE_C, strict=True)),
            "shares": {n: round(kg / total * 100, 3) for n, *_, kg in FEEDERS},
            "window": windows,
        }
    )


def twin_block(line: Line) -> Block:
    n = HOURS * 3600
    rng = np.random.default_rng(4417)
    t = np.arange(n)
    short = t >= n - 24 * 60
    values = np.full((len(line.channels), n), np.nan)

    def put(key: str, y: np.ndarray | float) -> None:
        values[line.channels.index(key)] = y

    for i, zone in enumerate(line.zone_names):
        drift = np.clip((t - 6000) / 3000, 0, 1) * 2.6 if zone == "Z10" else 0
        put(
            f"zone_temperature:{zone}",
            ZONE_C[i] + 0.7 * np.sin(t / (190 + 13 * i)) + rng.normal(0, 0.15, n) + drift,
        )
        put(f"zone_setpoint:{zone}", float(ZONE_C[i]))
        duty = (38, 31, 12, -6, 14, 17, -9, 18, 16, 14, 27, 30)[i]
        put(f"zone_output:{zone}", duty + 5 * np.sin(t / (190 + 13 * i) + 1.4) + rng.normal(0, 1, n))
    for name, *_, kg in FEEDERS:
        lost = 0.82 if name == "F4" else 1.0
        rate = kg * np.where(short, lost, 1.0) * (1 + rng.normal(0, 0.015, n))
        hopper = 160 if kg > 50 else 30
        put(f"feeder_rate:{name}", rate)
        put(f"feeder_setpoint:{name}", kg)
        put(
            f"feeder_drive:{name}",
            np.where(short & (name == "F4"), np.minimum(97, 58 + (t - n + 1440) / 8), 58.0),
        )
        fill = 0.35 + 0.6 * (1 - ((t * kg / 3600 / hopper + 0.3) / 0.6) % 1)
        put(f"feeder_weight:{name}", hopper * fill)
        put(f"feeder_gravimetric:{name}", 1.0)
    put("screw_speed", 480 + rng.normal(0, 0.6, n))
    put("torque", 71 * np.where(short, 0.94, 1) + rng.normal(0, 0.8, n))
    put("melt_pressure:P1", 52 + t / n * 6 + rng.normal(0, 0.5, n))
    put("melt_pressure:P2", 43 + rng.normal(0, 0.4, n))
    put("melt_temperature:melt", 238 + 0.8 * np.sin(t / 700) + rng.normal(0, 0.2, n))
    put("vacuum:V1", 99 + rng.normal(0, 2, n))
    values[:, 3000:3180] = np.nan
    status = np.where(np.isnan(values), 3, FRESH).astype(np.uint8)
    t0 = END - n * SECOND
    notes = (
        Note(t0, "recipe", RECIPE),
        Note(t0, "lot", "4416"),
        Note(t0 + HOUR, "lot", "4417"),
        Note(t0 + HOUR + 1800 * SECOND, "container packed", "4417-1"),
        Note(END - 900 * SECOND, "container packed", "4417-2"),
    )
    return Block(t0, SECOND, line.channels, values, status, notes)


def twin_quantities(block: Block) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    rates = block.values[[block.channels.index(f"feeder_rate:{f[0]}") for f in FEEDERS]]
    cells = block.n // 10
    mean = rates[:, : cells * 10].reshape(len(FEEDERS), cells, 10).mean(axis=2)
    t = block.t0 + 10 * SECOND * np.arange(cells, dtype=np.int64)
    total = mean.sum(axis=0)
    found = {f"share:{f[0]}": (t, 100 * mean[i] / total) for i, f in enumerate(FEEDERS)}
    return {
        **found,
        "total_feed": (t, total),
        "residence_time": (t, np.full(cells, 41.0)),
        "sme": (t, np.full(cells, 0.191)),
    }
