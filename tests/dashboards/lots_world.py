"""Line 3 with nine lots of twenty minutes; the last is short of talc, and Line 5 beside it."""

from __future__ import annotations

import dataclasses

from dashboards.memory_data import MemoryData
from ingest.block import Note
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, RECIPE, SECOND

LOTS = 9
LASTS_NS = 20 * 60 * SECOND


def nine_lots() -> MemoryData:
    """Lots 4410 to 4418, the last still running half a second after its newest reading."""
    held = twin()
    t0 = held.block.t0
    notes = [Note(t0, "recipe", RECIPE), *(Note(t0 + i * LASTS_NS, "lot", str(4410 + i)) for i in range(LOTS))]
    block = dataclasses.replace(held.block, notes=tuple(sorted(notes)))
    return MemoryData([dataclasses.replace(held, block=block), single()], clock=lambda: END + SECOND // 2)
