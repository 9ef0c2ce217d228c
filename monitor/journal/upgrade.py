"""Brings a journal of an earlier format up to this one, in one transaction, with everything that is in it.

1 to 2: an action has an end, for findings that are set aside for a while.
2 to 3: an action may be 'out of service': no earlier program, which would hide such a finding without saying so
anywhere, may open the journal. Versions of line and recipe files are kept with the time they held; of those before,
only the newest are known.
"""

from __future__ import annotations

from sqlalchemy import Connection, select, update

from monitor.journal.schema import format_table

STEPS: dict[int, tuple[str, ...]] = {
    1: ("ALTER TABLE action ADD COLUMN until_ns BIGINT",),
    # Where the journal is opened to be written to, the table is there already.
    2: (
        "CREATE TABLE IF NOT EXISTS used_file (line TEXT NOT NULL, kind TEXT NOT NULL, name TEXT NOT NULL, "
        "since_ns BIGINT NOT NULL, until_ns BIGINT, version TEXT NOT NULL, toml TEXT NOT NULL, "
        "PRIMARY KEY (line, kind, name, since_ns))",
        "INSERT INTO used_file (line, kind, name, since_ns, version, toml) "
        "SELECT name, 'line', name, 0, version, toml FROM line",
        "INSERT INTO used_file (line, kind, name, since_ns, version, toml) "
        "SELECT line, 'recipe', name, 0, version, toml FROM recipe",
    ),
}
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
