"""What is committed is kept whole and once, and is told again as it was."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

import numpy as np
import pytest

from ingest.block import Block, Note
from monitor.journal import Journal
from monitor.journal import place as journal_place
from monitor.journal.engine import open_engine
from monitor.journal.errors import JournalError
from monitor.records import findings
from tests.monitor.journal_cases import (
    CHANNELS,
    LINE_TOML,
    RECIPE_TOML,
    T0,
    Given,
    S,
    a_block,
    a_line,
    a_record,
    judged,
    same,
)


@pytest.fixture
def journal(tmp_path):
    with Journal(tmp_path / "journal.sqlite") as opened:
        opened.register_line(a_line(), LINE_TOML, [RECIPE_TOML])
        opened.begin("Line 3", source="live", fingerprint="f1")
        yield opened


def test_line_and_recipe_files_come_back(journal):
    assert journal.lines() == ["Line 3"]
    assert journal.line("Line 3").channels == CHANNELS
    assert journal.line("Line 3").version
    assert [recipe.name for recipe in journal.recipes("Line 3")] == ["PP natural"]


def test_a_changed_line_file_is_used_at_once(journal):
    changed = LINE_TOML.replace('time_zone = "Europe/Madrid"', 'time_zone = "UTC"')

    assert journal.line("Line 3").line.time_zone == "Europe/Madrid"
    journal.register_line(a_line(), changed, [])

    assert journal.line("Line 3").line.time_zone == "UTC"
    assert journal.recipes("Line 3") == []


def test_an_unknown_line_is_named_with_those_there_are(journal):
    with pytest.raises(JournalError, match="no line 'Line 4'; it has: Line 3"):
        journal.line("Line 4")
    with pytest.raises(JournalError, match="Line 4"):
        journal.resume("Line 4")


def test_one_commit_is_told_again_whole(journal):
    note = Note(T0 + 5 * S, "lot", "L-77")
    block = a_block(T0, 30, notes=(note,))
    t = np.array([T0 + 10 * S, T0 + 20 * S])
    record = a_record(1, "aa", "opened", T0 + 3 * S)
    given = judged(block, record, quantities={"sme": (t, np.array([0.2, np.nan])), "fill": (t[:1], np.ones(1))})

    journal.commit(
        "Line 3",
        position="p1",
        block=block,
        step=given,
        snapshot="state",
        account={"rows": 30},
        written_at_ns=7,
    )

    assert same(journal.blocks("Line 3", T0, T0 + 30 * S), block)
    assert [same(part, block) for part in journal.replay("Line 3")] == [True]
    assert journal.records("Line 3") == [record]
    assert journal.findings("Line 3") == findings([record])
    assert journal.notes("Line 3", T0, T0 + 30 * S) == [note]
    assert journal.span("Line 3") == (T0, T0 + 30 * S)
    assert journal.account("Line 3") == {"rows": 30}
    resume = journal.resume("Line 3")
    assert (resume.position, resume.snapshot, resume.snapshot_position, resume.last_seq) == (
        "p1",
        "state",
        "p1",
        1,
    )
    assert resume.snapshot_end_ns == resume.end_ns == T0 + 30 * S
    quantities = journal.quantities("Line 3", [], T0, T0 + 60 * S)
    assert quantities["sme"][0].tolist() == t.tolist() and np.isnan(quantities["sme"][1][1])
    assert quantities["fill"][0].tolist() == [T0 + 10 * S]


def test_newest_is_the_last_reading_that_arrived_not_the_last_cell(journal):
    block = a_block(T0, 10)
    status = np.zeros((2, 10), np.uint8)
    status[1, 6] = 4

    assert journal.newest("Line 3") is None
    journal.commit("Line 3", position="p", block=replace(block, status=status), step=judged(block), written_at_ns=99)

    newest = journal.newest("Line 3")
    assert newest is not None
    assert (newest.reading_at, newest.written_at) == (T0 + 6 * S, 99)


def test_records_already_stored_are_left_out(journal):
    first, second = a_record(1, "aa", "opened", T0), a_record(2, "aa", "revised", T0)
    journal.commit("Line 3", position="1", block=a_block(T0, 5), step=judged(a_block(T0, 5), first))
    block = a_block(T0 + 5 * S, 5)

    journal.commit("Line 3", position="2", block=block, step=judged(block, first, second))

    assert journal.records("Line 3") == [first, second]
    assert journal.findings("Line 3") == findings([first, second])
    assert journal.records("Line 3", after_seq=1) == [second]


def test_a_missing_record_is_refused_and_nothing_is_kept(journal):
    block = a_block(T0, 5)

    with pytest.raises(JournalError, match="record 2 came where record 1 was due"):
        journal.commit("Line 3", position="1", block=block, step=judged(block, a_record(2, "aa", "opened", T0)))

    assert journal.span("Line 3") == (0, 0)
    assert np.isnan(journal.blocks("Line 3", T0, T0 + 5 * S, CHANNELS).values).all()


def test_readings_are_never_stored_twice(journal):
    block = a_block(T0, 5)
    journal.commit("Line 3", position="1", block=block, step=judged(block))

    with pytest.raises(JournalError, match="twice"):
        journal.commit("Line 3", position="2", block=a_block(T0 + 4 * S, 5), step=judged(block))


def test_another_cadence_is_refused(journal):
    block = a_block(T0, 5)
    journal.commit("Line 3", position="1", block=block, step=judged(block))
    other = Block(T0 + 10 * S, 2 * S, CHANNELS, np.zeros((2, 5)), np.zeros((2, 5), np.uint8))

    with pytest.raises(JournalError, match="cadence"):
        journal.commit("Line 3", position="2", block=other, step=judged(other))


def test_a_commit_that_fails_late_leaves_no_trace(journal, monkeypatch):
    block = a_block(T0, 3000, notes=(Note(T0, "lot", "L"),))  # over an hour mark: it also settles an hour
    t = T0 + 10 * S * np.arange(300)
    given = judged(block, a_record(1, "aa", "opened", T0), quantities={"sme": (t, np.ones(300))})
    monkeypatch.setattr(journal_place, "advance_place", lambda *a, **k: 1 / 0)

    with pytest.raises(ZeroDivisionError):
        journal.commit("Line 3", position="1", block=block, step=given, snapshot="s")
    monkeypatch.undo()

    assert journal.span("Line 3") == (0, 0)
    assert journal.records("Line 3") == [] and journal.findings("Line 3") == []
    assert journal.notes("Line 3", 0, 2 * T0) == [] and journal.phase_runs("Line 3", 0, 2 * T0) == []
    assert journal.channels("Line 3") == () and journal.quantity_names("Line 3") == ()
    assert journal.resume("Line 3").snapshot is None
    journal.commit("Line 3", position="1", block=block, step=given)
    assert same(journal.blocks("Line 3", T0, block.end), block)


def test_findings_are_the_fold_of_the_records_and_are_found_by_time(journal):
    hour = 3600 * S
    records = [
        a_record(1, "aa", "opened", T0),
        a_record(2, "bb", "opened", T0 + hour),
        a_record(3, "aa", "closed", T0, until=T0 + 600 * S),
        a_record(4, "cc", "opened", T0 + 2 * hour, part_of="bb"),
        a_record(5, "bb", "revised", T0 + hour - 60 * S),
        a_record(6, "cc", "cut off", T0 + 2 * hour, part_of="bb"),
    ]
    block = a_block(T0, 5)
    journal.commit("Line 3", position="1", block=block, step=judged(block, *records))

    assert journal.findings("Line 3") == findings(records)

    def ids(t0, t1):
        return [finding.last.finding for finding in journal.findings("Line 3", t0, t1)]

    assert ids(None, T0) == []
    assert ids(T0, T0 + 1) == ["aa"]
    assert ids(T0 + 600 * S, T0 + 601 * S) == ["aa"]
    assert ids(T0 + 601 * S, T0 + hour - 61 * S) == []
    assert ids(T0 + hour - 60 * S, T0 + hour) == ["bb"]
    assert ids(T0 + 2 * hour, T0 + 2 * hour + S) == ["bb", "cc"]
    assert ids(T0 + 3 * hour, None) == ["bb"], "what was cut off ends where it was cut off"
    assert [r.seq for r in journal.records("Line 3", 0, T0 + hour, T0 + 2 * hour)] == [2]


def test_phases_are_runs_that_go_on_over_commits(journal):
    for t0, phase in ((T0, [1, 1, 2]), (T0 + 3 * S, [2, 2, 8]), (T0 + 20 * S, [8, 8])):
        block = a_block(t0, len(phase))
        journal.commit("Line 3", position="", block=block, step=Given([], np.array(phase, np.int8)))

    runs = [((r.t0 - T0) // S, (r.t1 - T0) // S, r.phase) for r in journal.phase_runs("Line 3", 0, 2 * T0)]
    assert runs == [(0, 2, 1), (2, 5, 2), (5, 6, 8), (20, 22, 8)]
    t, phase = journal.phases("Line 3", T0 + S, T0 + 21 * S)
    assert ((t - T0) // S).tolist() == [1, 2, 3, 4, 5, 20]
    assert phase.tolist() == [1, 2, 2, 2, 8, 8] and phase.dtype == np.int8


def test_a_gap_between_blocks_is_a_gap_again(journal):
    blocks = [a_block(T0, 7), a_block(T0 + 100 * S, 9), a_block(T0 + 5000 * S, 3)]
    for block in blocks:
        journal.commit("Line 3", position="", block=block, step=judged(block))

    again = list(journal.replay("Line 3"))

    assert [(block.t0, block.n) for block in again] == [(block.t0, block.n) for block in blocks]
    assert all(same(a, b) for a, b in zip(again, blocks, strict=True))
    shown = journal.blocks("Line 3", T0, T0 + 109 * S)
    assert (shown.status[:, 7:100] == 3).all() and np.isnan(shown.values[:, 7:100]).all()


def test_a_range_is_cut_to_the_grid_and_unknown_channels_are_empty(journal):
    block = a_block(T0, 10)
    journal.commit("Line 3", position="", block=block, step=judged(block))

    part = journal.blocks("Line 3", T0 + 2 * S + 1, T0 + 5 * S + 1, ["torque", "drive_power"])

    assert (part.t0, part.n) == (T0 + 3 * S, 3)
    assert np.array_equal(part.values[0], block.values[1, 3:6], equal_nan=True)
    assert np.isnan(part.values[1]).all()


def test_a_range_too_long_is_refused_with_what_to_do(journal):
    with pytest.raises(JournalError, match="coarser level"):
        journal.blocks("Line 3", 0, T0, CHANNELS)


def test_two_lines_do_not_touch_one_another(journal):
    journal.register_line(a_line("Line 4"), LINE_TOML.replace("Line 3", "Line 4"), [])
    one, other = a_block(T0, 5, seed=1), a_block(T0, 5, seed=2)
    journal.commit("Line 3", position="a", block=one, step=judged(one, a_record(1, "aa", "opened", T0)))
    journal.commit("Line 4", position="b", block=other, step=judged(other))

    assert same(journal.blocks("Line 3", T0, T0 + 5 * S), one)
    assert same(journal.blocks("Line 4", T0, T0 + 5 * S), other)
    assert journal.findings("Line 4") == []
    assert (journal.resume("Line 3").position, journal.resume("Line 4").position) == ("a", "b")


def test_places_that_are_no_journal_are_refused_with_the_reason(tmp_path):
    (tmp_path / "letter.txt").write_text("not a database, but long enough to look like one. " * 100)
    with sqlite3.connect(tmp_path / "other.sqlite") as connection:
        connection.execute("create table journal_format (format integer)")
        connection.execute("insert into journal_format values (99)")

    for place, create, message in (
        (tmp_path, True, "is a folder"),
        (tmp_path / "absent.sqlite", False, "there is no journal"),
        (tmp_path / "absent" / "j.sqlite", True, "there is no folder"),
        (tmp_path / "letter.txt", True, "cannot be opened"),
        (tmp_path / "letter.txt", False, "cannot be opened"),
        (tmp_path / "other.sqlite", False, "has format 99"),
        ("nonsense://here", True, "cannot be opened"),
    ):
        with pytest.raises(JournalError, match=message):
            Journal(place, create=create)
    assert not (tmp_path / "absent.sqlite").exists()


def test_a_connection_keeps_half_a_megabyte_of_the_pages_it_has_read(tmp_path):
    engine = open_engine(tmp_path / "journal.sqlite", create=True)
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA cache_size").scalar() == -512
    engine.dispose()
