"""Brings a journal of an earlier format up to this one, in one transaction, with everything that is in it.

1 to 2: an action has an end, for findings that are set aside for a while.
2 to 3: an action may be 'out of service'. The tables stay; the number is raised so that no earlier program, which would
hide such a finding without saying so anywhere, opens the journal.
"""

from __future__ import annotations

from sqlalchemy import Connection, select, update

from monitor.journal.schema import format_table

STEPS: dict[int, tuple[str, ...]] = {1: ("ALTER TABLE action ADD COLUMN until_ns BIGINT",), 2: ()}
"""What leads from a format to the next one; both databases know these words, and undo them when they fail."""


def upgrade(connection: Connection) -> int | None:
    """Take every step that is due, and give the format reached. Two processes that open it at once take each step once.

    connection: inside a transaction that writes.
    """
    # Locks the row on PostgreSQL; on SQLite the writing transaction is alone anyway.
    found = connection.execute(select(format_table.c.format).with_for_update()).scalar_one_or_none()
    while found in STEPS:
        for step in STEPS[found]:
            connection.exec_driver_sql(step)
        connection.execute(update(format_table).values(format=found + 1))
        found += 1
    return found
