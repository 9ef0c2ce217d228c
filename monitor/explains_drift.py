"""Which of several quantities that wander at once tells the event: the others follow it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

ONE_EVENT_H = 0.5
"""Quantities that left where they were within so long of each other did so by one event: a median of 10 min either way
and the lag of a well or a screw. Common practice, no source."""

HOUR_NS = 3600 * 10**9


PRESSURE_GOES = {"melt_c": -1.0, "torque": 1.0, "pressure": 1.0}
"""Which way a pressure goes with what leads: down with a hotter melt, up with a load and with another pressure."""


def one_event(cause: Mapping[str, Any], effect: Mapping[str, Any]) -> bool:
    """Whether one drift is told by another: that one leads by what all quantities did, both began together, and a
    pressure went the way it does with it.

    cause, effect: as they stand; `began_h` says how long before its `since` each began.
    """
    first, other = cause["moved"], effect["moved"]
    if not first.get("leads", 0.0) > 0.0:
        return False
    began = [one["since"] / HOUR_NS - one["moved"].get("began_h", float("nan")) for one in (cause, effect)]
    own = next((sign * first[name] for name, sign in PRESSURE_GOES.items() if name in first), 0.0)
    return abs(began[0] - began[1]) <= ONE_EVENT_H and other.get("pressure", own) * own > 0.0
