"""Lots and phases are counted cell by cell, however the log was cut."""

from __future__ import annotations

import numpy as np
import pytest

from dashboards.command_line.lot_book import LotBook
from ingest.block import Block, Note
from monitor.phases import PHASES

S = 1_000_000_000
T0 = 1_772_431_200 * S
STEADY, STOPPED = PHASES.index("steady"), PHASES.index("stopped")


def a_block(first: int, last: int, *notes: tuple[int, str, str]) -> Block:
    n = last - first
    found = tuple(Note(T0 + s * S, kind, text) for s, kind, text in notes if first <= s < last)
    return Block(T0 + first * S, S, ("torque",), np.zeros((1, n)), np.zeros((1, n), np.uint8), found)


def phases(first: int, last: int) -> np.ndarray:
    return np.where(np.arange(first, last) < 40, STOPPED, STEADY).astype(np.int8)


@pytest.mark.parametrize("cuts", [[], [10, 20, 21, 59], list(range(1, 100))])
def test_lots_from_log_and_schedule(cuts):
    notes = ((20, "lot", "A"), (20, "recipe", "PP"), (60, "lot", "B"), (61, "remark", "tea"))
    book = LotBook([Note(T0 + 80 * S, "recipe", "PA"), Note(T0 - 5 * S, "lot", "before")], "only")
    for first, last in zip([0, *cuts], [*cuts, 100], strict=True):
        book.add(a_block(first, last, *notes), phases(first, last))

    told = [
        (lot.lot, lot.recipe, (lot.start - T0) // S, (lot.end - T0) // S, lot.phase_s[STOPPED], lot.phase_s[STEADY])
        for lot in book.lots
    ]
    assert told == [
        ("before", "only", 0, 20, 20, 0),
        ("A", "PP", 20, 60, 20, 20),
        ("B", "PP", 60, 80, 0, 20),
        ("B", "PA", 80, 100, 0, 20),
    ]
    assert book.recipes_named == {"PP", "PA"}


def test_a_log_without_notes_is_one_lot():
    book = LotBook([])
    book.add(a_block(0, 100), phases(0, 100))
    book.add(a_block(500, 600), phases(500, 600))

    (lot,) = book.lots
    assert (lot.lot, lot.recipe) == ("", "")
    assert lot.phase_s.sum() == 200, "a gap is not watched time"
