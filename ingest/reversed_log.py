"""A log that was written newest row first, read from its end: the same rows, oldest first."""

from __future__ import annotations

import json
from collections.abc import Iterator

import numpy as np
import pyarrow as pa

from ingest.account import SetAside
from ingest.raw_rows import Log, RawRows
from ingest.reordered_log import ReorderedLog
from ingest.spill import Spill, plain_types

_NUMBER, _REJECTS = " row number", b"rejects"
_WORTH_ROWS = 20_000


class ReversedLog(ReorderedLog):
    """The rows of another log from the last to the first, with the row numbers they have.

    A packed file can be read only from its start, so the rows go through a temporary file; memory holds one piece.
    names, numeric: the columns that will be asked for.
    """

    def __init__(self, log: Log, names: tuple[str, ...], numeric: frozenset[str]) -> None:
        super().__init__(log, names)
        self._spill = Spill(log.path)
        self._rows = 0
        for rows in log.rows(names, numeric):
            self._set_down(rows)

    def rows(self, names: tuple[str, ...], numeric: frozenset[str]) -> Iterator[RawRows]:
        """The rows from the last to the first."""
        done = 0
        for number in reversed(range(len(self._spill))):
            table = self._spill.read(number)
            rejects = tuple(SetAside(*one) for one in json.loads((table.schema.metadata or {})[_REJECTS]))
            done += len(table)
            table = table.take(pa.array(np.arange(len(table))[::-1]))
            numbers = table.column(_NUMBER).to_numpy()
            columns = {name: table.column(name) for name in names}
            yield RawRows(self.path, numbers, columns, rejects[::-1], self._share_read(done, self._rows))

    def _set_down(self, rows: RawRows) -> None:
        """Rejects go with the rows they stand among."""
        for low in range(0, max(1, len(rows.numbers)), _WORTH_ROWS):
            high = low + _WORTH_ROWS
            last = high >= len(rows.numbers)
            first_number = rows.numbers[low] if low else -1
            next_number = None if last else rows.numbers[high]
            rejects = [
                [one.file, one.row, one.reason, one.text[:200]]
                for one in rows.rejects
                if one.row >= first_number and (next_number is None or one.row < next_number)
            ]
            columns = {name: column.slice(low, _WORTH_ROWS) for name, column in rows.columns.items()}
            table = pa.table({**columns, _NUMBER: pa.array(rows.numbers[low:high])})
            table = plain_types(table).replace_schema_metadata({_REJECTS: json.dumps(rejects).encode()})
            self._spill.write(table)
        self._rows += len(rows.numbers)
