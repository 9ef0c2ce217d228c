"""Which product a finding touched, as the lot's report has it, for the text that `check` prints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dashboards.data import JournalData
from dashboards.held_words import mass, to_hold
from dashboards.outlook import delay_of, reaching
from dashboards.packed import packed_between
from dashboards.touched import Container, Delay, Fed, is_product, judged, merged, outside_containers_kg, touched_by
from dashboards.views import Lot
from monitor.records import Finding


@dataclass(frozen=True)
class _LotProduct:
    """One lot: ids of its findings, its product, and the product of the time that its containers took to fill.

    t0, t1: UTC ns, from the first container's begin to the last one's end.
    """

    findings: frozenset[str]
    delay: Delay
    fed: Fed
    packed: list[Container]
    t0: int
    t1: int
    packed_delay: Delay
    packed_fed: Fed


class ProductRows:
    """Reads from the journal that was just written; every lot once."""

    def __init__(self, data: JournalData, line: str) -> None:
        self._data, self._line = data, line
        self._lots = data.lots(line)
        self._known: dict[int, _LotProduct] = {}

    def told(self, finding: Finding, explained: Sequence[Finding]) -> Iterator[str]:
        """Kilograms, times at the die and containers of a finding with all that follows from it, one row a lot."""
        group = [f for f in (finding, *explained) if is_product(f)]
        rows = [(lot, text) for lot in self._lots if (text := self._of_lot(lot, group))]
        for lot, text in rows:
            yield f"lot {lot.number}: {text}" if len(rows) > 1 and lot.number else text

    def _of_lot(self, lot: Lot, group: Sequence[Finding]) -> str:
        if not group or lot.end <= lot.start:
            return ""
        lots = self._product(lot)
        inside = [f for f in group if f.last.finding in lots.findings]
        touched = touched_by(inside, lots.delay, lots.fed, lot.start, lot.end)
        if not touched:
            return ""
        spans = merged([(item.start, item.end) for item in touched])
        clock = self._data.clock(self._line)
        times = clock.interval(spans[0][0], spans[-1][1])
        stretches = f" in {len(spans)} stretches" if len(spans) > 1 else ""
        wide = touched_by(inside, lots.packed_delay, lots.packed_fed, lots.t0, lots.t1)
        packed = judged(lots.packed, wide, inside, lots.packed_fed)
        held = to_hold(packed, clock, outside_containers_kg(touched, packed, lots.fed))
        return f"{mass(lots.fed.over(spans))}, {times}{stretches}" + (f".{held}" if held else "")

    def _product(self, lot: Lot) -> _LotProduct:
        known = self._known.get(lot.start)
        if known is None:
            packed = packed_between(self._data, lot, lot.start, lot.end)
            t0 = min([lot.start, *(one.start for one in packed)])
            t1 = max([lot.end, *(one.end for one in packed)])
            own = delay_of(self._data, self._line, lot.start, lot.end)
            wide = own if (t0, t1) == (lot.start, lot.end) else delay_of(self._data, self._line, t0, t1)
            found = reaching(self._data, self._line, lot.start, lot.end, own[0])
            ids = frozenset(f.last.finding for f in found)
            known = self._known[lot.start] = _LotProduct(ids, *own, packed, t0, t1, *wide)
        return known
