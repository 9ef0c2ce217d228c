"""Files of a log that run side by side, as temperatures in one and feeders in another, joined by time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ingest.mapping import LogMapping
from ingest.raw_rows import Log
from ingest.readings import Readings, join

_END = np.iinfo(np.int64).max

Stream = Iterator[tuple[Readings | None, int]]
"""Readings in order of time in whole cells, each time with the stamp that no later reading is before."""


def side_by_side(logs: Sequence[Log], mapping: LogMapping) -> list[list[int]]:
    """Groups of files that follow one another, by their index; the groups themselves run side by side.

    In the wide layout files with the same columns follow one another; in the long layout files that have a tag in
    common do, so far as looking shows.
    """
    if len(logs) == 1:
        return [[0]]
    tags = {source.tag for source in mapping.channels}
    if mapping.layout == "wide":
        by_columns: dict[frozenset[str], list[int]] = {}
        for i, log in enumerate(logs):
            by_columns.setdefault(frozenset(tags & set(log.names)), []).append(i)
        return list(by_columns.values())
    groups: list[tuple[set[str], list[int]]] = []
    for i, log in enumerate(logs):
        here, files = {one.text.strip() for one in log.seen(mapping.tag_column)} & tags, [i]
        apart = []
        for known, members in groups:
            if known & here or not here:
                here, files = here | known, [*members, *files]
            else:
                apart.append((known, members))
        groups = [*apart, (here, sorted(files))]
    return [files for _, files in sorted(groups, key=lambda group: group[1])]


def merged(streams: Sequence[Stream]) -> Iterator[Readings]:
    """Readings of all streams in order of time, those of one stamp in the order of the streams.

    The stream that is furthest behind is read on, so little has to wait.
    """
    if len(streams) == 1:
        for readings, _ in streams[0]:
            if readings is not None and len(readings):
                yield readings
        return
    limits = [-_END] * len(streams)
    waiting: list[Readings | None] = [None] * len(streams)
    while min(limits) < _END:
        i = limits.index(min(limits))
        readings, limits[i] = next(streams[i], (None, _END))
        if readings is not None and len(readings):
            held = waiting[i]
            waiting[i] = readings if held is None else join([held, readings])
        ready, least = [], min(limits)
        for k, held in enumerate(waiting):
            if held is None:
                continue
            cut = int(np.searchsorted(held.places.at_ns, least)) if least < _END else len(held)
            if cut:
                ready.append(held.take(slice(0, cut)))
                waiting[k] = held.take(slice(cut, None)) if cut < len(held) else None
        if ready:
            rows = join(ready)
            yield rows.take(np.argsort(rows.places.at_ns, kind="stable")) if len(ready) > 1 else rows
