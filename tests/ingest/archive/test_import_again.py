"""Importing again: the same file adds nothing, an overlapping one only what is new, a contradicting one is reported."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.archive.counts import Contradiction
from ingest.archive.line_book import finished_imports
from ingest.archive.place import open_place
from ingest.archive.read import ArchivedLine, archive_blocks
from ingest.block import NONE, Block
from ingest.errors import BadLog
from ingest.read_log import read_blocks
from tests.ingest.archive.archive_cases import LINE, SECOND, bring, cells, differing, filled, keep, notes, tree
from tests.ingest.plain_log import START as FIRST
from tests.ingest.plain_log import Row, mapping, nanoseconds, same_blocks, steady, write_csv

START = nanoseconds(FIRST)


def rows_of(first: int, count: int) -> list[Row]:
    """Rows at one a second from the `first` second on; a row tells its place, whatever file it is in."""
    return steady(first + count)[first:]


def read(path: Path, **changes: object) -> list[Block]:
    return list(read_blocks([path], mapping(**changes), ReadingAccount()))


def test_an_import_gives_the_blocks_of_the_log(tmp_path: Path) -> None:
    log = write_csv(tmp_path / "log.csv", rows_of(0, 9000))
    report = bring(tmp_path / "a", log, mapping=mapping())
    assert same_blocks(list(archive_blocks(str(tmp_path / "a"), LINE)), read(log))
    assert (report.brought.rows, report.brought.new, report.brought.contradicting) == (9000, 27_000, 0)
    assert (report.read, report.known, report.days_changed) == ((log,), (), 1)
    (done,) = finished_imports(open_place(str(tmp_path / "a")), LINE)
    assert done.account == report.account.as_dict() and done.account["rows_read"] == 9000
    (file,) = done.files
    assert (file.rows, file.first, file.last, file.size) == (9000, START, START + 8999 * SECOND, log.stat().st_size)


def test_the_same_file_adds_nothing(tmp_path: Path) -> None:
    log = write_csv(tmp_path / "log.csv", rows_of(0, 5000))
    bring(tmp_path / "a", log, mapping=mapping())
    before = tree(tmp_path / "a")
    copy = tmp_path / "copy of log.csv"
    copy.write_bytes(log.read_bytes())
    for path in (log, copy):
        report = bring(tmp_path / "a", path, mapping=mapping())
        assert (report.known, report.read, report.days_changed) == ((path,), (), 0)
        assert report.brought.new == report.brought.same == report.account.rows_read == 0
    assert tree(tmp_path / "a") == before


def test_the_same_readings_in_another_file_add_nothing(tmp_path: Path) -> None:
    bring(tmp_path / "a", write_csv(tmp_path / "log.csv", rows_of(0, 5000)), mapping=mapping())
    other = write_csv(
        tmp_path / "log2.csv", [(ns, dict(values)) for ns, values in rows_of(0, 5000)], ("SP1", "T1", "P die")
    )
    before = tree(tmp_path / "a")
    report = bring(tmp_path / "a", other, mapping=mapping())
    assert (report.brought.new, report.brought.same, report.brought.rows) == (0, 15_000, 0)
    after = tree(tmp_path / "a")
    assert [path.split("/")[2] for path in differing(before, after)] == ["imports"]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_an_overlapping_file_adds_what_is_new(tmp_path: Path, order: tuple[int, int]) -> None:
    """Two files of one log that share two hours, over midnight, in either order, are as the log in one piece."""
    whole = rows_of(0, 60_000)
    parts = [whole[:50_000], whole[42_800:]]
    files = [write_csv(tmp_path / f"{i}.csv", part) for i, part in enumerate(parts)]
    reports = [bring(tmp_path / "a", files[i], mapping=mapping()) for i in order]
    assert reports[0].brought.new == 3 * len(parts[order[0]])
    assert reports[1].brought.new == 3 * (60_000 - len(parts[order[0]]))
    assert reports[1].brought.same == 3 * 7200 and reports[1].brought.contradicting == 0
    one = read(write_csv(tmp_path / "whole.csv", whole))
    assert same_blocks(list(archive_blocks(str(tmp_path / "a"), LINE)), one)
    level = ArchivedLine(str(tmp_path / "a"), LINE).coarse(START, START + 60_000 * SECOND, 10)
    assert level.count.sum() == 3 * 60_000


def test_a_contradicting_file_is_reported_and_not_taken(tmp_path: Path) -> None:
    first = rows_of(0, 5000)
    bring(tmp_path / "a", write_csv(tmp_path / "log.csv", first), mapping=mapping())
    before = tree(tmp_path / "a")
    wrong = [(ns, {**values, "T1": 999.5} if i in (7, 4000) else values) for i, (ns, values) in enumerate(first)]
    log = write_csv(tmp_path / "wrong.csv", wrong)
    for dry in (True, False):
        report = bring(tmp_path / "a", log, mapping=mapping(), dry=dry)
        assert (report.brought.new, report.brought.same, report.brought.contradicting) == (0, 14_998, 2)
        assert report.brought.listed == (
            Contradiction(START + 7 * SECOND, "zone_temperature:Z1", "200.875", "999.5"),
            Contradiction(START + 4000 * SECOND, "zone_temperature:Z1", "700.0", "999.5"),
        )
    assert [path.split("/")[2] for path in differing(before, tree(tmp_path / "a"))] == ["imports"]
    done = {one.number: one for one in finished_imports(open_place(str(tmp_path / "a")), LINE)}
    assert sorted(one.brought.contradicting for one in done.values()) == [0, 2]
    assert bring(tmp_path / "a", log, mapping=mapping()).known == (log,)


def test_a_file_of_the_same_size_with_one_other_figure_is_another_file(tmp_path: Path) -> None:
    log = write_csv(tmp_path / "log.csv", rows_of(0, 3000))
    bring(tmp_path / "a", log, mapping=mapping())
    log.write_bytes(log.read_bytes().replace(b",325.0,", b",325.5,"))
    report = bring(tmp_path / "a", log, mapping=mapping())
    assert report.read == (log,) and report.brought.contradicting == 1


def test_a_tag_that_is_mapped_later_is_filled_in(tmp_path: Path) -> None:
    log = write_csv(tmp_path / "log.csv", rows_of(0, 5000))
    full = mapping()
    bring(tmp_path / "a", log, mapping=mapping(channels=full.channels[:1]))
    report = bring(tmp_path / "a", log, mapping=full)
    assert (report.brought.new, report.brought.same, report.brought.rows) == (10_000, 5000, 0)
    assert same_blocks(list(archive_blocks(str(tmp_path / "a"), LINE)), read(log))


def test_a_dry_run_writes_nothing(tmp_path: Path) -> None:
    log = write_csv(tmp_path / "log.csv", rows_of(0, 50_000))
    report = bring(tmp_path / "a", log, mapping=mapping(), dry=True)
    assert report.brought.new == 150_000 and not (tmp_path / "a").exists()
    bring(tmp_path / "a", write_csv(tmp_path / "part.csv", rows_of(0, 20_000)), mapping=mapping())
    before = tree(tmp_path / "a")
    report = bring(tmp_path / "a", log, mapping=mapping(), dry=True)
    assert (report.brought.new, report.brought.same, report.days_changed) == (90_000, 60_000, 0)
    assert tree(tmp_path / "a") == before


def test_known_files_are_left_out_and_the_rest_is_read(tmp_path: Path) -> None:
    files = [write_csv(tmp_path / f"{i}.csv", rows_of(i * 4000, 4000)) for i in range(3)]
    bring(tmp_path / "a", files[0], files[1], mapping=mapping())
    report = bring(tmp_path / "a", *files, mapping=mapping())
    assert (report.known, report.read) == ((files[0], files[1]), (files[2],))
    assert cells(archive_blocks(str(tmp_path / "a"), LINE)) == cells(read_blocks(files, mapping(), ReadingAccount()))


def test_a_log_that_cannot_be_read_leaves_the_archive_as_it_was(tmp_path: Path) -> None:
    bring(tmp_path / "a", write_csv(tmp_path / "log.csv", rows_of(0, 5000)), mapping=mapping())
    before = tree(tmp_path / "a")
    bad = tmp_path / "bad.csv"
    bad.write_text("Time,T1,P die,SP1\n" + "soon,1,2,3\n" * 9)
    with pytest.raises(BadLog):
        bring(tmp_path / "a", bad, mapping=mapping())
    with pytest.raises(BadLog):
        bring(tmp_path / "new", bad, mapping=mapping())
    assert tree(tmp_path / "a") == before and not list((tmp_path / "new").rglob("*.parquet"))


def test_readings_take_the_place_of_held_values(tmp_path: Path) -> None:
    """A log thinned to a row in 5 s, then the whole one: every cell is as if only the whole one had come."""
    whole = rows_of(0, 4000)
    bring(tmp_path / "a", write_csv(tmp_path / "thin.csv", whole[::5]), mapping=mapping())
    report = bring(tmp_path / "a", write_csv(tmp_path / "whole.csv", whole), mapping=mapping())
    assert (report.brought.new, report.brought.same, report.brought.contradicting) == (3 * 3200, 3 * 800, 0)
    assert same_blocks(list(archive_blocks(str(tmp_path / "a"), LINE)), read(tmp_path / "whole.csv"))


def test_what_is_held_comes_from_the_newer_reading(tmp_path: Path) -> None:
    def block(values: list[float], status: list[int]) -> Block:
        return Block(0, SECOND, ("torque",), np.array([values]), np.array([status], np.uint8))

    none = float("nan")
    keep(tmp_path, [block([1, 1, 1, none], [4, 0, 0, NONE])])
    keep(tmp_path, [block([none, 2, 2, 2], [NONE, 4, 0, 0])], "two")
    (found,) = archive_blocks(str(tmp_path), LINE)
    assert found.values.tolist() == [[1, 2, 2, 2]] and found.status.tolist() == [[4, 4, 0, 0]]
    # The other way round, an older held value does not come back.
    keep(tmp_path, [block([5, 5, 5, 5], [4, 0, 0, 0])], "three")
    assert filled(archive_blocks(str(tmp_path), LINE)) == filled([found])


def test_days_imported_one_after_the_other_hold_over_the_seam(tmp_path: Path) -> None:
    """A tag that is logged every 20 s, one that came for the last time in the first file, one that always comes."""
    rows = []
    for second, (ns, values) in enumerate(steady(3000)):
        said: dict[str, object] = {"P die": values["P die"]}
        if second % 20 == 7:
            said["T1"] = values["T1"]
        if second == 950:
            said["SP1"] = values["SP1"]
        rows.append((ns, said))
    parts = [write_csv(tmp_path / f"{i}.csv", part) for i, part in enumerate((rows[:1000], rows[1000:]))]
    for part in parts:
        bring(tmp_path / "a", part, mapping=mapping())
    whole = read(write_csv(tmp_path / "whole.csv", rows))
    assert same_blocks(list(archive_blocks(str(tmp_path / "a"), LINE)), whole)
    held = sum(int(np.count_nonzero(block.status[2] != NONE)) for block in whole)
    assert held == 601  # 600 s behind its reading: past the seam


def lot_log(path: Path, first: int, count: int, lots: dict[int, str]) -> Path:
    """A log whose lot column changes at some rows of the whole."""
    lot, rows = "", []
    for second, (ns, values) in enumerate(steady(first + count)):
        lot = lots.get(second, lot)
        rows.append((ns, {**values, "Lot": lot}))
    return write_csv(path, rows[first:], ("T1", "P die", "SP1", "Lot"))


def test_notes_of_overlapping_files_are_those_of_one_log(tmp_path: Path) -> None:
    lots = {0: "A", 2000: "B", 6000: "C"}
    with_lots = mapping(lot_column="Lot")
    whole = list(read_blocks([lot_log(tmp_path / "w.csv", 0, 8000, lots)], with_lots, ReadingAccount()))
    for number, (first, count) in enumerate([(0, 5000), (3000, 5000)]):
        log = lot_log(tmp_path / f"{number}.csv", first, count, lots)
        report = bring(tmp_path / "a", log, mapping=with_lots)
        assert report.brought.notes == (2, 1)[number] and report.brought.contradicting == 0
    assert same_blocks(list(archive_blocks(str(tmp_path / "a"), LINE)), whole)
    line = ArchivedLine(str(tmp_path / "a"), LINE)
    assert [note.text for note in line.texts_before(START + 5999 * SECOND)] == ["B"]


def test_a_contradicting_lot_holds_only_where_nothing_was(tmp_path: Path) -> None:
    with_lots = mapping(lot_column="Lot")
    bring(tmp_path / "a", lot_log(tmp_path / "0.csv", 0, 3000, {0: "A"}), mapping=with_lots)
    report = bring(tmp_path / "a", lot_log(tmp_path / "1.csv", 2000, 3000, {0: "Z"}), mapping=with_lots)
    assert report.brought.contradicting == 1
    assert report.brought.listed == (Contradiction(START + 2000 * SECOND, "lot", "A", "Z"),)
    found = notes(archive_blocks(str(tmp_path / "a"), LINE))
    assert found == [(START, "lot", "A"), (START + 3000 * SECOND, "lot", "Z")]


def test_a_hole_that_is_filled_keeps_its_lot(tmp_path: Path) -> None:
    with_lots, columns = mapping(lot_column="Lot"), ("T1", "P die", "SP1", "Lot")
    rows = [(ns, {**values, "Lot": "A"}) for ns, values in (*rows_of(0, 2000), *rows_of(5000, 2000))]
    bring(tmp_path / "a", write_csv(tmp_path / "0.csv", rows, columns), mapping=with_lots)
    assert sum(block.n for block in archive_blocks(str(tmp_path / "a"), LINE)) == 7000  # short gaps have empty cells
    report = bring(tmp_path / "a", lot_log(tmp_path / "1.csv", 2000, 3000, {0: "A"}), mapping=with_lots)
    assert (report.brought.new, report.brought.notes) == (9000, 0)
    whole = read_blocks([lot_log(tmp_path / "w.csv", 0, 7000, {0: "A"})], with_lots, ReadingAccount())
    assert same_blocks(list(archive_blocks(str(tmp_path / "a"), LINE)), list(whole))
