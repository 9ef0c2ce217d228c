"""Gathers the steady middles and scatters of lots from the journal's one-minute means."""

from __future__ import annotations

from collections import OrderedDict
from weakref import WeakKeyDictionary

import numpy as np

from dashboards.cells import means
from dashboards.clock import MINUTE
from dashboards.data import JournalData
from dashboards.grid import JUDGED_PHASES
from dashboards.lot_difference import Steady, steady_of
from dashboards.names import QUANTITY_UNITS
from dashboards.views import Lot
from ingest.roles import ROLES, split_key

MOST_LOTS = 20
"""Other lots that are compared: the nearest in time."""

MOST_KEPT = 200
NOT_COMPARED = frozenset({"packed_total", "scrap_total", "feeder_weight", "refilling", "weight_noise"})
"""Running totals and hopper contents say when, not how."""

SteadyOfLot = dict[str, Steady]
_kept: WeakKeyDictionary[JournalData, OrderedDict[tuple[str, int, int], SteadyOfLot]] = WeakKeyDictionary()


def comparable(data: JournalData, lot: Lot) -> list[Lot]:
    """Other lots of the same recipe on the same line, the nearest in time first, at most `MOST_LOTS`."""
    same = [other for other in data.lots(lot.line) if other.recipe == lot.recipe and other.start != lot.start]
    return sorted(same, key=lambda other: abs(other.start - lot.start))[:MOST_LOTS] if lot.recipe else []


def steady_lot(data: JournalData, lot: Lot) -> SteadyOfLot:
    """Every channel and derived quantity of a lot while it was steady. Kept in memory: a lot that ended stays so."""
    kept = _kept.setdefault(data, OrderedDict())
    name = (lot.line, lot.start, lot.end)
    if name not in kept:
        kept[name] = _steady_lot(data, lot)
        while len(kept) > MOST_KEPT:
            kept.popitem(last=False)
    return kept[name]


def _steady_lot(data: JournalData, lot: Lot) -> SteadyOfLot:
    line = data.line(lot.line)
    if line is None or lot.end <= lot.start:
        return {}
    steady = [run for run in data.phase_run(lot.line, lot.start, lot.end) if run.name in JUDGED_PHASES]
    if not steady:
        return {}
    readings = [key for key in line.channels if ROLES[split_key(key)[0]].unit != "1" and _compared(key)]
    derived = [
        *(name for name in QUANTITY_UNITS if name not in ("share", "die_share", "die_flow", *NOT_COMPARED)),
        *(f"share:{feeder.name}" for feeder in line.feeder),
    ]
    found: SteadyOfLot = {}
    for keys, kind in ((readings, "reading"), (derived, "quantity")):
        cells = means(data.source, lot.line, lot.start, lot.end, keys, MINUTE, kind)  # type: ignore[arg-type]
        middle = cells.times()
        inside = np.zeros(len(middle), bool)
        for run in steady:
            inside |= (middle - MINUTE // 2 >= run.start) & (middle + MINUTE // 2 <= run.end)
        for row, key in enumerate(keys):
            one = steady_of(np.where(inside, cells.mean[row], np.nan))
            if one is not None:
                found[key] = one
    return found


def _compared(key: str) -> bool:
    return split_key(key)[0] not in NOT_COMPARED
