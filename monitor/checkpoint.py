"""A monitor's state as JSON and back, to the bit.

Python prints floats so that they read back equal; NaN and infinity, which JSON lacks, are kept as words inside
arrays and floats. Arrays keep their type and shape, tuples, episodes and records their kind.
"""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any

import numpy as np

from monitor.episodes import Episode
from monitor.records import Record

_ODD = {"nan": float("nan"), "inf": float("inf"), "-inf": float("-inf")}


class CheckpointError(ValueError):
    """A checkpoint that this program cannot go on from."""


def dump_state(state: Any) -> str:
    """State as one line of JSON; equal states give equal text."""
    return json.dumps(_out(state), sort_keys=True, allow_nan=False, separators=(",", ":"))


def load_state(text: str) -> Any:
    """The state that `dump_state` wrote; raises CheckpointError."""
    try:
        return _in(json.loads(text))
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise CheckpointError(f"this checkpoint cannot be read: {error}") from None


def _out(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        flat = value.ravel()
        items = flat.tolist()
        if flat.dtype.kind == "f":
            # Most are finite: only the others are looked at one by one.
            for place in np.flatnonzero(~np.isfinite(flat)).tolist():
                items[place] = _number(items[place])
        return {"array": items, "type": value.dtype.str, "shape": list(value.shape)}
    if isinstance(value, Episode):
        return {"episode": [_out(getattr(value, item.name)) for item in fields(Episode)]}
    if isinstance(value, Record):
        return {"record": value.as_json()}
    if isinstance(value, tuple):
        return {"tuple": [_out(item) for item in value]}
    if isinstance(value, list):
        return [_out(item) for item in value]
    if isinstance(value, dict):
        return {"dict": {str(key): _out(item) for key, item in value.items()}}
    if isinstance(value, np.generic):
        return _number(value.item())
    return _number(value)


def _number(value: Any) -> Any:
    if isinstance(value, float) and value - value != 0.0:
        return {"odd": str(value)}
    return value


def _in(value: Any) -> Any:
    if isinstance(value, list):
        return [_in(item) for item in value]
    if not isinstance(value, dict):
        return value
    if "odd" in value:
        return _ODD[value["odd"]]
    if "array" in value:
        items = [_ODD[item["odd"]] if type(item) is dict else item for item in value["array"]]
        return np.array(items, dtype=np.dtype(value["type"])).reshape(value["shape"])
    if "episode" in value:
        names = [item.name for item in fields(Episode)]
        return Episode(**dict(zip(names, map(_in, value["episode"]), strict=True)))
    if "record" in value:
        return Record.from_json(value["record"])
    if "tuple" in value:
        return tuple(_in(item) for item in value["tuple"])
    return {key: _in(item) for key, item in value["dict"].items()}
