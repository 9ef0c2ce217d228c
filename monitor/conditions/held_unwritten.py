"""A feeder whose rate is held while it is refilled, in a log that is written on change: nothing is written of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ingest.roles import channel_key, split_key
from monitor.exact import Bools, Floats
from monitor.view import CoarseView

HELD_FOR_S = 600.0
"""A large hopper is filled within ten minutes; common practice, no source."""

ON_SET = 1e-4
"""Share of its set-point within which a rate that stands is the set-point itself."""

HELD = ("feeder_rate", "feeder_drive")


def held_unwritten(view: CoarseView, keys: Sequence[str], latest: Floats) -> Bools:
    """Channels of feeders whose newest rate stood on its set-point: rate and drive are held then, [channel, n].

    latest: newest reading of each channel, [channel, n].
    """
    out = np.zeros(latest.shape, bool)
    rows = {key: row for row, key in enumerate(keys)}
    for key, row in rows.items():
        role, at = split_key(key)
        rate = rows.get(channel_key("feeder_rate", at))
        if role in HELD and rate is not None:
            wanted = view.get(channel_key("feeder_setpoint", at))
            with np.errstate(invalid="ignore"):
                out[row] = np.abs(latest[rate] - wanted) <= ON_SET * np.abs(wanted)
    return out
