"""How far a line has been read: source position, end of the stored cells, last record, newest reading."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlalchemy import Connection, delete, insert, select, update

from ingest.block import FRESH, Block
from monitor.journal.errors import JournalError
from monitor.journal.schema import place_table, snapshot_table

_p, _s = place_table.c, snapshot_table.c


@dataclass(frozen=True)
class Resume:
    """Where a live service goes on after it was ended.

    position: the source's own word for how far it was read, '' at the start.
    end_ns: end of the last stored cell, None when there is none.
    last_seq: seq of the last stored record, 0 when there is none.
    snapshot: text of the monitor's state after snapshot_end_ns and the record snapshot_seq; None = start anew
        from the first stored cell.
    fingerprint: of the settings the stored records were made with, '' when nothing was.
    seq_before: records stored before those settings; the monitor counts its own from 1.
    finished: whether the line was a log with an end.
    """

    position: str
    end_ns: int | None
    last_seq: int
    snapshot: str | None
    snapshot_position: str
    snapshot_end_ns: int | None
    snapshot_seq: int
    fingerprint: str
    seq_before: int
    finished: bool


@dataclass(frozen=True)
class Newest:
    """How old what we know is. reading_at: start of the cell of the newest reading that really arrived (not
    held from before), written_at: when the journal was last written; both UTC nanoseconds."""

    reading_at: int
    written_at: int


def ensure_place(connection: Connection, line: str) -> None:
    """Make the line's row if there is none."""
    if connection.execute(select(_p.line).where(_p.line == line)).first() is None:
        connection.execute(insert(place_table).values(line=line))


def read_place(connection: Connection, line: str) -> Any:
    """The line's row; raises JournalError when the line was never registered."""
    row = connection.execute(select(place_table).where(_p.line == line)).first()
    if row is None:
        raise JournalError(f"line '{line}' is not registered in the journal")
    return row


def advance_place(
    connection: Connection,
    place: Any,
    *,
    position: str,
    block: Block,
    last_seq: int,
    account: dict | None,
    written_at_ns: int,
) -> None:
    """Move the place to the end of the block."""
    changed: dict[str, Any] = {"position": position, "last_seq": last_seq, "written_at_ns": written_at_ns}
    if block.n:
        changed |= {"step_ns": block.step, "end_ns": block.end}
        if place.first_ns is None:
            changed["first_ns"] = block.t0
        fresh = np.flatnonzero((block.status & FRESH).any(axis=0))
        if fresh.size:
            changed["reading_at_ns"] = block.t0 + int(fresh[-1]) * block.step
    if account is not None:
        changed["account"] = account_text(account)
    connection.execute(update(place_table).where(_p.line == place.line).values(**changed))


def account_text(account: dict) -> str:
    """The reading account as it is stored."""
    return json.dumps(account, sort_keys=True, ensure_ascii=False)


def change_place(connection: Connection, line: str, **changed: Any) -> None:
    """Set columns of the line's row."""
    connection.execute(update(place_table).where(_p.line == line).values(**changed))


def check_follows(place: Any, block: Block) -> None:
    """Raises JournalError unless the block comes after everything stored, on the same cadence."""
    if place.finished:
        raise JournalError(f"line '{place.line}' was a finished log; read it anew instead of adding to it")
    if place.end_ns is not None and block.n and block.t0 < place.end_ns:
        raise JournalError(
            f"line '{place.line}' is stored up to {place.end_ns} ns, a block from {block.t0} ns would store "
            "readings twice"
        )
    if place.step_ns is not None and block.step != place.step_ns:
        raise JournalError(
            f"line '{place.line}' is stored at one cell every {place.step_ns / 1e9:g} s, the block has "
            f"{block.step / 1e9:g} s; give the line a new name to change its cadence"
        )


def replace_snapshot(
    connection: Connection, line: str, *, end_ns: int, position: str, last_seq: int, text: str
) -> None:
    """Keep this state as the one to go on from."""
    connection.execute(delete(snapshot_table).where(_s.line == line))
    connection.execute(
        insert(snapshot_table).values(line=line, end_ns=end_ns, position=position, last_seq=last_seq, text=text)
    )


def read_resume(connection: Connection, line: str) -> Resume:
    """Where to go on."""
    place = read_place(connection, line)
    snapshot = connection.execute(select(snapshot_table).where(_s.line == line)).first()
    return Resume(
        position=place.position,
        end_ns=place.end_ns,
        last_seq=place.last_seq,
        snapshot=snapshot.text if snapshot else None,
        snapshot_position=snapshot.position if snapshot else "",
        snapshot_end_ns=snapshot.end_ns if snapshot else None,
        snapshot_seq=snapshot.last_seq if snapshot else 0,
        fingerprint=place.fingerprint,
        seq_before=place.seq_before,
        finished=place.finished,
    )
