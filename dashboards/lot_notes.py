"""What people wrote about a lot as a whole: kept with the actions about findings, under a name of its own."""

from __future__ import annotations

from collections.abc import Sequence

from dashboards.data import JournalData
from dashboards.views import Lot
from monitor.journal.actions import LOT_MARK, Action

MOST_LETTERS = 2000


def about(lot: Lot) -> str:
    """The name under which notes about a lot are kept: its start, which a second reading of the log does not change."""
    return f"{LOT_MARK}{lot.start}"


def notes_about(data: JournalData, lot: Lot) -> Sequence[Action]:
    """Notes about a lot, by time."""
    return data.actions(lot.line, about(lot))


def write_note(data: JournalData, lot: Lot, who: str, text: str) -> None:
    """Writes a note about a lot. who, text: not empty, as `refusal` saw to."""
    data.act(lot.line, about(lot), "note", who.strip(), text.strip())


def refusal(who: str | None, text: str | None) -> str:
    """Key of the text that says why a note cannot be written, '' where it can."""
    if not (who or "").strip():
        return "act.no_name"
    if not (text or "").strip():
        return "lot.note_no_text"
    return "lot.note_long" if max(len(who or ""), len(text or "")) > MOST_LETTERS else ""
