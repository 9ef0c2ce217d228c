"""Where a folder keeps its journal."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.journal import Journal

JOURNAL_NAME = "journal.sqlite"


@contextmanager
def open_journal(data: Path, *, create: bool = False, archive: str = "") -> Iterator[Journal]:
    """The journal of a data folder, with an archive behind it if one is given.

    Raises JournalError when there is none and `create` is not set.
    """
    if create:
        data.mkdir(parents=True, exist_ok=True)
    if archive:
        from monitor.journal.with_archive import JournalWithArchive

        with JournalWithArchive(data / JOURNAL_NAME, archive, create=create) as journal:
            yield journal
        return
    with Journal(data / JOURNAL_NAME, create=create) as journal:
        yield journal
