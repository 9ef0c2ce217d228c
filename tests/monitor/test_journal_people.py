"""What people do and change: actions, schedules, settings, a log read a second time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ingest.block import Note
from monitor.journal import Journal
from monitor.journal.errors import JournalError
from tests.monitor.journal_cases import LINE_TOML, RECIPE_TOML, T0, S, a_block, a_line, a_record, judged, same


@pytest.fixture
def journal(tmp_path):
    with Journal(tmp_path / "journal.sqlite") as opened:
        opened.register_line(a_line(), LINE_TOML, [RECIPE_TOML])
        opened.begin("Line 3", source="live", fingerprint="f1")
        yield opened


def test_human_actions(journal):
    block = a_block(T0, 5)
    journal.commit("Line 3", position="", block=block, step=judged(block, a_record(1, "aa", "opened", T0)))

    journal.act("Line 3", "aa", "acknowledged", " Ada ", "", T0 + S)
    journal.act("Line 3", "aa", "note", "Ada", "screen changed at 06:10", T0 + 2 * S)

    assert [(a.kind, a.who, a.text) for a in journal.actions("Line 3", "aa")] == [
        ("acknowledged", "Ada", ""), ("note", "Ada", "screen changed at 06:10"),
    ]  # fmt: skip
    for finding, kind, who, text, message in (
        ("zz", "note", "Ada", "x", "no finding 'zz'"),
        (
            "aa",
            "hidden",
            "Ada",
            "x",
            "allowed are acknowledged, note, repaired, shelved, unshelved, reset, out of service",
        ),
        ("aa", "repaired", " ", "x", "name"),
        ("aa", "note", "Ada", " ", "text"),
    ):
        with pytest.raises(JournalError, match=message):
            journal.act("Line 3", finding, kind, who, text, T0)
    assert len(journal.actions("Line 3")) == 2


def test_a_finding_is_shelved_with_an_end_and_a_reason_and_priority_1_never(journal):
    block = a_block(T0, 5)
    harm = replace(a_record(2, "bb", "opened", T0), priority=1)
    note = replace(a_record(3, "cc", "opened", T0), priority=4)
    step = judged(block, a_record(1, "aa", "opened", T0), harm, note)
    journal.commit("Line 3", position="", block=block, step=step)
    hour = 3600 * S

    given = journal.act("Line 3", "aa", "shelved", "Ada", " screen change at two ", T0, T0 + hour)
    journal.act("Line 3", "aa", "unshelved", "Ben", "", T0 + S)
    journal.act("Line 3", "bb", "reset", "Ben", "", T0 + S)

    assert given.text == "screen change at two" and journal.actions("Line 3")[0] == given
    assert [(a.kind, a.until_ns) for a in journal.actions("Line 3")] == [
        ("shelved", T0 + hour), ("unshelved", None), ("reset", None),
    ]  # fmt: skip
    for finding, kind, text, until, message in (
        ("aa", "shelved", "why", None, "needs a time after which"),
        ("aa", "shelved", "why", T0, "needs a time after which"),
        ("aa", "shelved", "why", T0 + 9 * hour, "longer than 8 hours"),
        ("aa", "shelved", " ", T0 + hour, "needs a reason"),
        ("bb", "shelved", "why", T0 + hour, "priority 1 is never shelved: .*harm"),
        ("cc", "shelved", "why", T0 + hour, "nothing to shelve"),
        ("aa", "note", "why", T0 + hour, "only what is shelved has an end"),
        ("lot@5", "shelved", "why", T0 + hour, "no finding 'lot@5'"),
    ):
        with pytest.raises(JournalError, match=message):
            journal.act("Line 3", finding, kind, "Ada", text, T0, until)
    assert len(journal.actions("Line 3")) == 3


def test_a_finding_is_taken_out_of_service_with_a_reason_without_an_end_and_priority_1_never(journal):
    block = a_block(T0, 5)
    harm = replace(a_record(2, "bb", "opened", T0), priority=1)
    note = replace(a_record(3, "cc", "opened", T0), priority=4)
    step = judged(block, a_record(1, "aa", "opened", T0), harm, note)
    journal.commit("Line 3", position="", block=block, step=step)

    given = journal.act("Line 3", "aa", "out of service", " Ada ", " band of zone 4 is being changed ", T0)
    journal.act("Line 3", "aa", "back in service", "Ben", "", T0 + S)

    assert (given.who, given.text, given.until_ns) == ("Ada", "band of zone 4 is being changed", None)
    assert [(a.kind, a.who) for a in journal.actions("Line 3")] == [
        ("out of service", "Ada"), ("back in service", "Ben"),
    ]  # fmt: skip
    for finding, kind, text, until, message in (
        ("aa", "out of service", " ", None, "needs a reason"),
        ("aa", "out of service", "why", T0 + S, "only what is shelved has an end"),
        ("bb", "out of service", "why", None, "priority 1 is never taken out of service: .*harm"),
        ("cc", "out of service", "why", None, "nothing to take out of service"),
        ("lot@5", "out of service", "why", None, "no finding 'lot@5'"),
    ):
        with pytest.raises(JournalError, match=message):
            journal.act("Line 3", finding, kind, "Ada", text, T0, until)
    with pytest.raises(JournalError, match="name"):
        journal.act("Line 3", "aa", "back in service", " ", "", T0)
    assert len(journal.actions("Line 3")) == 2


def test_a_finished_log_read_again_keeps_human_actions_only(tmp_path):
    with Journal(tmp_path / "j.sqlite") as journal:
        journal.register_line(a_line(), LINE_TOML, [], [Note(T0, "lot", "planned")])
        journal.begin("Line 3", source="finished log", fingerprint="f")
        block = a_block(T0, 4000, notes=(Note(T0 + S, "lot", "logged"),))
        quantities = {"sme": (T0 + 10 * S * np.arange(3), np.ones(3))}
        journal.commit(
            "Line 3", position="1", block=block, snapshot="s",
            step=judged(block, a_record(1, "aa", "opened", T0), quantities=quantities),
        )  # fmt: skip
        journal.finish("Line 3", [a_record(2, "aa", "cut off", T0)], {"rows": 5})
        journal.act("Line 3", "aa", "repaired", "Ada", "new screen", T0)
        with pytest.raises(JournalError, match="finished log"):
            later = a_block(block.end, 5)
            journal.commit("Line 3", position="2", block=later, step=judged(later))

        journal.clear("Line 3")

        assert journal.span("Line 3") == (0, 0) and journal.records("Line 3") == []
        assert journal.findings("Line 3") == [] and journal.account("Line 3") == {}
        assert list(journal.replay("Line 3")) == [] and journal.resume("Line 3").last_seq == 0
        assert [note.text for note in journal.notes("Line 3", 0, 2 * T0)] == ["planned"]
        assert [action.text for action in journal.actions("Line 3", "aa")] == ["new screen"]
        journal.commit("Line 3", position="1", block=block, step=judged(block, a_record(1, "aa", "opened", T0)))
        assert same(journal.blocks("Line 3", T0, block.end), block)


def test_a_live_line_is_not_cleared(journal):
    with pytest.raises(JournalError, match="watched live"):
        journal.clear("Line 3")


def test_schedule_notes_are_shown_but_not_given_to_the_monitor_again(journal):
    planned, logged = Note(T0 + S, "lot", "planned"), Note(T0 + 2 * S, "lot", "logged")
    block = a_block(T0, 5, notes=(logged,))
    journal.commit("Line 3", position="", block=block, step=judged(block))

    journal.register_line(a_line(), LINE_TOML, [], [planned])

    assert journal.notes("Line 3", T0, T0 + 5 * S) == [planned, logged]
    assert [part.notes for part in journal.replay("Line 3")] == [(logged,)]
    assert journal.blocks("Line 3", T0, T0 + 5 * S).notes == (logged,)


def test_changed_settings_cut_off_what_is_open_and_number_on(journal):
    block = a_block(T0, 5)
    opened, closed = a_record(1, "aa", "opened", T0), a_record(2, "bb", "closed", T0, until=T0 + S)
    journal.commit("Line 3", position="p", block=block, step=judged(block, opened, closed), snapshot="old")

    journal.begin("Line 3", source="live", fingerprint="f2", state="new")
    later = a_block(block.end, 5)
    journal.commit("Line 3", position="q", block=later, step=judged(later, a_record(1, "cc", "opened", later.t0)))

    resume = journal.resume("Line 3")
    assert (resume.fingerprint, resume.seq_before, resume.last_seq) == ("f2", 3, 4)
    assert (resume.snapshot, resume.snapshot_position, resume.snapshot_end_ns) == ("new", "p", block.end)
    assert [(r.seq, r.finding, r.kind) for r in journal.records("Line 3")][2:] == [
        (3, "aa", "cut off"), (4, "cc", "opened"),
    ]  # fmt: skip


def test_earlier_versions_of_the_files_stay_known_with_the_time_they_judged(journal):
    block = a_block(T0, 5)
    journal.commit("Line 3", position="p", block=block, step=judged(block))
    changed = RECIPE_TOML + "\n# another version\n"
    journal.register_line(a_line(), LINE_TOML, [RECIPE_TOML])
    journal.register_line(a_line(), LINE_TOML, [RECIPE_TOML + "\n# judged nothing\n"])
    journal.register_line(a_line(), LINE_TOML, [changed])

    def used(t0, t1):
        return [(u.kind, u.since_ns, u.until_ns, u.toml) for u in journal.used_files("Line 3", t0, t1)]

    assert used(T0, block.end) == [("line", 0, None, LINE_TOML), ("recipe", 0, block.end, RECIPE_TOML)]
    assert used(block.end, block.end + S) == [("line", 0, None, LINE_TOML), ("recipe", block.end, None, changed)]
    assert len(used(T0, block.end + S)) == 3 and len({u.version for u in journal.used_files("Line 3", 0, 2 * T0)}) == 3

    journal.begin("Line 3", source="finished log", fingerprint="f")
    journal.clear("Line 3")
    assert used(T0, block.end) == [("line", 0, None, LINE_TOML), ("recipe", 0, None, changed)]
