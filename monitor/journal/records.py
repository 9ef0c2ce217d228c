"""Keeps the record log of a line, each seq once, and the findings it folds into."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, insert, or_, select, update

from monitor.journal.errors import JournalError
from monitor.journal.schema import finding_table, record_table
from monitor.records import Finding, Record

_r, _f = record_table.c, finding_table.c


def append_records(connection: Connection, line: str, records: Sequence[Record], last_seq: int) -> int:
    """Add the records after `last_seq`, leave out those already stored, return the new last seq.

    Raises JournalError when one is missing between them: a lost record must not go unseen.
    """
    new = [record for record in records if record.seq > last_seq]
    for record in new:
        last_seq += 1
        if record.seq != last_seq:
            raise JournalError(f"line {line}: record {record.seq} came where record {last_seq} was due")
        _fold(connection, line, record)
    if new:
        connection.execute(
            insert(record_table),
            [
                {
                    "line": line,
                    "seq": record.seq,
                    "decided_at_ns": record.decided_at,
                    "finding": record.finding,
                    "body": record.as_json(),
                }
                for record in new
            ],
        )
    return last_seq


def _fold(connection: Connection, line: str, record: Record) -> None:
    here = (_f.line == line, _f.finding == record.finding)
    # What was cut off holds no longer than it was watched, though nobody saw its end.
    until = record.decided_at if record.until is None and record.kind == "cut off" else record.until
    changed = {"last_seq": record.seq, "since_ns": record.since, "until_ns": until}
    done = connection.execute(update(finding_table).where(*here).values(revisions=_f.revisions + 1, **changed))
    if not done.rowcount:
        connection.execute(
            insert(finding_table).values(
                line=line,
                finding=record.finding,
                first_decided_at_ns=record.decided_at,
                revisions=1,
                **changed,
            )
        )


def read_records(
    connection: Connection, line: str, after_seq: int = 0, t0: int | None = None, t1: int | None = None
) -> list[Record]:
    """Records after `after_seq`, decided in [t0, t1), in the order of seq."""
    query = select(_r.body).where(_r.line == line, _r.seq > after_seq).order_by(_r.seq)
    if t0 is not None:
        query = query.where(_r.decided_at_ns >= t0)
    if t1 is not None:
        query = query.where(_r.decided_at_ns < t1)
    return [Record.from_json(text) for text in connection.execute(query).scalars()]


def read_findings(connection: Connection, line: str, t0: int | None = None, t1: int | None = None) -> list[Finding]:
    """Findings whose time touches [t0, t1), the last word on each, ordered as by `monitor.records.findings`."""
    query = (
        select(_f.first_decided_at_ns, _f.revisions, _r.body)
        .join_from(finding_table, record_table, (_r.line == _f.line) & (_r.seq == _f.last_seq))
        .where(_f.line == line)
    )
    if t0 is not None:
        query = query.where(or_(_f.until_ns.is_(None), _f.until_ns >= t0))
    if t1 is not None:
        query = query.where(_f.since_ns < t1)
    found = [Finding(first, Record.from_json(body), revisions) for first, revisions, body in connection.execute(query)]
    return sorted(found, key=lambda f: (f.last.since, f.last.priority, f.last.condition, f.last.channel))


def last_priority(connection: Connection, line: str, finding: str) -> int | None:
    """Priority of the finding by the last word on it; None where the line has no finding of that id."""
    query = (
        select(_r.body)
        .join_from(finding_table, record_table, (_r.line == _f.line) & (_r.seq == _f.last_seq))
        .where(_f.line == line, _f.finding == finding)
    )
    body = connection.execute(query).scalar_one_or_none()
    return None if body is None else Record.from_json(body).priority
