"""A log whose rows come in another order than the file has them: what is the same whichever order that is."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ingest.account import FileRead
from ingest.number_text import Decimal
from ingest.raw_rows import Log, RawRows, Seen

_HEAD_ROWS = 1000


class ReorderedLog:
    """Another log with its own `rows`; all that does not depend on their order is answered by the log itself.

    names: the columns that will be asked for.
    """

    def __init__(self, log: Log, names: tuple[str, ...]) -> None:
        self._log, self._asked = log, names
        self.path, self.names, self.units, self.size_bytes = log.path, log.names, log.units, log.size_bytes
        self.stamp_columns, self.preamble = log.stamp_columns, log.preamble
        self.entry: FileRead = log.entry
        self._head: RawRows | None = None

    def rows(self, names: tuple[str, ...], numeric: frozenset[str]) -> Iterator[RawRows]:
        """The rows in the order this log gives them."""
        raise NotImplementedError

    def head(self) -> RawRows:
        """The first rows in this order, so far as they came in one piece."""
        if self._head is None:
            rows = next(self.rows(self._asked, frozenset()), RawRows(self.path, np.zeros(0, np.int64), {}))
            self._head = rows.where(np.arange(len(rows.numbers)) < _HEAD_ROWS)
        return self._head

    def decimal(self, name: str) -> Decimal:
        """As in the log itself."""
        return self._log.decimal(name)

    def seen(self, name: str) -> list[Seen]:
        """As in the log itself."""
        return self._log.seen(name)

    def texts(self, name: str) -> list[str]:
        """As in the log itself."""
        return self._log.texts(name)

    def row_of(self, seen: Seen) -> int:
        """As in the log itself."""
        return self._log.row_of(seen)

    def _share_read(self, done: int, total: int) -> int:
        """How many bytes of the file `done` of `total` rows stand for."""
        return int(self.size_bytes * done / max(1, total))
