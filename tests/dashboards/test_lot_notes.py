"""Notes about a lot as a whole: kept in the journal, tied to the lot, refused where something is missing."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboards.data import JournalData
from dashboards.lot_notes import notes_about, refusal, write_note
from dashboards.pages import lot_parts
from dashboards.report.as_html import as_html
from dashboards.views import Lot
from monitor.journal import Journal
from monitor.journal.errors import JournalError
from tests.dashboards.lots_world import nine_lots
from tests.dashboards.plant import END, SECOND


def test_notes_belong_to_their_lot() -> None:
    data = nine_lots()
    first, last = data.lots("Line 3")[0], data.lots("Line 3")[-1]
    write_note(data, last, " A. Person ", " bag 3 sampled twice ")
    assert [note.text for note in notes_about(data, last)] == ["bag 3 sampled twice"]
    assert not notes_about(data, first)
    assert "bag 3 sampled twice" in as_html(lot_parts.notes_written(data, last))


def test_the_journal_keeps_a_note_about_a_lot_and_nothing_else_without_a_finding(tmp_path: Path) -> None:
    lot = Lot("Line 3", "4418", "", "", END - 60 * SECOND, END, False)
    with Journal(tmp_path / "kept.sqlite") as journal:
        data = JournalData(journal, clock=lambda: END)
        write_note(data, lot, "A. Person", "sieve tear seen")
        assert [note.who for note in notes_about(data, lot)] == ["A. Person"]
        with pytest.raises(JournalError):
            data.act("Line 3", "no such finding", "note", "A. Person", "text")
        with pytest.raises(JournalError):
            data.act("Line 3", f"lot@{lot.start}", "repaired", "A. Person", "text")


@pytest.mark.parametrize(
    ("who", "text", "why"),
    [
        (None, "x", "act.no_name"),
        (" ", "x", "act.no_name"),
        ("A", "", "lot.note_no_text"),
        ("A", "x" * 2001, "lot.note_long"),
        ("A", "x", ""),
    ],
)
def test_refusals(who: str | None, text: str, why: str) -> None:
    assert refusal(who, text) == why
