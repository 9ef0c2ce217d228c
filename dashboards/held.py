"""What of a lot is held or to be looked at: product touched by findings, what no finding holds, the containers."""

from __future__ import annotations

from dataclasses import dataclass

from dashboards.data import JournalData
from dashboards.lot_product import Product, product_of
from dashboards.outside_unheld import Unheld, outside_unheld, with_unheld
from dashboards.packed import packed_in
from dashboards.touched import Container
from dashboards.views import Lot, Run


@dataclass(frozen=True)
class Held:
    """unheld: None where nothing was beyond an outer limit without a finding, or nobody judged the run."""

    product: Product
    unheld: Unheld | None
    packed: list[Container]


def held_of(data: JournalData, lot: Lot, run: Run) -> Held:
    """Of a run, which is a lot or a stretch of it."""
    product = product_of(data, lot.line, run.t0, run.t1)
    unheld = outside_unheld(data, run, product) if run.phases else None
    packed = with_unheld(packed_in(data, lot, run, product), unheld, product.fed)
    return Held(product, unheld, packed)
