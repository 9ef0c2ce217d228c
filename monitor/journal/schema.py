"""The tables of the journal. Times are UTC nanoseconds; everything a line owns carries the line's name.

Only what SQLite and PostgreSQL share is used, so that one schema serves both.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    SmallInteger,
    Table,
    Text,
)

FORMAT = 3
"""Raised when the tables change: `upgrade` leads from earlier ones to it, all others are refused, never guessed at."""

metadata = MetaData()
_number = BigInteger().with_variant(Integer, "sqlite")

format_table = Table("journal_format", metadata, Column("format", Integer, primary_key=True))

line_table = Table(
    "line",
    metadata,
    Column("name", Text, primary_key=True),
    Column("toml", Text, nullable=False),
    Column("version", Text, nullable=False),
)

recipe_table = Table(
    "recipe",
    metadata,
    Column("line", Text, primary_key=True),
    Column("name", Text, primary_key=True),
    Column("rank", Integer, nullable=False),
    Column("toml", Text, nullable=False),
    Column("version", Text, nullable=False),
)

place_table = Table(
    "place",
    metadata,
    Column("line", Text, primary_key=True),
    Column("source", Text, nullable=False, default=""),
    Column("fingerprint", Text, nullable=False, default=""),
    Column("step_ns", BigInteger),
    Column("first_ns", BigInteger),
    Column("end_ns", BigInteger),
    Column("position", Text, nullable=False, default=""),
    Column("last_seq", BigInteger, nullable=False, default=0),
    Column("seq_before", BigInteger, nullable=False, default=0),
    Column("reading_at_ns", BigInteger),
    Column("written_at_ns", BigInteger),
    Column("finished", Boolean, nullable=False, default=False),
    Column("account", Text, nullable=False, default="{}"),
)

snapshot_table = Table(
    "snapshot",
    metadata,
    Column("line", Text, primary_key=True),
    Column("end_ns", BigInteger, nullable=False),
    Column("position", Text, nullable=False),
    Column("last_seq", BigInteger, nullable=False),
    Column("text", Text, nullable=False),
)

piece_table = Table(
    "piece",
    metadata,
    Column("id", _number, primary_key=True, autoincrement=True),
    Column("line", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("hour_ns", BigInteger, nullable=False),
    Column("settled", Boolean, nullable=False),
    Column("t0_ns", BigInteger, nullable=False),
    Column("step_ns", BigInteger, nullable=False),
    Column("cells", Integer, nullable=False),
    Column("channels", Text, nullable=False),
    Column("body", LargeBinary, nullable=False),
    Index("piece_by_hour", "line", "kind", "hour_ns"),
    Index("piece_unsettled", "line", "kind", "settled", "hour_ns"),
)

level_table = Table(
    "level",
    metadata,
    Column("line", Text, primary_key=True),
    Column("kind", Text, primary_key=True),
    Column("width_s", Integer, primary_key=True),
    Column("hour_ns", BigInteger, primary_key=True),
    Column("channels", Text, nullable=False),
    Column("body", LargeBinary, nullable=False),
)

phase_table = Table(
    "phase_run",
    metadata,
    Column("line", Text, primary_key=True),
    Column("t0_ns", BigInteger, primary_key=True),
    Column("t1_ns", BigInteger, nullable=False),
    Column("phase", SmallInteger, nullable=False),
)

note_table = Table(
    "note",
    metadata,
    Column("id", _number, primary_key=True, autoincrement=True),
    Column("line", Text, nullable=False),
    Column("at_ns", BigInteger, nullable=False),
    Column("kind", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("scheduled", Boolean, nullable=False),
    Index("note_by_time", "line", "at_ns"),
)

record_table = Table(
    "record",
    metadata,
    Column("line", Text, primary_key=True),
    Column("seq", BigInteger, primary_key=True),
    Column("decided_at_ns", BigInteger, nullable=False),
    Column("finding", Text, nullable=False),
    Column("body", Text, nullable=False),
    Index("record_by_time", "line", "decided_at_ns"),
)

finding_table = Table(
    "finding",
    metadata,
    Column("line", Text, primary_key=True),
    Column("finding", Text, primary_key=True),
    Column("first_decided_at_ns", BigInteger, nullable=False),
    Column("revisions", Integer, nullable=False),
    Column("last_seq", BigInteger, nullable=False),
    Column("since_ns", BigInteger, nullable=False),
    Column("until_ns", BigInteger),
    Index("finding_by_time", "line", "since_ns"),
)

action_table = Table(
    "action",
    metadata,
    Column("id", _number, primary_key=True, autoincrement=True),
    Column("line", Text, nullable=False),
    Column("finding", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("at_ns", BigInteger, nullable=False),
    Column("until_ns", BigInteger),
    Index("action_by_finding", "line", "finding"),
)

used_file_table = Table(
    "used_file",
    metadata,
    Column("line", Text, primary_key=True),
    Column("kind", Text, primary_key=True),
    Column("name", Text, primary_key=True),
    Column("since_ns", BigInteger, primary_key=True),
    Column("until_ns", BigInteger),
    Column("version", Text, nullable=False),
    Column("toml", Text, nullable=False),
)

WATCHED_TABLES = (
    place_table,
    snapshot_table,
    piece_table,
    level_table,
    phase_table,
    note_table,
    record_table,
    finding_table,
)
"""What watching a line wrote; a finished log that is read again replaces it. Human actions stay."""
