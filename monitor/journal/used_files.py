"""Which versions of its line and recipe files a line was judged by, and from when to when; none is ever lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, delete, insert, or_, select, update

from monitor.journal.schema import used_file_table

_u = used_file_table.c


@dataclass(frozen=True)
class UsedFile:
    """One version of a file. kind: 'line' or 'recipe'. since_ns, until_ns: readings it judged, UTC; None = still."""

    kind: str
    name: str
    version: str
    since_ns: int
    until_ns: int | None
    toml: str


def keep_used(connection: Connection, line: str, files: Sequence[tuple[str, str, str, str]], end_ns: int) -> None:
    """From the end of the readings on, these files hold: (kind, name, version, text). What judged nothing goes."""
    wanted = {(kind, name, version): text for kind, name, version, text in files}
    for row in connection.execute(
        select(_u.kind, _u.name, _u.version, _u.since_ns).where(_u.line == line, _u.until_ns.is_(None))
    ).all():
        if wanted.pop((row.kind, row.name, row.version), None) is not None:
            continue
        here = (_u.line == line, _u.kind == row.kind, _u.name == row.name, _u.since_ns == row.since_ns)
        if row.since_ns >= end_ns:
            connection.execute(delete(used_file_table).where(*here))
        else:
            connection.execute(update(used_file_table).where(*here).values(until_ns=end_ns))
    for (kind, name, version), text in wanted.items():
        connection.execute(
            insert(used_file_table).values(
                line=line, kind=kind, name=name, version=version, toml=text, since_ns=end_ns, until_ns=None
            )
        )


def forget_used(connection: Connection, line: str) -> None:
    """Before a finished log is judged anew: what holds now judges all of it."""
    connection.execute(delete(used_file_table).where(_u.line == line, _u.until_ns.is_not(None)))
    connection.execute(update(used_file_table).where(_u.line == line).values(since_ns=0))


def read_used(connection: Connection, line: str, t0: int, t1: int) -> list[UsedFile]:
    """Files that judged some of [t0, t1), by kind, name and time."""
    query = (
        select(_u.kind, _u.name, _u.version, _u.since_ns, _u.until_ns, _u.toml)
        .where(_u.line == line, _u.since_ns < t1, or_(_u.until_ns.is_(None), _u.until_ns > t0))
        .order_by(_u.kind, _u.name, _u.since_ns)
    )
    return [UsedFile(*row) for row in connection.execute(query)]
