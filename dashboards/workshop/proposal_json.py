"""A proposal as JSON and back, with what is shown beside it: the first rows, and a few hundred points of every tag."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from ingest.propose import Candidate, LineProposal, LogKeys, Proposal, TagProposal

MOST_POINTS = 400
FIRST_ROWS = 8


def as_json(proposal: Proposal) -> dict[str, Any]:
    """All of it."""
    return asdict(proposal)


def from_json(content: Mapping[str, Any]) -> Proposal:
    """The proposal again."""
    log = _tuples(content["log"])
    return Proposal(
        LogKeys(**log), tuple(map(_line, content["lines"])), tuple(map(_tag, content["left_out"])),
        tuple(content["notes"]),
    )  # fmt: skip


def _tuples(content: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in content.items()}


def _line(content: Mapping[str, Any]) -> LineProposal:
    return LineProposal(**{**_tuples(content), "tags": tuple(map(_tag, content["tags"]))})


def _tag(content: Mapping[str, Any]) -> TagProposal:
    candidates = tuple(Candidate(**{**one, "reasons": tuple(one["reasons"])}) for one in content["candidates"])
    return TagProposal(**{**content, "candidates": candidates})


def preview(paths: Sequence[Path], line_values: Sequence[str]) -> dict[str, Any]:
    """The first rows as they stand in the first file, and for every line the course of its tags.

    columns: name -> texts. parts: for every line, seconds since 1970 on the log's own clock and tag -> values; None
    stands between stretches that are far apart, and for no reading.
    """
    from ingest.propose.opened import open_any
    from ingest.propose.sample import take_sample

    opened = open_any([Path(path) for path in paths])
    head = opened[0].log.head()
    columns = {name: _texts(column.slice(0, FIRST_ROWS)) for name, column in head.columns.items()}
    order = [name for name in opened[0].log.names if name in columns]
    parts = []
    for value in line_values:
        sample = take_sample(opened, value)
        parts.append({"tags": _courses(sample.tags, sample.seconds, sample.values, sample.part)})
    return {"columns": {name: columns[name] for name in order}, "parts": parts}


def _texts(column: Any) -> list[str]:
    """As they stand in the file; stamps that are no texts there, as ISO 8601."""
    from ingest.time_stamps import as_text

    if str(column.type).startswith("timestamp"):
        import pyarrow as pa

        # Python's own stamps end at microseconds.
        stamps = column.cast(pa.timestamp("ms", column.type.tz), safe=False)
        return [stamp.isoformat(" ") if stamp is not None else "" for stamp in stamps.to_pylist()]
    return [text or "" for text in as_text(column).to_pylist()]


def _courses(
    tags: Sequence[str], seconds: np.ndarray, values: np.ndarray, part: np.ndarray
) -> dict[str, dict[str, list[Any]]]:
    """Every tag thinned, extremes kept, with a gap where a stretch of the sample ends."""
    from dashboards.decimate import decimate

    t = np.round(seconds * 1e9).astype(np.int64)
    found = {}
    for row, tag in enumerate(tags):
        known = np.isfinite(values[row])
        if not known.any():
            continue
        steps = np.diff(t[known])
        usual = float(np.median(steps)) if len(steps) else 1e9
        thin_t, thin_y = decimate(t[known], values[row][known], MOST_POINTS, gap_ns=int(max(20 * usual, 1)))
        found[tag] = {
            "t": [int(at) for at in thin_t // 10**6],
            "y": [None if not np.isfinite(y) else float(f"{y:.6g}") for y in thin_y],
        }
    return found
