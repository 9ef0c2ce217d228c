"""How long the readings of a log stand that is stored now and then: seen in the log, and said."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from dashboards.clock import duration
from ingest.block import Block
from ingest.mapping import LogMapping
from ingest.propose.holds import with_holds_of_cells, with_holds_seen
from monitor.line import Line

NAMED = 4


def mapping_with_holds(logs: Sequence[Path], line: Line) -> tuple[LogMapping, tuple[str, ...]]:
    """How a line reads a log, with holds as long as the log needs them, and a sentence for each that was taken so."""
    stated = [sensor.tag for sensor in line.sensor if sensor.hold_s]
    mapping, holds = with_holds_seen(logs, line.mapping(), stated)
    return mapping, tuple(_said(holds))


def mapping_with_holds_of_cells(stretches: Iterable[Sequence[Block]], line: Line) -> LogMapping:
    """The same of an archive, whose import said so."""
    return with_holds_of_cells(stretches, line.mapping(), [sensor.tag for sensor in line.sensor if sensor.hold_s])


def _said(holds: Mapping[str, float]) -> Iterator[str]:
    """What was taken for how long readings stand, with the line that says it for good."""
    for hold in sorted(set(holds.values())):
        tags = [tag for tag, one in holds.items() if one == hold]
        named = ", ".join(map(repr, tags[:NAMED])) + (f" and {len(tags) - NAMED} more" if len(tags) > NAMED else "")
        yield (
            f"{named}: stored now and then, up to {duration(hold / 1.2)} apart, so a reading is taken to stand "
            f"{duration(hold)}; write hold_s = {hold:g} at such a [[sensor]] to have it so for good"
        )
