"""An invented line over thirty days, minute by minute: a heater failing and repaired, screens, a screw wearing."""

from __future__ import annotations

import numpy as np

from dashboards.clock import DAY, HOUR, MINUTE
from dashboards.memory_data import MemoryData, MemoryLine
from ingest.block import FRESH, Block, Note
from monitor.line import Line
from monitor.records import Finding, Record, finding_id
from tests.dashboards.plant import END

DAYS = 30
NAME = "Line 8"
START = (END - DAYS * DAY) // (10 * MINUTE) * (10 * MINUTE)
FAILED, REPAIRED = START + 20 * DAY, START + 27 * DAY
STOP_H = (2.0, 4.0)
"""Every night the line stands between these hours of the log."""
SCREEN_DAYS = 6
ZONES = ("Z1", "Z2", "Z3")


def weeks_line() -> Line:
    roles = [(role, zone) for zone in ZONES for role in ("zone_temperature", "zone_setpoint", "zone_output")]
    roles += [(role, "F1") for role in ("feeder_rate", "feeder_setpoint", "feeder_drive")]
    roles += [("melt_pressure", "P1"), ("melt_temperature", "TM"), ("torque", ""), ("screw_speed", "")]
    return Line.model_validate(
        {
            "format": 1,
            "line": {"name": NAME, "kind": "twin-screw", "time_zone": "Europe/Madrid", "cadence_s": 60},
            "limits": {"melt_pressure_bar": 200},
            "zone": [{"name": zone} for zone in ZONES],
            "feeder": [{"name": "F1", "at": "Z1", "material": "PX"}],
            "sensor": [
                {"tag": f"{role} {at}", "role": role, **({"at": at} if at else {})} for role, at in roles
            ],
        }
    )  # fmt: skip


def weeks() -> MemoryData:
    """The line, its newest minute just read; the failure of Z2 repaired three days ago."""
    line, n = weeks_line(), DAYS * 24 * 60
    rng = np.random.default_rng(11)
    minute = np.arange(n)
    day, hour = minute / 1440, minute / 60 % 24
    standing = (hour >= STOP_H[0]) & (hour < STOP_H[1])
    rows: dict[str, np.ndarray] = {}
    for i, zone in enumerate(ZONES):
        rows[f"zone_setpoint:{zone}"] = np.full(n, 200.0 + 5 * i)
        rows[f"zone_temperature:{zone}"] = 200.0 + 5 * i + rng.normal(0, 0.4, n)
        rows[f"zone_output:{zone}"] = 15 + rng.normal(0, 1, n)
    rows["zone_output:Z2"] += np.where((day >= 20) & (day < 27), 16, 0)
    rows["feeder_setpoint:F1"] = np.full(n, 400.0)
    rows["feeder_rate:F1"] = 400 + rng.normal(0, 4, n)
    rows["feeder_drive:F1"] = 55 + rng.normal(0, 1, n)
    rows["melt_pressure:P1"] = 60 + 3 * (day % SCREEN_DAYS) + rng.normal(0, 0.4, n)
    rows["melt_temperature:TM"] = 225 + 0.2 * day + rng.normal(0, 0.3, n)
    rows["torque"] = np.where((day >= 28) & (day < 28 + 3 / 24) & ~standing, 95.0, 70 + rng.normal(0, 1, n))
    rows["screw_speed"] = np.full(n, 300.0)
    for key in ("feeder_rate:F1", "feeder_drive:F1", "melt_pressure:P1", "torque", "screw_speed"):
        rows[key] = np.where(standing, 0.0, rows[key])
    values = np.array([rows[key] for key in line.channels])
    notes = tuple(Note(START + d * DAY, "lot", f"80{d:02d}") for d in range(0, DAYS, 2))
    notes = tuple(sorted((*notes, *(Note(note.at_ns, "recipe", "R-8") for note in notes))))
    block = Block(START, MINUTE, line.channels, values, np.full(values.shape, FRESH, np.uint8), notes)
    phases = []
    for d in range(DAYS):
        begin, stop, go = START + d * DAY, *(START + d * DAY + round(h * HOUR) for h in STOP_H)
        phases += [(begin, stop, "steady"), (stop, go, "stopped"), (go, begin + DAY, "steady")]
    ten = np.arange(n // 10)
    t10 = START + 10 * MINUTE * ten.astype(np.int64)
    up = ~standing[::10]
    quantities = {
        "total_feed": (t10, np.where(up, 400.0, 0.0)),
        "specific_throughput": (t10, np.where(up, 400 / 300, np.nan)),
        "sme": (t10, np.where(up, 0.19, np.nan) + rng.normal(0, 0.001, len(ten))),
    }
    held = MemoryLine(line, [], block, phases, quantities, _findings(), source="live")
    data = MemoryData([held], clock=lambda: block.end + 30 * 10**9)
    data.source.act(NAME, _findings()[0].last.finding, "repaired", "Vera", "two bands replaced", REPAIRED)
    return data


def _findings() -> list[Finding]:
    def record(condition: str, family: str, channel: str, since: int, until: int, summary: str) -> Record:
        base: dict = {
            "decided_at": since + HOUR, "seq": 1, "finding": finding_id(NAME, condition, channel, since),
            "kind": "closed", "line": NAME, "family": family, "condition": condition, "channel": channel,
            "since": since, "until": until, "priority": 2, "confidence": "high", "summary": summary,
            "checks": ("heater current of each band", "fuse and contactor"),
        }  # fmt: skip
        return Record(**base)

    partial = record(
        "heater_partial", "heater", "zone_output:Z2", FAILED, REPAIRED,
        "zone Z2 needs 31 % heat where 15 % was usual: a part of its heater is dead",
    )  # fmt: skip
    tripped = "the screws stopped under load, from 300 rpm"
    stopped, again = (
        record("stopped_under_load", "drive", "screw_speed", START + d * DAY, START + d * DAY + MINUTE, tripped)
        for d in (22, 25)
    )
    cold = [
        record(
            "cold_start", "cold_start", f"zone_temperature:{z}", START + 24 * DAY + i * MINUTE, START + 25 * DAY,
            f"the screws were started with zone {z} 40 °C under its set-point",
        )
        for i, z in enumerate(ZONES)
    ]  # fmt: skip
    return [Finding(r.decided_at, r) for r in (partial, stopped, again, *cold)]
