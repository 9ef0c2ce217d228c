"""A stretch of a log as its file gives it: columns under plant names, rows with their place in the file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import pyarrow as pa

from ingest.account import FileRead, SetAside
from ingest.number_text import Decimal


@dataclass(frozen=True)
class RawRows:
    """Rows in file order.

    file: the log they come from.
    numbers: int64, place of each row in the file, counted from 1 (lines in text, rows in Parquet).
    columns: by plant name; numbers, texts or times as the file has them, each as long as `numbers`.
    rejects: rows that fell apart before they had columns.
    done_bytes: how far into the file this stretch reaches, for a progress bar.
    """

    file: str
    numbers: np.ndarray
    columns: dict[str, pa.ChunkedArray]
    rejects: tuple[SetAside, ...] = ()
    done_bytes: int = 0

    def where(self, keep: np.ndarray) -> RawRows:
        """Only the rows where `keep`, a bool array, holds."""
        if keep.all():
            return self
        mask = pa.array(keep)
        columns = {name: column.filter(mask) for name, column in self.columns.items()}
        return RawRows(self.file, self.numbers[keep], columns, self.rejects, self.done_bytes)

    def text_at(self, names: tuple[str, ...], index: int) -> str:
        """What stands in some columns at a row of this stretch."""
        values = (_plain(self.columns[name][index]) for name in names)
        return " ".join("" if value is None else str(value) for value in values)


def _plain(value: pa.Scalar) -> object:
    try:
        return value.as_py()
    except (OverflowError, ValueError):  # a time beyond all calendars
        return value.cast(pa.int64()).as_py()


@dataclass(frozen=True)
class Seen:
    """A text seen while looking over a log. row: its row if that was counted, else `offset` tells the byte."""

    text: str
    row: int | None = None
    offset: int = 0


class Log(Protocol):
    """One open file of a log."""

    path: str
    names: tuple[str, ...]
    units: dict[str, str]
    """What the file says of units, by column."""
    stamp_columns: tuple[str, ...]
    """Columns that hold times as such, not as text."""
    preamble: tuple[str, ...]
    """Lines above the names."""
    size_bytes: int
    entry: FileRead

    def head(self) -> RawRows:
        """The first rows, with every column, as a file of its kind gives them."""
        ...

    def seen(self, name: str) -> list[Seen]:
        """Texts of a column from all over the file."""
        ...

    def texts(self, name: str) -> list[str]:
        """The same without their places."""
        ...

    def decimal(self, name: str) -> Decimal:
        """Decimal mark of a column; '.' where the log is no text."""
        ...

    def row_of(self, seen: Seen) -> int:
        """Row number of a text that was seen."""
        ...

    def rows(self, names: tuple[str, ...], numeric: frozenset[str]) -> Iterator[RawRows]:
        """The whole file. numeric: columns wanted as numbers where that is possible."""
        ...


def side_by_side(log: Log, columns: tuple[str, ...]) -> Iterator[tuple[Seen, ...]]:
    """Texts of several columns from all over the file, row by row.

    None where one of them comes in the middle of the file: it is not seen in its head, nor is what goes with it.
    """
    seen = [log.seen(name) for name in columns]
    return zip(*seen, strict=True) if all(seen) else iter(())
