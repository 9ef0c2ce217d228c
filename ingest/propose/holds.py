"""How long a reading has to stand in a log that is stored now and then: on change, or each tag at its own pace."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ingest.block import Block
from ingest.errors import BadLog
from ingest.mapping import LogMapping
from ingest.propose.heartbeat import EVEN, SAME_PACE, UNEVEN
from ingest.propose.opened import Opened, open_any
from ingest.propose.sample import Sample, sample_of_cells, take_sample
from ingest.roles import ROLES, split_key
from ingest.time_stamps import as_text

LONGEST_S, LONG_S = 86400.0, 3600.0
_MARGIN, _LEAST = 1.2, 3


def holds_needed(roles: Mapping[str, str], sample: Sample) -> dict[str, float]:
    """Hold of every tag that a log stores more seldom than its role is used to, s, rounded up to whole minutes.

    A log that is stored on change writes what stays after a time that is one for all its tags: the longest that two of
    them keep to. However lively a tag is, it is so still as soon as it stays: a rate in a stop, or shown as set while
    its feeder is refilled. A tag on a clock has its own pace; at the fastest pace there is it may as well be one that
    has not stayed yet. Where several tags show after how long this log stores again what did not change, set-points
    say, that is the time of all that keep to it. roles: by tag.
    """
    place = {tag: i for i, tag in enumerate(sample.tags)}
    known = [tag for tag in roles if tag in place]
    judged = [tag for tag in known if ROLES[roles[tag]].hold_s < LONG_S]
    witnesses = [tag for tag in judged if sample.uneven[place[tag]] > UNEVEN]
    fastest = min((float(sample.apart_s[place[tag]]) for tag in judged if sample.apart_s[place[tag]] > 0), default=0.0)
    clocked = [
        tag for tag in judged if sample.uneven[place[tag]] < EVEN and sample.apart_s[place[tag]] > SAME_PACE * fastest
    ]
    on_change = [tag for tag in judged if tag not in clocked] if len(witnesses) >= _LEAST else []
    kept = sorted((float(sample.apart_s[place[tag]]) for tag in witnesses), reverse=True)
    longest = min(kept[1], LONG_S) if on_change else 0.0
    holds = {}
    for tag in known:
        apart = float(sample.apart_s[place[tag]])
        needed = _MARGIN * (max(apart, longest) if tag in on_change else apart)
        if tag in sample.heartbeat.tags:
            needed = _MARGIN * min(sample.heartbeat.every_s, max(LONG_S, apart))
        if needed > ROLES[roles[tag]].hold_s:
            holds[tag] = min(LONGEST_S, 60.0 * math.ceil(needed / 60))
    return holds


def with_holds_seen(
    paths: Sequence[Path], mapping: LogMapping, stated: Collection[str]
) -> tuple[LogMapping, dict[str, float]]:
    """The mapping with holds as long as the log needs them, and which those are, s by tag.

    stated: tags whose hold the line file says; they are left alone. Only a log that leaves readings out is looked at: a
    long one, or a wide one with empty cells. Reads a bounded number of rows.
    """
    free = {one.tag: split_key(one.key)[0] for one in mapping.channels if one.tag not in stated}
    if not free:
        return mapping, {}
    try:
        opened = [_as_mapped(one, mapping) for one in open_any(paths, mapping.time_format)]
        opened = [one for one in opened if one.layout == mapping.layout and _leaves_out(one, free)]
        sample = take_sample(opened, mapping.line_value) if opened else None
    except BadLog:
        return mapping, {}  # the reader proper says what is wrong
    if sample is None:
        return mapping, {}
    holds = holds_needed(free, sample)
    return _with(mapping, holds), holds


def with_holds_of_cells(
    stretches: Iterable[Sequence[Block]], mapping: LogMapping, stated: Collection[str]
) -> LogMapping:
    """The same of cells that an archive keeps: their readings were held so when they were imported."""
    free = {one.tag: split_key(one.key)[0] for one in mapping.channels if one.tag not in stated}
    sample = sample_of_cells(stretches, {one.key: one.tag for one in mapping.channels})
    if sample is None or np.isfinite(sample.values).all():
        return mapping
    return _with(mapping, holds_needed(free, sample))


def _with(mapping: LogMapping, holds: Mapping[str, float]) -> LogMapping:
    channels = tuple(replace(one, hold_s=holds.get(one.tag, one.hold_s)) for one in mapping.channels)
    return replace(mapping, channels=channels)


def _as_mapped(one: Opened, mapping: LogMapping) -> Opened:
    """Columns as the line file names them, where it does."""
    one = replace(one, line_column=mapping.line_column)
    if mapping.layout != "long":
        return one
    return replace(one, layout="long", tag_column=mapping.tag_column, value_column=mapping.value_column)


def _leaves_out(one: Opened, tags: Collection[str]) -> bool:
    if one.layout == "long":
        return True
    head = one.log.head()
    columns = [as_text(head.columns[tag]) for tag in tags if tag in head.columns]
    return any(bool(np.any(np.asarray(column.to_pylist(), dtype=object) == "")) for column in columns)
