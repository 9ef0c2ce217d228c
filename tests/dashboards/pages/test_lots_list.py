"""What the list of lots says of a lot without findings."""

from __future__ import annotations

from dataclasses import replace

from dashboards.memory_data import MemoryData
from dashboards.pages.lots import lots_table
from tests.dashboards.lines import twin
from tests.dashboards.plant import END


def test_a_lot_that_was_never_judged_is_not_called_clean() -> None:
    held = replace(twin(), findings=[])
    judged = str(lots_table(MemoryData([held], clock=lambda: END), {}))
    never = str(lots_table(MemoryData([replace(held, phases=[])], clock=lambda: END), {}))

    assert "Span(children='none', className='soft')" in judged and "never judged" not in judged
    assert "never judged" in never and "children='none'" not in never
