"""A CSV log, read in blocks of whole lines: straight to numbers where that works, by text where it does not."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa

from ingest import account as reasons
from ingest.account import FileRead, ReadingAccount, SetAside
from ingest.csv_block import BlockParser
from ingest.csv_dialect import Dialect, decimals_of, find_dialect, split_lines
from ingest.number_text import Decimal
from ingest.open_quote import opens_quote
from ingest.raw_rows import RawRows, Seen
from ingest.text_file import line_blocks, look_at_form, open_bytes

BLOCK_BYTES = 8 << 20
HEAD_LINES = 1000
_PIECES, _PIECE_BYTES = 40, 4096
_DECIMALS_FROM = 200


class CsvLog:
    """One CSV file of a log, opened: its form and dialect are known, its rows are not read yet.

    wanted: columns the line file names. numeric: those of them that should hold numbers.
    missing: further texts that say 'no reading'.
    Raises BadLog as `text_file` and `csv_dialect` do.
    """

    stamp_columns: tuple[str, ...] = ()

    def __init__(
        self,
        path: Path,
        wanted: tuple[str, ...],
        numeric: frozenset[str],
        missing: tuple[str, ...],
        account: ReadingAccount,
        block_bytes: int = BLOCK_BYTES,
    ) -> None:
        self.path = path
        self._account = account
        self._block_bytes = block_bytes
        self.form, head = look_at_form(path)
        lines = [line.rstrip("\r") for line in head.decode().split("\n", HEAD_LINES)[:HEAD_LINES]]
        self.dialect: Dialect = find_dialect(path, "\n".join(lines), wanted)
        self.names = self.dialect.names
        self.size_bytes = path.stat().st_size
        self._seen = self._look_around(lines)
        self._head: RawRows | None = None
        some = self._seen[:: max(1, len(self._seen) // _DECIMALS_FROM)]
        places = {name: self.names.index(name) for name in sorted(numeric)}
        self.decimals, self._decimal = decimals_of(
            {name: [fields[place] for fields, _ in some] for name, place in places.items()}, self.dialect.delimiter
        )
        odd = {name for name, mark in self.decimals.items() if (mark or ".") != (self._decimal or ".")}
        self._parser = BlockParser(str(path), self.dialect, self._decimal, set(odd), missing, account)
        self.entry = FileRead(str(path), "CSV", self._found())
        self._say_assumptions(sorted(odd))

    def head(self) -> RawRows:
        """The first rows, all columns as text."""
        if self._head is None:
            rows = [(fields, one.row) for fields, one in self._seen if one.row is not None]
            columns = {
                name: pa.chunked_array([pa.array([fields[i] for fields, _ in rows], pa.string())])
                for i, name in reversed(list(enumerate(self.names)))
            }
            self._head = RawRows(str(self.path), np.array([row for _, row in rows], np.int64), columns)
        return self._head

    def seen(self, name: str) -> list[Seen]:
        """Texts of a column from the head and, in a plain file, from places all over it."""
        place = self.names.index(name)
        return [Seen(fields[place], one.row, one.offset) for fields, one in self._seen]

    def row_of(self, seen: Seen) -> int:
        """Row number of a text that was seen; counts the lines before it if need be."""
        if seen.row is not None:
            return seen.row
        row, left = 1, seen.offset
        with open_bytes(self.path) as file:
            while left and (data := file.read(min(left, 1 << 24))):
                row += data.count(b"\n")
                left -= len(data)
        return row

    def rows(self, names: tuple[str, ...], numeric: frozenset[str]) -> Iterator[RawRows]:
        """The whole file; rows that do not have the columns of the header come as rejects."""
        number, total = 1, 0
        for block, lines, done in line_blocks(self.path, self.form, self._block_bytes):
            skip = min(max(0, self.dialect.first_row - number), lines)
            if skip:
                block = block.split(b"\n", skip)[-1] if skip < lines else b""
            if block:
                rows = self._read(block, number + skip, lines - skip, names, numeric, done)
                total += len(rows.numbers) + len(rows.rejects)
                yield rows
            number += lines
        self.entry.rows = total

    def _read(
        self, block: bytes, number: int, lines: int, names: tuple[str, ...], numeric: frozenset[str], done: int
    ) -> RawRows:
        cut_off: list[SetAside] = []
        if not block.endswith(b"\n"):
            block, cut_off, lines = self._judge_last(block, number + lines - 1, lines)
        parsed = self._parser.parse(block, number, lines, names, numeric)
        return RawRows(str(self.path), parsed.numbers, parsed.columns, (*parsed.rejects, *cut_off), done)

    def _judge_last(self, block: bytes, number: int, lines: int) -> tuple[bytes, list[SetAside], int]:
        """The block without its last row if that is cut off; a whole last row without line end is kept."""
        last = block[block.rfind(b"\n") + 1 :]
        text = last.decode(errors="replace")
        fields = split_lines([text], self.dialect.delimiter)[0]
        if not text.strip():
            return block, [], lines
        if len(fields) < len(self.names) or opens_quote(last.rstrip(b"\r"), self.dialect.delimiter):
            rest = block[: len(block) - len(last)]
            return rest, [SetAside(str(self.path), number, reasons.CUT_OFF, text)], lines - 1
        if len(fields) == len(self.names):
            self._account.assume(
                f"{self.path}: the last row ({number}) has no line end; it is taken as whole, "
                "its last value may be cut short"
            )
        return block + b"\n", [], lines

    def _look_around(self, lines: list[str]) -> list[tuple[list[str], Seen]]:
        """Fields of rows from the head and from pieces all over the file, with their place."""
        first, width = self.dialect.first_row, len(self.names)
        table = split_lines(lines[first - 1 :], self.dialect.delimiter)
        rows = [(fields, Seen("", first + i)) for i, fields in enumerate(table) if len(fields) == width]
        if not self.form.plain or self.size_bytes < 4 * _PIECES * _PIECE_BYTES:
            return rows
        with open_bytes(self.path) as file:
            for offset in np.linspace(self.size_bytes / _PIECES, self.size_bytes - _PIECE_BYTES, _PIECES).astype(int):
                file.seek(int(offset))
                piece = file.read(_PIECE_BYTES)
                start = piece.find(b"\n") + 1
                end = piece.rfind(b"\n")
                at = int(offset) + start
                for line in piece[start:end].split(b"\n") if 0 < start < end else []:
                    text = line.decode(self.form.encoding, errors="replace").rstrip("\r")
                    fields = split_lines([text], self.dialect.delimiter)[0]
                    if len(fields) == width:
                        rows.append((fields, Seen("", None, at)))
                    at += len(line) + 1
        return rows

    def _found(self) -> dict[str, str]:
        return {
            "encoding": self.form.name,
            "delimiter": self.dialect.delimiter_name,
            "decimal mark": {".": "point", ",": "comma", "": "not seen"}[self._decimal],
            "header row": str(self.dialect.header_row),
            "first row of data": str(self.dialect.first_row),
        }

    def _say_assumptions(self, odd: list[str]) -> None:
        dialect, say = self.dialect, self._account.assume
        if dialect.header_row > 1:
            say(f"{self.path}: the column names stand on row {dialect.header_row}, rows above it are left out")
        if dialect.first_row > dialect.header_row + 1 and dialect.units:
            say(f"{self.path}: below the names stand units or remarks; data start on row {dialect.first_row}")
        if dialect.padded:
            say(f"{self.path}: rows and header differ by a delimiter at the end of the row, which is left out")
        if self._decimal == ",":
            say(f"{self.path}: numbers have decimal commas")
        if odd:
            mark = {".": "points", ",": "commas"}[self.decimals[odd[0]] or "."]
            say(f"{self.path}: numbers of {', '.join(map(repr, odd[:5]))} have decimal {mark}, unlike the others")


def decimal_for(log: object, name: str) -> Decimal:
    """Decimal mark of a column; '.' where the log is no text."""
    return log.decimals.get(name, "") if isinstance(log, CsvLog) else "."
