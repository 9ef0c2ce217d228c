"""Which containers a stretch of a lot concerns."""

from __future__ import annotations

from dataclasses import replace

from dashboards.memory_data import MemoryData
from dashboards.packed import packed_in
from ingest.block import Note
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, SECOND

MINUTE = 60 * SECOND


def shown(notes: list[Note], t0: int, t1: int) -> list[tuple[str, int, int, bool]]:
    held = twin()
    kept = tuple(note for note in held.block.notes if not note.kind.startswith("container"))
    said = tuple(sorted((*kept, *notes), key=lambda note: note.at_ns))
    data = MemoryData([replace(held, block=replace(held.block, notes=said))], clock=lambda: END)
    lot = data.lots("Line 3")[-1]
    packed = packed_in(data, lot, data.run("Line 3", t0, t1))
    return [(c.number, (c.start - END) // MINUTE, (c.end - END) // MINUTE, c.after) for c in packed]


def full(minutes_before_end: int, name: str) -> Note:
    return Note(END - minutes_before_end * MINUTE, "container packed", name)


def test_the_container_that_is_full_behind_the_stretch_is_named_itself() -> None:
    notes = [full(40, "B1"), full(30, "B2"), full(20, "B3"), full(10, "B4")]
    assert shown(notes, END - 35 * MINUTE, END - 25 * MINUTE) == [("B2", -40, -30, False), ("B3", -30, -20, False)]


def test_what_came_after_the_last_known_container_stays_unnamed() -> None:
    assert shown([full(40, "B1"), full(30, "B2")], END - 35 * MINUTE, END)[-1] == ("B2", -30, 0, True)


def test_a_container_of_the_next_lot_is_not_said_to_hold_the_end_of_this_one() -> None:
    notes = [full(30, "B1"), Note(END - 20 * MINUTE, "lot", "next"), full(10, "B2")]
    held = twin()
    said = tuple(sorted((*(n for n in held.block.notes if not n.kind.startswith("container")), *notes),
                        key=lambda note: note.at_ns))  # fmt: skip
    data = MemoryData([replace(held, block=replace(held.block, notes=said))], clock=lambda: END)
    before = data.lots("Line 3")[-2]

    packed = packed_in(data, before, data.run("Line 3", before.start, before.end))

    assert [(c.number, c.after) for c in packed] == [("B1", False), ("B1", True)]
    assert packed[-1].end == before.end == END - 20 * MINUTE
