"""Every row that was set aside, with its place in its file and, for text logs, as it stands there: a CSV for people."""

from __future__ import annotations

import csv
import gzip
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO

import numpy as np

from ingest.account import EXPECTED_REASONS, ReadingAccount

COLUMNS = ("line", "file", "row", "reason", "as written")
_TEXT_KINDS = ("CSV",)
_GZIP = b"\x1f\x8b"
_LONGEST = 100_000


class ListingAccount(ReadingAccount):
    """A reading account that remembers the place of every row that was set aside and should not have been needed.

    Rows of other lines and of tags that are not mapped are no fault of the log; they are counted only.
    Memory: 8 bytes a row set aside.
    """

    def __init__(self) -> None:
        super().__init__()
        self._places: dict[tuple[str, str], list[np.ndarray]] = {}

    def put_aside(self, file: str, reason: str, rows: Sequence[int] | np.ndarray, texts: Sequence[str] = ()) -> None:
        """As the account does."""
        super().put_aside(file, reason, rows, texts)
        if reason not in EXPECTED_REASONS and len(rows):
            self._places.setdefault((file, reason), []).append(np.asarray(rows, np.int64))

    def part(self) -> ReadingAccount:
        """An account for a part of the rows, to be absorbed."""
        return ListingAccount()

    def absorb(self, part: ReadingAccount) -> None:
        """As the account does."""
        super().absorb(part)
        if isinstance(part, ListingAccount):
            for place, rows in part._places.items():
                self._places.setdefault(place, []).extend(rows)

    def places(self) -> dict[str, list[tuple[int, str]]]:
        """By file, in the order of its rows: (row, reason)."""
        found: dict[str, list[tuple[int, str]]] = {}
        for (file, reason), parts in self._places.items():
            found.setdefault(file, []).extend((int(row), reason) for part in parts for row in part)
        return {file: sorted(rows) for file, rows in found.items()}


def write_set_aside(path: Path, accounts: Sequence[tuple[str, ListingAccount]]) -> int:
    """Writes the rows that the accounts of some lines set aside and returns how many. Raises OSError."""
    part = path.with_name(path.name + ".part")
    count = 0
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(COLUMNS)
            for line, account in accounts:
                kinds = {entry.path: entry for entry in account.files}
                for log, rows in account.places().items():
                    entry = kinds.get(log)
                    encoding = entry.found.get("encoding", "").split()[0] if entry and entry.kind in _TEXT_KINDS else ""
                    texts = _texts(Path(log), [row for row, _ in rows], encoding.rstrip(","))
                    for (row, reason), text in zip(rows, texts, strict=True):
                        writer.writerow((line, log, row, reason, text))
                        count += 1
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
    return count


def _texts(path: Path, rows: Sequence[int], encoding: str) -> Iterator[str]:
    """The lines of a text log at some places, rising; '' where the log is no plain text."""
    if encoding not in ("utf-8", "cp1252") or not path.is_file():
        yield from ("" for _ in rows)
        return
    with _lines(path) as file:
        number, line = 0, b""
        for row in rows:
            while number < row:
                line = file.readline()
                number += 1
            yield line[:_LONGEST].decode(encoding, errors="replace").rstrip("\r\n").removeprefix("\ufeff")


def _lines(path: Path) -> BinaryIO:
    with path.open("rb") as file:
        packed = file.read(2) == _GZIP
    return gzip.open(path) if packed else path.open("rb")  # type: ignore[return-value]
