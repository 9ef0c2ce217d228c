"""What a chart shows as rows of text: readings with their times, set-point, limits and phase, in the shown unit."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from dashboards.cells import good_values, means
from dashboards.charts import shown_window
from dashboards.clock import SECOND
from dashboards.csv_text import csv_row
from dashboards.data import DENSE_CELLS, JournalData
from dashboards.decimate import coarse_width
from dashboards.machine import setpoint_key
from dashboards.names import channel_title, unit_inside, unit_known, unit_of
from dashboards.shown_units import shown_value
from dashboards.urls import instant_text
from dashboards.windows import windows_of

MOST_ROWS = 100_000
LIMITS = ("low_outer", "low", "target", "high", "high_outer")


def channel_rows(data: JournalData, name: str, key: str, t0: int, t1: int) -> Iterator[str]:
    """Lines of a CSV file: readings at the line's cadence, or means with lowest and highest where those are too many.

    Instants in UTC and on the plant's clock, after ISO 8601. Where the reader writes a decimal comma, fields are
    parted by semicolons.
    """
    line = data.line(name)
    assert line is not None
    known = unit_known(line, key)
    unit = unit_inside(key) if known else ""
    shown = unit_of(line, key)
    columns, times = _readings(data, name, key, t0, t1)
    wanted = setpoint_key(key)
    if wanted in line.channels:
        columns["setpoint"] = _at(data, name, wanted, times, t0, t1)
    for limit, values in _limits(data, name, key, times, unit, t0, t1).items():
        if np.isfinite(values).any():
            columns[limit] = values
    phase = np.full(len(times), "", dtype=object)
    for run in data.phase_run(name, t0, t1):
        phase[(times >= run.start) & (times < run.end)] = run.name
    title = channel_title(line, key)
    names = [title if column == "value" else f"{title}, {column.replace('_', ' ')}" for column in columns]
    header = ["time_utc", f"time_{line.line.time_zone}", *(f"{n} ({shown})" if shown else n for n in names), "phase"]
    yield csv_row(header)
    clock = data.clock(name)
    turned = {n: v if n in LIMITS else shown_value(v, unit) for n, v in columns.items()}
    for i, at in enumerate(times.tolist()):
        local = clock.local(at).isoformat()
        yield csv_row([instant_text(at), local, *(float(values[i]) for values in turned.values()), str(phase[i])])


def _readings(data: JournalData, name: str, key: str, t0: int, t1: int) -> tuple[dict[str, np.ndarray], np.ndarray]:
    line = data.line(name)
    assert line is not None
    if key not in line.channels:
        t, y = data.source.quantities(name, (key,), t0, t1).get(key, (np.empty(0, np.int64), np.empty(0)))
        if len(t) <= MOST_ROWS:
            return {"value": np.asarray(y)}, np.asarray(t)
    step = round(line.line.cadence_s * SECOND)
    if key in line.channels and (t1 - t0) // step <= min(MOST_ROWS, DENSE_CELLS):
        block = data.source.blocks(name, t0, t1, (key,))
        return {"value": good_values(block)[0]}, block.times()
    kind = "reading" if key in line.channels else "quantity"
    cells = means(data.source, name, t0, t1, (key,), coarse_width(t1 - t0, MOST_ROWS), kind)
    start = cells.times() - cells.step // 2
    return {"mean": cells.mean[0], "lowest": cells.low[0], "highest": cells.high[0]}, start


def _at(data: JournalData, name: str, key: str, times: np.ndarray, t0: int, t1: int) -> np.ndarray:
    """The value of another channel in force at each time, NaN where none was read before it."""
    trace = data.trace(name, key, t0, t1, MOST_ROWS)
    known = np.isfinite(trace.y)
    t, y = trace.t[known], trace.y[known]
    if not len(t):
        return np.full(len(times), np.nan)
    place = np.searchsorted(t, times, side="right") - 1
    return np.where(place >= 0, y[np.maximum(place, 0)], np.nan)


def _limits(
    data: JournalData, name: str, key: str, times: np.ndarray, unit: str, t0: int, t1: int
) -> dict[str, np.ndarray]:
    """The recipe's limits in force at each time, in the shown unit."""
    line = data.line(name)
    assert line is not None
    found = {limit: np.full(len(times), np.nan) for limit in LIMITS}
    for segment, recipe in data.recipe_segments(name, t0, t1):
        window = windows_of(line, recipe).get(key)
        if window is None:
            continue
        window = shown_window(window, unit)
        inside = (times >= segment.start) & (times < segment.end)
        for limit, values in found.items():
            if getattr(window, limit) is not None:
                values[inside] = getattr(window, limit)
    return found
