"""The containers of a lot, or of a stretch of it: one that crosses the stretch's edge is judged whole."""

from __future__ import annotations

from dashboards.clock import HOUR
from dashboards.data import JournalData
from dashboards.lot_product import Product, product_of
from dashboards.touched import Container, containers, filled_in
from dashboards.views import Lot, Run
from ingest.block import Note

LONGEST_FILLING_NS = 12 * HOUR
"""How far behind the stretch the word that its last container is full may stand."""


def packed_in(data: JournalData, lot: Lot, run: Run, product: Product | None = None) -> list[Container]:
    """Containers that were filled in some part of the run, which is a lot or a stretch of it."""
    return packed_between(data, lot, run.t0, run.t1, product)


def packed_between(data: JournalData, lot: Lot, t0: int, t1: int, product: Product | None = None) -> list[Container]:
    """Containers that were filled in some part of [t0, t1). product: of it, where it is known already."""
    notes = _notes(data, lot, t0, t1)
    if not any(note.kind.startswith("container") for note in notes):
        return []
    spans = [(start, end) for _, start, end in filled_in(notes, t0, t1)]
    first = min([t0, *(start for start, _ in spans)])
    last = max([t1, *(end for _, end in spans)])
    if product is None or (product.t0, product.t1) != (first, last):
        product = product_of(data, lot.line, first, last)
    return containers(notes, product.touched, product.found, product.fed, t0, t1)


def _notes(data: JournalData, lot: Lot, t0: int, t1: int) -> list[Note]:
    """Those of the lot up to the stretch's end, and the next about a container unless another lot begins before it."""
    found = data.notes(lot.line, min(lot.start, t0), t1 + LONGEST_FILLING_NS)
    inside = [note for note in found if note.at_ns < t1]
    for note in found[len(inside) :]:
        if note.kind == "lot":
            break
        if note.kind.startswith("container"):
            return [*inside, note]
    return inside
