"""Opens the journal's database: SQLite in a file, or PostgreSQL by its URL."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, select
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from monitor.journal.errors import JournalError
from monitor.journal.schema import FORMAT, format_table, metadata
from monitor.journal.upgrade import STEPS, upgrade

_WRITES = "journal_writes"
BUSY_S = 30
"""How long a transaction waits for another process's transaction to end."""
PAGES_KB = 512
"""What a connection keeps of the pages it has read. SQLite's own 2 MB fill up over hours in each connection of the
server, and the system keeps the file's pages anyway."""


def open_engine(url_or_path: str | Path, *, create: bool) -> Engine:
    """The journal's engine, its tables made when `create` and absent.

    A journal of an earlier format is brought up to this one. Raises JournalError when the place cannot be opened, holds
    something else, or a journal of a format that is not known.
    """
    text = str(url_or_path)
    is_url = "://" in text
    if not is_url:
        _check_path(Path(text), create=create)
    try:
        engine = create_engine(text if is_url else f"sqlite:///{Path(text).absolute()}")
        if engine.dialect.name == "sqlite":
            event.listen(engine, "connect", _set_up_sqlite)
            event.listen(engine, "begin", _begin_sqlite)
        _check_format(engine, text, create=create)
    except (DBAPIError, ArgumentError, NoSuchModuleError, ModuleNotFoundError) as error:
        reason = str(error.orig) if isinstance(error, DBAPIError) else str(error)
        raise JournalError(f"journal {text} cannot be opened: {reason}") from None
    return engine


def _check_path(path: Path, *, create: bool) -> None:
    if path.is_dir():
        raise JournalError(f"journal {path} is a folder; name the file inside it, such as {path / 'journal.sqlite'}")
    if not create and not path.exists():
        raise JournalError(f"there is no journal at {path}; fill one first, with a check or a watch")
    if create and not path.parent.is_dir():
        raise JournalError(f"journal {path} cannot be made: there is no folder {path.parent}")


def _set_up_sqlite(connection: Any, _record: Any) -> None:
    # The driver's own transaction control is switched off: it would not start one for a SELECT, and readers
    # need all their SELECTs to see one state while the live service writes.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_S * 1000}")
    cursor.execute("PRAGMA journal_mode = WAL")
    # A killed process loses nothing with NORMAL; after a power cut the newest transactions may be gone as
    # a whole, and a source that can be re-read gives them again.
    cursor.execute("PRAGMA synchronous = NORMAL")
    cursor.execute(f"PRAGMA cache_size = -{PAGES_KB}")
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    # A writer takes the write lock at once: two writers that start as readers and both want to write
    # would otherwise fail instead of waiting.
    writes = connection.get_execution_options().get(_WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _check_format(engine: Engine, text: str, *, create: bool) -> None:
    if create:
        with writing(engine) as connection:
            metadata.create_all(connection)
            if connection.execute(select(format_table.c.format)).first() is None:
                connection.execute(format_table.insert().values(format=FORMAT))
    with engine.connect() as connection:
        found = connection.execute(select(format_table.c.format)).scalar_one_or_none()
    if found in STEPS:
        with writing(engine) as connection:
            found = upgrade(connection)
    if found != FORMAT:
        engine.dispose()
        raise JournalError(f"journal {text} has format {found}, this version reads format {FORMAT}")


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """One transaction that writes: all of it is kept, or none."""
    with engine.connect().execution_options(**{_WRITES: True}) as connection, connection.begin():
        yield connection


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """One transaction in which every SELECT sees the same state."""
    with engine.connect() as connection:
        if engine.dialect.name != "sqlite":
            connection.execution_options(isolation_level="REPEATABLE READ")
        with connection.begin():
            yield connection
