"""What `check` says of product under a finding: the kilograms and containers of the lot's report."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboards.command_line.product_rows import ProductRows
from dashboards.memory_data import MemoryData
from dashboards.outlook import delay_of
from dashboards.packed import packed_in
from dashboards.pages import lot_parts
from dashboards.touched import merged, touched_by
from monitor.records import Finding
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, HOUR, SECOND


def finding_of(priority: int, since: int, until: int | None) -> Finding:
    one = twin().findings[0]
    last = replace(one.last, priority=priority, since=since, until=until, part_of="", family="feeder")
    return Finding(since, last)


def rows_of(found: Finding) -> tuple[MemoryData, list[str]]:
    data = MemoryData([replace(twin(), findings=[found])], clock=lambda: END)
    return data, list(ProductRows(data, "Line 3").told(found, []))


def test_kilograms_and_containers_are_those_of_the_report() -> None:
    found = finding_of(2, END - 1200 * SECOND, END - 600 * SECOND)
    data, (row,) = rows_of(found)

    lot = data.lots("Line 3")[-1]
    run = data.run("Line 3", lot.start, lot.end)
    delay, fed = delay_of(data, "Line 3", lot.start, lot.end)
    ((a, b),) = merged([(one.start, one.end) for one in touched_by([found], delay, fed, lot.start, lot.end)])
    held = [one for one in packed_in(data, lot, run) if one.verdict == "hold"]
    assert row.startswith(f"{fed.between(a, b):.0f} kg, {data.clock('Line 3').interval(a, b)}. Hold: 4417-2 and all")
    assert [(one.number, one.after) for one in held] == [("4417-2", False), ("4417-2", True)]
    assert f"({held[1].kg_touched:.1f} kg of it touched)" in row


def test_what_touched_two_lots_is_told_of_each() -> None:
    """The lots changed an hour after the log began; the second one's first container was full half an hour later."""
    changed = twin().block.t0 + HOUR
    _, rows = rows_of(finding_of(2, changed - 600 * SECOND, changed + 600 * SECOND))
    assert [row.split(":")[0] for row in rows] == ["lot 4416", "lot 4417"]
    assert "Hold: 4417-1." in rows[1] and "Hold" not in rows[0]


def test_what_was_on_its_way_when_the_lot_changed_is_held_in_the_next_lot_too() -> None:
    changed = twin().block.t0 + HOUR
    found = finding_of(2, changed - 600 * SECOND, changed - 20 * SECOND)
    data, rows = rows_of(found)
    assert [row.split(":")[0] for row in rows] == ["lot 4416", "lot 4417"]
    assert "Hold: 4417-1." in rows[1]

    lot = data.lots("Line 3")[-1]
    page = str(lot_parts.body(data, lot, data.run("Line 3", lot.start, lot.end), {}))
    assert found.last.summary in page and "before this; what it touched came to the die later" in page


def test_what_had_left_the_die_before_the_lot_changed_is_not_held_in_the_next() -> None:
    changed = twin().block.t0 + HOUR
    _, (row,) = rows_of(finding_of(2, changed - 600 * SECOND, changed - 300 * SECOND))
    assert "Check" not in row and "4417" not in row


@pytest.mark.parametrize(("priority", "said"), [(3, "Check: 4417-2"), (4, "")])
def test_what_asks_for_a_look_is_checked_and_a_note_touches_nothing(priority: int, said: str) -> None:
    _, rows = rows_of(finding_of(priority, END - 1200 * SECOND, END - 1000 * SECOND))
    assert said in " ".join(rows) and bool(rows) == bool(said)
