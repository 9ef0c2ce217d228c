"""An archive behind the journal: what the journal does not hold comes from there, to the bit, and nothing else does."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from ingest.archive.archive_writer import ArchiveWriter
from ingest.archive.place import open_place
from ingest.block import Block, Note
from monitor.journal import Journal
from monitor.journal.levels import empty_levels, levels_of, merge
from monitor.journal.with_archive import JournalWithArchive
from tests.monitor.journal_cases import CHANNELS, LINE_TOML, T0, S, a_block, a_line, judged, same

HOUR = 3600 * S
LENGTH = 30 * 3600
LATE, END = T0 + 10 * HOUR, T0 + LENGTH * S


@pytest.fixture(scope="module")
def whole() -> Block:
    return a_block(T0, LENGTH, notes=(Note(T0, "lot", "A1"), Note(LATE + HOUR, "lot", "A2")))


def part(block: Block, low: int, high: int) -> Block:
    return block.cut((low - block.t0) // S, (high - block.t0) // S)


def filled(folder: Path, archived: Sequence[Block], kept: Block | None) -> JournalWithArchive:
    writer = ArchiveWriter(open_place(str(folder / "archive")), "Line 3", lambda: "one")
    for block in archived:
        writer.add(block)
    writer.close()
    with Journal(folder / "j.sqlite") as journal:
        journal.register_line(a_line(), LINE_TOML, [])
        if kept is not None:
            journal.begin("Line 3", source="finished log", fingerprint="f")
            journal.commit("Line 3", position="1", block=kept, step=judged(kept))
    return JournalWithArchive(folder / "j.sqlite", str(folder / "archive"), create=False)


@pytest.fixture(scope="module", params=["nothing judged", "the middle judged", "the end judged", "all judged"])
def both(request: pytest.FixtureRequest, whole: Block, tmp_path_factory: pytest.TempPathFactory):
    """The whole log in the archive, and more or less of it in the journal."""
    kept = {
        "nothing judged": None,
        "the middle judged": part(whole, LATE + 5 * S, LATE + 7 * HOUR + 13 * S),
        "the end judged": part(whole, LATE, END),
        "all judged": whole,
    }[request.param]
    with filled(tmp_path_factory.mktemp("both"), [whole], kept) as journal:
        yield journal


def test_every_cell_is_there_to_the_bit(both: JournalWithArchive, whole: Block) -> None:
    assert both.span("Line 3") == (T0, END) and both.channels("Line 3") == CHANNELS
    given = both.blocks("Line 3", T0, END, CHANNELS)
    assert same(given, whole)
    low, high = LATE - 3333 * S, LATE + 7 * HOUR + 5 * S
    assert same(both.blocks("Line 3", low, high), part(whole, low, high))
    assert [n.text for n in both.notes("Line 3", T0, END)] == ["A1", "A2"]


@pytest.mark.parametrize("width", [10, 60, 600])
def test_coarser_levels_are_those_of_the_cells(both: JournalWithArchive, whole: Block, width: int) -> None:
    """The least and the greatest exactly, whatever lies where; the mean as near as sums of different order are."""
    for low, high in ((T0, END), (LATE - HOUR + 7 * S, LATE + 9 * HOUR)):
        given = both.levels("Line 3", CHANNELS, low, high, width)
        expected = empty_levels(CHANNELS, low, high, width)
        merge(expected, levels_of(whole, width))
        assert np.array_equal(given.t, expected.t)
        for name in ("minimum", "maximum", "count"):
            assert np.array_equal(getattr(given, name), getattr(expected, name), equal_nan=True), name
        assert np.allclose(given.mean, expected.mean, rtol=1e-12, atol=0, equal_nan=True)


def test_what_was_never_judged_has_no_phase(both: JournalWithArchive) -> None:
    judged_ns = sum(run.t1 - run.t0 for run in both.phase_runs("Line 3", T0, END))
    with Journal(str(both._engine.url), create=False) as alone:
        first, end = alone.span("Line 3")
    assert judged_ns == end - first


def test_a_line_that_the_archive_does_not_have_and_an_archive_that_is_not_there(tmp_path: Path, whole: Block) -> None:
    with filled(tmp_path, [], part(whole, T0, LATE)) as journal:
        assert journal.span("Line 3") == (T0, LATE) and same(journal.blocks("Line 3", T0, LATE), part(whole, T0, LATE))
    with JournalWithArchive(tmp_path / "j.sqlite", str(tmp_path / "nowhere"), create=False) as journal:
        assert journal.levels("Line 3", CHANNELS, T0, LATE, 60).count.sum() > 0
