"""The invented lines with their findings, held in memory."""

from __future__ import annotations

import numpy as np

from dashboards.memory_data import MemoryLine
from ingest.block import FRESH, Block
from monitor.line import Line
from monitor.records import Cause, Evidence, Finding, Record, finding_id
from tests.dashboards.plant import (
    END,
    HOUR,
    RECIPE,
    SECOND,
    SHORT_SINCE,
    twin_block,
    twin_line,
    twin_quantities,
    twin_recipe,
)


def _record(channel: str, condition: str, since: int, **more: object) -> Record:
    base: dict = {
        "decided_at": since + 60 * SECOND,
        "seq": 1,
        "finding": finding_id("Line 3", condition, channel, since),
        "kind": "opened",
        "line": "Line 3",
        "condition": condition,
        "channel": channel,
        "since": since,
        "until": None,
        "confidence": "high",
        "lot": "4417",
        "recipe": RECIPE,
    }
    return Record(**{**base, **more})


def _twin_findings() -> list[Finding]:
    short = _record(
        "feeder_rate:F4",
        "feeder_below_set",
        SHORT_SINCE,
        family="feeder",
        priority=2,
        summary="talc T4 delivers 83.8 kg/h, 102.2 wanted; its drive has climbed to 97 %",
        evidence=(
            Evidence("rate of talc T4", 83.8, "kg/h", 102.2, 12.0, "feeder_rate:F4"),
            Evidence("drive of talc T4", 97.0, "%", 58.0, None, "feeder_drive:F4"),
        ),
        causes=(Cause("bridged or rat-holing in the hopper"), Cause("bulk density of a new lot is lower")),
        checks=(
            "look into the talc hopper: bridge, hollow above the screw",
            "agitator running?",
            "last refill: which lot, how much",
        ),
        caution="Screws turn inside feeder and throat: no hands, no metal rods.",
    )
    share = _record(
        "share:F4",
        "share_off",
        SHORT_SINCE + 90 * SECOND,
        family="composition",
        priority=3,
        part_of=short.finding,
        summary="talc share 17.1 %, 20.1 wanted",
        evidence=(Evidence("share of talc T4", 17.1, "%", 20.05),),
    )
    zone = _record(
        "zone_temperature:Z10",
        "zone_drift",
        END - 55 * 60 * SECOND,
        family="drift",
        priority=4,
        summary="Z10 drifts upward, 2.4 C above its target and still inside",
        confidence="medium",
        evidence=(Evidence("temperature of Z10", 217.4, "C", 215.0, 3.1, "zone_temperature:Z10"),),
        checks=("cooling of Z10: valve, water",),
    )
    old = _record(
        "vacuum:V1",
        "vacuum_lost",
        END - 150 * 60 * SECOND,
        family="vacuum",
        priority=3,
        kind="closed",
        until=END - 141 * 60 * SECOND,
        summary="vacuum at V1 was 142 mbar, 100 wanted",
        lot="4416",
        evidence=(Evidence("pressure at V1", 142.0, "mbar", 100.0, 8.0, "vacuum:V1"),),
        checks=("condensate pot",),
    )
    return [Finding(r.decided_at, r) for r in (old, zone, short, share)]


def twin() -> MemoryLine:
    line = twin_line()
    block = twin_block(line)
    t0 = block.t0
    phases = [(t0, t0 + 600 * SECOND, "settling"), (t0 + 600 * SECOND, END, "steady")]
    account = {"rows read": 10800, "cells": 10800, "bad status": 12, "outside the sensor's range": 0}
    return MemoryLine(line, [twin_recipe()], block, phases, twin_quantities(block), _twin_findings(), account)


def single() -> MemoryLine:
    line = Line.model_validate(
        {
            "format": 1,
            "line": {
                "name": "Line 5",
                "kind": "single-screw",
                "time_zone": "Europe/Madrid",
                "title": "sheet line",
            },
            "zone": [
                {"name": f"B{i}", "element": e}
                for i, e in enumerate(("conveying", "compression", "metering", "metering"), 1)
            ],
            "feeder": [{"name": "H", "kind": "hopper", "title": "hopper", "at": "B1"}],
            "sensor": [{"tag": f"T{i}", "role": "zone_temperature", "at": f"B{i}"} for i in range(1, 5)]
            + [
                {"tag": "N", "role": "screw_speed"},
                {"tag": "A", "role": "motor_current"},
                {"tag": "P", "role": "melt_pressure", "at": "P1", "unit": "relative"},
            ],
        }
    )
    n = 600
    values = np.vstack([np.full((4, n), 190.0), np.full(n, 61.0), np.full(n, 118.0), np.full(n, 0.44)])
    block = Block(END - 2 * HOUR, SECOND, line.channels, values, np.full(values.shape, FRESH, np.uint8))
    return MemoryLine(line, [], block, [(block.t0, block.end, "steady")])
