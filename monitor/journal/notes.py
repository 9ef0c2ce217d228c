"""Keeps what people and schedules say: lots, recipes, stops, repairs."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, delete, insert, select

from ingest.block import Note
from monitor.journal.schema import note_table

_n = note_table.c


def append_notes(connection: Connection, line: str, notes: Sequence[Note]) -> None:
    """Add the notes that came inside a Block."""
    _insert(connection, line, notes, scheduled=False)


def replace_schedule(connection: Connection, line: str, notes: Sequence[Note]) -> None:
    """Make these the notes of the line's schedule file. They are kept apart from those inside Blocks: the
    monitor gets the schedule by itself, and must not get it a second time from stored Blocks."""
    connection.execute(delete(note_table).where(_n.line == line, _n.scheduled.is_(True)))
    _insert(connection, line, notes, scheduled=True)


def _insert(connection: Connection, line: str, notes: Sequence[Note], *, scheduled: bool) -> None:
    if notes:
        connection.execute(
            insert(note_table),
            [
                {
                    "line": line,
                    "at_ns": note.at_ns,
                    "kind": note.kind,
                    "text": note.text,
                    "scheduled": scheduled,
                }
                for note in notes
            ],
        )


def read_notes(connection: Connection, line: str, t0: int, t1: int, *, scheduled: bool) -> list[Note]:
    """Notes in [t0, t1) in the order of time; those of the schedule only when `scheduled`."""
    query = (
        select(_n.at_ns, _n.kind, _n.text)
        .where(_n.line == line, _n.at_ns >= t0, _n.at_ns < t1)
        .order_by(_n.at_ns, _n.id)
    )
    if not scheduled:
        query = query.where(_n.scheduled.is_(False))
    return [Note(*row) for row in connection.execute(query)]
