"""The journal: the one store of what was read, what was judged, and what people did about it.

One process writes a line (the live service, or a check); any number of others read meanwhile and add human
actions. SQLite in a file by default, PostgreSQL by URL.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal, Protocol

import numpy as np
from sqlalchemy import Connection, delete

from ingest.block import Block, Note
from monitor.journal import actions as kept_actions
from monitor.journal import lines as kept_lines
from monitor.journal import notes as kept_notes
from monitor.journal import phases as kept_phases
from monitor.journal import place as kept_place
from monitor.journal import records as kept_records
from monitor.journal import used_files as kept_files
from monitor.journal.actions import Action
from monitor.journal.engine import writing
from monitor.journal.errors import JournalError
from monitor.journal.quantities import Series, as_block, coarse_step
from monitor.journal.reader import JournalReader
from monitor.journal.readings import QUANTITY, READING, append
from monitor.journal.schema import WATCHED_TABLES
from monitor.line import Line
from monitor.records import Record

Source = Literal["finished log", "live"]


class Judged(Protocol):
    """What the journal keeps of the monitor's Step."""

    @property
    def records(self) -> Sequence[Record]: ...
    @property
    def phase(self) -> np.ndarray: ...
    @property
    def quantities(self) -> Mapping[str, Series]: ...


class Journal(JournalReader):
    """The journal with its writing side: registering, committing, and human actions."""

    def register_line(
        self, line: Line, line_toml: str, recipes_toml: Sequence[str], schedule: Sequence[Note] = ()
    ) -> None:
        """Store or replace the files a line is judged by from here on; what was read of it stays, and which versions
        judged that."""
        with writing(self._engine) as connection:
            kept_place.ensure_place(connection, line.name)
            end_ns = kept_place.read_place(connection, line.name).end_ns or 0
            kept_lines.replace_line(connection, line, line_toml, recipes_toml, end_ns)
            kept_notes.replace_schedule(connection, line.name, schedule)

    def clear(self, line: str) -> None:
        """Forget what was read and judged of a finished log, so that it can be read again. Actions stay.

        Raises JournalError for a line that is watched live.
        """
        with writing(self._engine) as connection:
            place = kept_place.read_place(connection, line)
            if place.source == "live":
                raise JournalError(
                    f"line '{line}' is watched live in this journal; a check of it needs a folder of its own"
                )
            for table in WATCHED_TABLES:
                unscheduled = (table.c.scheduled.is_(False),) if "scheduled" in table.c else ()
                connection.execute(delete(table).where(table.c.line == line, *unscheduled))
            kept_files.forget_used(connection, line)
            kept_place.ensure_place(connection, line)

    def begin(self, line: str, *, source: Source, fingerprint: str, state: str | None = None) -> None:
        """Say what the line is read from and by which settings it is judged from here on.

        state: the monitor's starting state; given when settings changed. Findings still open are then cut off
        where the readings end, and the records of the new settings are numbered on from the stored ones.
        """
        with writing(self._engine) as connection:
            place = kept_place.read_place(connection, line)
            changed: dict[str, Any] = {"source": source, "fingerprint": fingerprint, "finished": False}
            if state is not None and place.end_ns is not None:
                last_seq = _cut_off_open(connection, place)
                kept_place.replace_snapshot(
                    connection,
                    line,
                    end_ns=place.end_ns,
                    position=place.position,
                    last_seq=last_seq,
                    text=state,
                )
                changed |= {"last_seq": last_seq, "seq_before": last_seq}
            kept_place.change_place(connection, line, **changed)

    def commit(
        self,
        line: str,
        *,
        position: str,
        block: Block,
        step: Judged,
        snapshot: str | None = None,
        account: dict | None = None,
        written_at_ns: int | None = None,
    ) -> None:
        """Store one Block, what the monitor made of it, and how far the source was read: all of it, or none.

        Records already stored are left out. Raises JournalError when the block would store readings twice,
        comes on another cadence, or a record is missing.
        """
        with writing(self._engine) as connection:
            place = kept_place.read_place(connection, line)
            kept_place.check_follows(place, block)
            if block.n:
                append(connection, line, READING, block, block.end)
                kept_phases.append_phases(connection, line, block.t0, block.step, step.phase)
            quantities = as_block(step.quantities, coarse_step(block.step))
            if quantities is not None:
                append(connection, line, QUANTITY, quantities, block.end)
            kept_notes.append_notes(connection, line, block.notes)
            last_seq = _append_records(connection, place, step.records)
            kept_place.advance_place(
                connection,
                place,
                position=position,
                block=block,
                last_seq=last_seq,
                account=account,
                written_at_ns=time.time_ns() if written_at_ns is None else written_at_ns,
            )
            end_ns = block.end if block.n else place.end_ns
            if snapshot is not None and end_ns is not None:
                kept_place.replace_snapshot(
                    connection, line, end_ns=end_ns, position=position, last_seq=last_seq, text=snapshot
                )

    def finish(self, line: str, records: Sequence[Record], account: dict | None = None) -> None:
        """Close a finished log with the records of its end; nothing can be added to it afterwards."""
        with writing(self._engine) as connection:
            place = kept_place.read_place(connection, line)
            changed: dict[str, Any] = {"finished": True}
            changed["last_seq"] = _append_records(connection, place, records)
            if account is not None:
                changed["account"] = kept_place.account_text(account)
            kept_place.change_place(connection, line, **changed)

    def act(
        self, line: str, finding: str, kind: str, who: str, text: str, at_ns: int, until_ns: int | None = None
    ) -> Action:
        """Add what a person did about a finding, or a note about a lot; gives the action as stored.

        until_ns: end of a shelving. Raises JournalError for an unknown finding and for what may not be done to it.
        """
        with writing(self._engine) as connection:
            about_lot = kind == "note" and finding.startswith(kept_actions.LOT_MARK)
            priority = None if about_lot else kept_records.last_priority(connection, line, finding)
            if not about_lot and priority is None:
                raise JournalError(f"line '{line}' has no finding '{finding}'")
            action = kept_actions.checked_action(Action(finding, kind, who, text, at_ns, until_ns), priority)
            kept_actions.append_action(connection, line, action)
        return action


def _append_records(connection: Connection, place: Any, records: Sequence[Record]) -> int:
    numbered = (
        [replace(record, seq=record.seq + place.seq_before) for record in records] if place.seq_before else records
    )
    return kept_records.append_records(connection, place.line, numbered, place.last_seq)


def _cut_off_open(connection: Connection, place: Any) -> int:
    still_open = [f.last for f in kept_records.read_findings(connection, place.line) if f.open]
    records = [
        replace(
            record,
            kind="cut off",
            seq=place.last_seq + 1 + i,
            decided_at=max(record.decided_at, place.end_ns),
        )
        for i, record in enumerate(still_open)
    ]
    return kept_records.append_records(connection, place.line, records, place.last_seq)
