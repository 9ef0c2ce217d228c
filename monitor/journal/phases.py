"""Keeps the phase of every cell as runs of equal phase, so that a week is a few dozen rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from sqlalchemy import Connection, insert, select, update

from monitor.journal.schema import phase_table

_r = phase_table.c


@dataclass(frozen=True)
class PhaseRun:
    """The line was in `phase` (index into monitor.phases.PHASES) during [t0, t1), UTC nanoseconds."""

    t0: int
    t1: int
    phase: int


def append_phases(connection: Connection, line: str, t0: int, step: int, phase: np.ndarray) -> None:
    """Add the phases of consecutive cells from t0; the newest run is lengthened when it goes on."""
    if not phase.size:
        return
    first = np.concatenate(([0], np.flatnonzero(np.diff(phase)) + 1))
    last = np.concatenate((first[1:], [phase.size]))
    runs = [PhaseRun(t0 + int(a) * step, t0 + int(b) * step, int(phase[a])) for a, b in zip(first, last, strict=True)]
    newest = connection.execute(
        select(_r.t0_ns, _r.t1_ns, _r.phase).where(_r.line == line).order_by(_r.t0_ns.desc()).limit(1)
    ).first()
    if newest is not None and newest.t1_ns == runs[0].t0 and newest.phase == runs[0].phase:
        connection.execute(
            update(phase_table).where(_r.line == line, _r.t0_ns == newest.t0_ns).values(t1_ns=runs[0].t1)
        )
        runs = runs[1:]
    if runs:
        connection.execute(
            insert(phase_table),
            [{"line": line, "t0_ns": run.t0, "t1_ns": run.t1, "phase": run.phase} for run in runs],
        )


def read_runs(connection: Connection, line: str, t0: int, t1: int) -> list[PhaseRun]:
    """Runs that touch [t0, t1), cut to it."""
    rows = connection.execute(
        select(_r.t0_ns, _r.t1_ns, _r.phase).where(_r.line == line, _r.t1_ns > t0, _r.t0_ns < t1).order_by(_r.t0_ns)
    )
    return [PhaseRun(max(t0, row.t0_ns), min(t1, row.t1_ns), row.phase) for row in rows]


def cells_of(runs: list[PhaseRun], step: int) -> tuple[np.ndarray, np.ndarray]:
    """The runs as cells: start of each cell, int64 UTC nanoseconds, and its phase, int8."""
    t = [np.arange(-(-run.t0 // step) * step, run.t1, step, dtype=np.int64) for run in runs]
    phase = [np.full(part.size, run.phase, np.int8) for part, run in zip(t, runs, strict=True)]
    if not runs:
        return np.empty(0, np.int64), np.empty(0, np.int8)
    return np.concatenate(t), np.concatenate(phase)
