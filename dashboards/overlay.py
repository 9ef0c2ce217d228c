"""Several runs of one channel laid over each other: by time, by kilograms, or from where each was steady."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args
from urllib.parse import quote, unquote

import numpy as np

from dashboards.cells import means
from dashboards.charts import shown_window
from dashboards.clock import HOUR, SECOND
from dashboards.data import JournalData
from dashboards.decimate import coarse_width
from dashboards.grid import JUDGED_PHASES
from dashboards.laid_runs import LaidRun, Over, Overlay
from dashboards.names import channel_title, unit_inside, unit_known, unit_of
from dashboards.outlook import delay_of
from dashboards.shown_units import shown_value
from dashboards.urls import instant_text, parse_instant
from dashboards.views import Lot
from dashboards.windows import windows_of

OVERS: tuple[Over, ...] = get_args(Over)
MOST_RUNS = 6
POINTS = 500
"""Means each run is drawn with, at most."""


def reference(lot: Lot) -> str:
    """A lot as it stands in an address: its start and its line; numbers may repeat."""
    return f"{instant_text(lot.start)}@{quote(lot.line, safe='')}"


def references(text: str) -> tuple[str, ...]:
    """The references in an address, each once."""
    return tuple(dict.fromkeys(part for part in text.split(",") if "@" in part))


def toggled(text: str, lot: Lot, most: int) -> str:
    """The references with a lot put in or taken out; nothing is put in beyond `most`."""
    told, own = references(text), reference(lot)
    if own in told:
        return ",".join(part for part in told if part != own)
    return ",".join([*told, own][:most])


def lots_meant(data: JournalData, text: str) -> list[Lot]:
    """The lots an address refers to; what there is no more is left out."""
    known = set(data.line_names())
    found: list[Lot] = []
    for part in references(text):
        start, _, line = part.partition("@")
        at, line = parse_instant(start), unquote(line)
        if at is not None and line in known:
            found += [lot for lot in data.lots(line) if lot.start // SECOND == at // SECOND][:1]
    return found


def overlay(data: JournalData, lots: Sequence[Lot], key: str, over: Over) -> Overlay:
    """`key` of up to `MOST_RUNS` lots; the first gives the window and the title."""
    lots = list(lots)[:MOST_RUNS]
    first = data.line(lots[0].line)
    assert first is not None
    longest = max(lot.end - lot.start for lot in lots)
    step = coarse_width(max(longest, SECOND), POINTS)
    known = unit_known(first, key)
    unit = unit_inside(key) if known else ""
    runs, left_out = [], []
    for lot in lots:
        laid = _laid(data, lot, key, over, step)
        if laid is None:
            left_out.append(label_of(lot, lots[0]))
        else:
            runs.append(LaidRun(label_of(lot, lots[0]), laid[0], shown_value(laid[1], unit)))
    window = windows_of(first, data.recipe_at(lots[0].line, lots[0].start)).get(key)
    return Overlay(
        key,
        channel_title(first, key),
        unit_of(first, key),
        over,
        tuple(runs),
        shown_window(window, unit) if window is not None else None,
        step / SECOND,
        tuple(left_out),
    )


def label_of(lot: Lot, beside: Lot) -> str:
    """Number, with the line where it is another."""
    number = lot.number or instant_text(lot.start)[:10]
    return number if lot.line == beside.line else f"{number}, {lot.line}"


def _laid(data: JournalData, lot: Lot, key: str, over: Over, step: int) -> tuple[np.ndarray, np.ndarray] | None:
    line = data.line(lot.line)
    if line is None or lot.end <= lot.start:
        return None
    cells = means(
        data.source, lot.line, lot.start, lot.end, (key,), step, "reading" if key in line.channels else "quantity"
    )
    t, y = cells.times(), cells.mean[0]
    if not np.isfinite(y).any():
        return None
    if over == "kg":
        _, fed = delay_of(data, lot.line, lot.start, lot.end)
        # Before the first rate was read nothing is known to be fed.
        x = np.array([fed.between(lot.start, int(at)) for at in t])
        x = np.where(np.isnan(x), 0.0, x)
        return (shown_value(x, "kg"), y) if len(x) and x[-1] > 0 else None
    zero = lot.start
    if over == "steady":
        runs = data.phase_run(lot.line, lot.start, lot.end)
        steady = next((run.start for run in runs if run.name in JUDGED_PHASES), None)
        if steady is None:
            return None
        zero = steady
    return (t - zero) / HOUR, y
