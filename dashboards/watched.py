"""Which minutes of a stretch were not watched, and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dashboards.cells import means
from dashboards.clock import SECOND
from dashboards.data import JournalData
from dashboards.grid import JUDGED_PHASES
from dashboards.views import Run, end_of
from dashboards.windows import NO_READING, NOT_JUDGED
from ingest.roles import channel_key

DOUBTED_PRIORITY = 3
"""Notes about a sensor leave its reading as one that can be judged."""


@dataclass(frozen=True)
class Blind:
    """Seconds a channel was not watched.

    why: 'no reading', 'volumetric' or 'sensor' (a finding says that the sensor is at fault); first: when it first was,
    UTC ns.
    """

    key: str
    why: str
    seconds: float
    first: int


@dataclass(frozen=True)
class Watch:
    """Length of the stretch, time in judged phases with windows known and without, and what was missed.

    any_s: at least one channel blind.
    """

    total_s: float
    judged_s: float
    windowless_s: float
    any_s: float
    blind: tuple[Blind, ...]


def watched(data: JournalData, run: Run) -> Watch:
    """What of `run` was watched. Blind channels count only while windows are judged."""
    grid, line = run.grid, run.line
    middle = grid.t0 + grid.step * np.arange(grid.code.shape[1], dtype=np.int64) + grid.step // 2
    judged = np.zeros(middle.shape, dtype=bool)
    for segment in run.phases:
        if segment.name in JUDGED_PHASES:
            judged |= (middle >= segment.start) & (middle < segment.end)
    windowless = judged & (grid.code == NOT_JUDGED).all(axis=0)
    judged &= ~windowless
    step_s = grid.step / SECOND
    blind: list[Blind] = []
    any_blind = np.zeros(middle.shape, dtype=bool)
    for row, key in enumerate(grid.keys):
        missing = (grid.code[row] == NO_READING) & judged
        any_blind |= missing
        if missing.any():
            blind.append(Blind(key, "no reading", float(missing.sum() * step_s), int(middle[np.argmax(missing)])))
    for key in grid.keys:
        doubted = np.zeros(middle.shape, dtype=bool)
        for finding in run.findings:
            last = finding.last
            if last.family == "sensor" and last.priority <= DOUBTED_PRIORITY and last.channel == key:
                doubted |= (middle >= last.since) & (middle < end_of(finding, run.t1)) & judged
        doubted &= grid.code[grid.keys.index(key)] != NO_READING
        any_blind |= doubted
        if doubted.any():
            blind.append(Blind(key, "sensor", float(doubted.sum() * step_s), int(middle[np.argmax(doubted)])))
    modes = [channel_key("feeder_gravimetric", f.name) for f in line.feeder]
    modes = [key for key in modes if key in line.channels]
    if modes and len(middle):
        cells = means(data.source, line.name, grid.t0, grid.end, modes, grid.step)
        for row, key in enumerate(modes):
            volumetric = (cells.mean[row][: len(judged)] < 0.5) & judged
            any_blind |= volumetric
            if volumetric.any():
                blind.append(
                    Blind(
                        key,
                        "volumetric",
                        float(volumetric.sum() * step_s),
                        int(middle[np.argmax(volumetric)]),
                    )
                )
    return Watch(
        (run.t1 - run.t0) / SECOND,
        float(judged.sum() * step_s),
        float(windowless.sum() * step_s),
        float(any_blind.sum() * step_s),
        tuple(blind),
    )
