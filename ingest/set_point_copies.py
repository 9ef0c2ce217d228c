"""An 'actual' that is its set-point in every reading: the log holds what was wanted twice and what was had never."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ingest.account import GUESS, LIKELY, SURE, ReadingAccount
from ingest.cell_samples import CellSamples
from ingest.mapping import ChannelSource
from ingest.roles import channel_key, split_key

PAIRS = {
    "zone_temperature": "zone_setpoint",
    "feeder_rate": "feeder_setpoint",
    "screw_speed": "screw_speed_setpoint",
    "line_rate": "line_rate_setpoint",
    "vacuum": "vacuum_setpoint",
}
FEWEST = 60
EQUAL = 0.995


def notice_set_point_copies(samples: CellSamples, sources: Sequence[ChannelSource], account: ReadingAccount) -> None:
    """Says which actual values are set-points, and how sure that is.

    A controlled value does not meet a set-point that moves in the very cell in which it moves; where the set-point
    never moved, a value written in coarse steps can honestly equal it for hours.
    """
    table = samples.samples()
    place = {source.key: i for i, source in enumerate(sources)}
    for source in sources:
        role, subject = split_key(source.key)
        wanted = place.get(channel_key(PAIRS[role], subject)) if role in PAIRS else None
        if wanted is None or sources[wanted].tag == source.tag:
            continue
        actual, target = table[place[source.key]], table[wanted]
        both = ~np.isnan(actual) & ~np.isnan(target) & (target != 0)
        if both.sum() < FEWEST or np.mean(actual[both] == target[both]) < EQUAL:
            continue
        steps = len(np.unique(target[both])) - 1
        coarse = account.characters.get(source.tag, {}).get("resolution", 0.0) >= 1 or not steps
        level = GUESS if coarse and not steps else SURE if steps >= 3 else LIKELY
        account.notice(
            f"'{source.tag}' equals its set-point '{sources[wanted].tag}' in every reading looked at"
            + (f", through {steps} changes of it" if steps else ", which never moved")
            + ": it is the set-point, not what the machine did",
            level,
        )
