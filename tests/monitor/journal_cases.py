"""Small lines, blocks and records for the tests of the journal."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field

import numpy as np

from ingest.block import Block, Note
from monitor.line import Line
from monitor.records import Cause, Evidence, Record

LINE_TOML = """
format = 1
[line]
name = "Line 3"
kind = "twin-screw"
time_zone = "Europe/Madrid"
[[sensor]]
tag = "SPEED"
role = "screw_speed"
[[sensor]]
tag = "TORQUE"
role = "torque"
"""
RECIPE_TOML = """
format = 1
[recipe]
name = "PP natural"
"""
CHANNELS = ("screw_speed", "torque")
S = 1_000_000_000
T0 = 1_772_430_000 * S  # 2026-03-02 05:40:00 UTC, 20 minutes before an hour


@dataclass
class Given:
    records: list[Record]
    phase: np.ndarray
    quantities: dict = field(default_factory=dict)


def a_line(name: str = "Line 3") -> Line:
    return Line.model_validate(tomllib.loads(LINE_TOML.replace("Line 3", name)))


def a_block(t0: int, n: int, seed: int = 0, notes: tuple[Note, ...] = ()) -> Block:
    rng = np.random.default_rng([seed, t0 // S % 100_000])
    values = np.round(rng.normal(200, 5, (2, n)), 1)
    values[rng.random((2, n)) < 0.05] = np.nan
    status = np.where(np.isnan(values), 3, rng.choice([0, 4, 4, 4, 5, 6], (2, n))).astype(np.uint8)
    return Block(t0, S, CHANNELS, values, status, notes)


def a_record(seq: int, finding: str, kind: str, since: int, until: int | None = None, **more) -> Record:
    return Record(
        decided_at=since + seq * S, seq=seq, finding=finding, kind=kind, line="Line 3", family="drift",  # type: ignore[arg-type]
        condition="slow_drift", channel="torque", since=since, until=until, priority=3, confidence="medium",
        summary="torque drifts", evidence=(Evidence("torque", 55.2, "%", 50.0, 3.1, "torque"),),
        causes=(Cause("screen blinding"),), checks=("look at the screen",), **more,
    )  # fmt: skip


def judged(block: Block, *records: Record, quantities: dict | None = None) -> Given:
    return Given(list(records), np.full(block.n, 8, np.int8), quantities or {})


def same(a: Block, b: Block) -> bool:
    return (
        (a.t0, a.step, a.channels, a.notes) == (b.t0, b.step, b.channels, b.notes)
        and a.values.tobytes() == b.values.tobytes()
        and a.status.tobytes() == b.status.tobytes()
    )
