"""Decides, before a log is read, for which channels an impossible number may be taken as 'no reading'.

Where a channel has impossible readings that are no known numbers, its unit is wrong, and 9999 or 6553.5 may be one of
its readings: then nothing is taken. What is looked at does not depend on how the file is cut up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pyarrow as pa

from ingest.channel_values import ChannelValues
from ingest.mapping import LogMapping
from ingest.raw_rows import Log, side_by_side
from ingest.sentinel_numbers import is_known, is_no_reading


def with_sentinels_where_sound(
    channels: Sequence[ChannelValues], logs: Sequence[Log], mapping: LogMapping
) -> tuple[ChannelValues, ...]:
    """The same channels; those with other impossible readings take no number as 'no reading' by itself."""
    seen: dict[str, list[str]] = {}
    for log in logs:
        if mapping.layout == "long":
            for tag, value in side_by_side(log, (mapping.tag_column, mapping.value_column)):
                seen.setdefault(tag.text.strip(), []).append(value.text)
            continue
        for channel in channels:
            if channel.source.tag in log.names:
                seen.setdefault(channel.source.tag, []).extend(log.texts(channel.source.tag))
    return tuple(
        channel if _sound(seen.get(channel.source.tag, []), *channel.possible) else replace(channel, possible=_ANY)
        for channel in channels
    )


_ANY = (-np.inf, np.inf)


def _sound(texts: Sequence[str], low: float, high: float) -> bool:
    try:  # nearly always they are numbers, which Arrow reads at once
        numbers = pa.array([text for text in texts if text], pa.string()).cast(pa.float64()).to_numpy()
        if not ((numbers < low) | (numbers > high)).any():
            return True
    except pa.ArrowInvalid:
        pass
    for text in texts:
        try:
            number = float(text.replace(",", "."))
        except ValueError:
            continue
        if (number < low or number > high) and np.isfinite(number) and not (is_known(number) or is_no_reading(number)):
            return False
    return True
