"""The newest 10 s cells, kept for conditions that rest over them and judge them later: see `resting`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from monitor.contract import State
from monitor.exact import Floats
from monitor.view import CoarseView, Extremes, Rows


@dataclass(frozen=True)
class Places:
    """Row by name in the tables of a line: derived quantities, expectations, their scatter."""

    quantities: Mapping[str, int]
    expected: Mapping[str, int]
    scatter: Mapping[str, int]


def places_of(*names: str) -> dict[str, int]:
    """Row by name, in the order given."""
    return {name: row for row, name in enumerate(names)}


def newest(view: CoarseView, extremes: Extremes, cells: int) -> State:
    """The last cells of a view, at most so many: plain arrays [row, cells]. extremes: those of the view."""
    first = max(0, view.n - cells)
    low, high = extremes.newest(view.n - first)
    return {
        "t0": view.t0 + first * view.step,
        "low": low,
        "high": high,
        "values": view.values[:, first:].copy(),
        "raw": view.raw[:, first:].copy(),
        "phase": view.phase[first:].copy(),
        "ages": {name: rows[..., first:].copy() for name, rows in view.ages.items()},
        "quantities": _rows(view.quantities).table[:, first:].copy(),
        "expected": _rows(view.expected).table[:, first:].copy(),
        "scatter": _rows(view.scatter).table[:, first:].copy(),
        "leans": {name: rows[first:].copy() for name, rows in view.leans.items()},
    }


def joined(recent: State, view: CoarseView, extremes: Extremes) -> tuple[CoarseView, Extremes]:
    """The kept cells, and those of the view behind them, as one view."""
    both = Extremes(extremes.index, extremes.values, extremes.width, (recent["low"], recent["high"]), extremes)

    def behind(name: str) -> Rows:
        rows = _rows(getattr(view, name))
        return Rows(rows.places, np.concatenate((recent[name], rows.table), axis=1))

    return CoarseView(
        recent["t0"],
        view.step,
        view.index,
        np.concatenate((recent["values"], view.values), axis=1),
        np.concatenate((recent["raw"], view.raw), axis=1),
        phase=np.concatenate((recent["phase"], view.phase)),
        ages={name: np.concatenate((recent["ages"][name], rows), axis=-1) for name, rows in view.ages.items()},
        quantities=behind("quantities"),
        expected=behind("expected"),
        scatter=behind("scatter"),
        extremes=both,
        # Over a note that takes a reference out or puts one in no condition rests: what is missing is not looked at.
        leans={
            name: np.concatenate((recent["leans"].get(name, np.zeros(len(recent["phase"]), bool)), rows))
            for name, rows in view.leans.items()
        },
    ), both


def alone(recent: State, places: Places, step: int, index: Mapping[str, int]) -> CoarseView:
    """The kept cells as a view."""
    low, high = recent["low"], recent["high"]
    return CoarseView(
        recent["t0"],
        step,
        index,
        recent["values"],
        recent["raw"],
        phase=recent["phase"],
        ages=recent["ages"],
        quantities=Rows(places.quantities, recent["quantities"]),
        expected=Rows(places.expected, recent["expected"]),
        scatter=Rows(places.scatter, recent["scatter"]),
        extremes=lambda key: (low[index[key]], high[index[key]]),
        leans=recent["leans"],
    )


def cut(view: CoarseView, first: int, last: int) -> CoarseView:
    """Some cells of a view, as a view."""
    some = slice(first, last)
    extremes, blank = view.extremes, np.full(view.n, np.nan)

    def inside(key: str) -> tuple[Floats, Floats]:
        low, high = extremes(key) if extremes is not None else (blank, blank)
        return low[some], high[some]

    return CoarseView(
        view.t0 + first * view.step,
        view.step,
        view.index,
        view.values[:, some],
        view.raw[:, some],
        phase=view.phase[some],
        ages={name: rows[..., some] for name, rows in view.ages.items()},
        quantities=Rows(_rows(view.quantities).places, _rows(view.quantities).table[:, some]),
        expected=Rows(_rows(view.expected).places, _rows(view.expected).table[:, some]),
        scatter=Rows(_rows(view.scatter).places, _rows(view.scatter).table[:, some]),
        extremes=inside,
        leans={name: rows[some] for name, rows in view.leans.items()},
        part_of=(view, some),
    )


def _rows(rows: Mapping[str, Floats]) -> Rows:
    """As a table: it is one already where the monitor made it."""
    return rows if isinstance(rows, Rows) else Rows(places_of(*rows), np.array(list(rows.values())))
