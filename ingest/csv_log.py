"""A CSV log, read in blocks of whole lines: straight to numbers where that works, by text where it does not."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache

import numpy as np
import pyarrow as pa

from ingest import account as reasons
from ingest.account import FileRead, ReadingAccount, SetAside
from ingest.begun_ahead import begun_ahead
from ingest.cell_units import split_unit
from ingest.csv_block import BlockParser, FirstSight
from ingest.csv_dialect import Dialect, decimals_of, find_dialect, split_lines
from ingest.head_again import HeadAgain
from ingest.log_file import LogFile, open_bytes
from ingest.number_text import Decimal
from ingest.open_quote import opens_quote
from ingest.quoted_records import joined_head, whole_records
from ingest.raw_rows import RawRows, Seen
from ingest.text_file import line_blocks, look_at_form

BLOCK_BYTES = 8 << 20
HEAD_LINES = 1000
_PIECES, _PIECE_BYTES = 40, 4096
_DECIMALS_FROM = 200
_FEWER = 10


class CsvLog:
    """One CSV file of a log, opened: its form and dialect are known, its rows are not read yet.

    wanted: columns the line file names. numeric: those of them that should hold numbers. units: of those.
    missing: further texts that say 'no reading'. partial: some wanted columns may not be there.
    files: how many files are opened beside it; of many, less is looked at and kept of each.
    Raises BadLog as `text_file` and `csv_dialect` do.
    """

    stamp_columns: tuple[str, ...] = ()

    def __init__(
        self,
        file: LogFile,
        wanted: tuple[str, ...],
        numeric: frozenset[str],
        missing: tuple[str, ...],
        account: ReadingAccount,
        block_bytes: int = BLOCK_BYTES,
        units: Mapping[str, str] | None = None,
        partial: bool = False,
        files: int = 1,
    ) -> None:
        self.path = file.name
        self._file = file
        self._account = account
        self._block_bytes = block_bytes
        self._share = min(files, _FEWER)
        self.form, head = look_at_form(file, wanted)
        most = HEAD_LINES // self._share
        self._lines = joined_head([line.rstrip("\r") for line in head.decode().split("\n", most)[:most]])
        self.dialect: Dialect = find_dialect(self.path, self._lines, wanted, units, partial)
        self.names = self.dialect.names
        self.units = {name: unit for name, unit in zip(self.names, self.dialect.units, strict=False) if unit}
        self.preamble = tuple(self._lines[: self.dialect.header_row - 1])
        self.size_bytes = file.size_bytes
        self._pieces = self._look_around()
        self._head: RawRows | None = None
        seen = _table_of(self)
        some = seen[:: max(1, len(seen) // _DECIMALS_FROM)]
        places = {name: self.names.index(name) for name in sorted(numeric) if name in self.names}
        self.decimals, self._decimal = decimals_of(
            {name: [_bare(fields[place]) for fields, _ in some] for name, place in places.items()},
            self.dialect.delimiter,
        )
        odd = {name for name, mark in self.decimals.items() if (mark or ".") != (self._decimal or ".")}
        self._parser = BlockParser(self.path, self.dialect, self._decimal, set(odd), missing, account)
        self._again = HeadAgain(self.path, self.dialect, self._lines, wanted)
        self.entry = FileRead(self.path, "CSV", self._found())
        self._say_assumptions(sorted(odd))

    def head(self) -> RawRows:
        """The first rows, all columns as text."""
        if self._head is None:
            rows = [(fields, one.row) for fields, one in _table_of(self) if one.row is not None]
            columns = {
                name: pa.chunked_array([pa.array([fields[i] for fields, _ in rows], pa.string())])
                for i, name in reversed(list(enumerate(self.names)))
            }
            self._head = RawRows(self.path, np.array([row for _, row in rows], np.int64), columns)
        return self._head

    def seen(self, name: str) -> list[Seen]:
        """Texts of a column from the head and, in a plain file, from places all over it."""
        place = self.names.index(name)
        return [Seen(fields[place], one.row, one.offset) for fields, one in _table_of(self)]

    def texts(self, name: str) -> list[str]:
        """The same without their places."""
        place = self.names.index(name)
        return [fields[place] for fields, _ in _table_of(self)]

    def decimal(self, name: str) -> Decimal:
        """Decimal mark of a column, '' where nothing settles it."""
        return self.decimals.get(name, "")

    def row_of(self, seen: Seen) -> int:
        """Row number of a text that was seen; counts the lines before it if need be."""
        if seen.row is not None:
            return seen.row
        row, left = 1, seen.offset
        with open_bytes(self._file.on_disk) as file:
            while left and (data := file.read(min(left, 1 << 24))):
                row += data.count(b"\n")
                left -= len(data)
        return row

    def rows(self, names: tuple[str, ...], numeric: frozenset[str]) -> Iterator[RawRows]:
        """The whole file; rows that do not have the columns of the header come as rejects."""
        number, total = self.dialect.first_row, 0
        blocks = whole_records(self._body(), self.dialect.delimiter, len(self.names))
        tried = begun_ahead(blocks, lambda item: self._parser.at_first_sight(item[0], names, numeric))
        for (block, lines, done), begun in tried:
            rows = self._read(block, number, lines, names, numeric, done, begun)
            total += len(rows.numbers) + len(rows.rejects)
            yield rows
            number += lines
        self.entry.rows = total

    def _body(self) -> Iterator[tuple[bytes, int, int]]:
        """Blocks of lines from the first row of data on."""
        left = self.dialect.first_row - 1
        for block, lines, done in line_blocks(self._file, self.form, self._block_bytes, self._account.assume):
            skip = min(left, lines)
            left -= skip
            if skip:
                block = block.split(b"\n", skip)[-1] if skip < lines else b""
            if block:
                yield block, lines - skip, done

    def _read(
        self,
        block: bytes,
        number: int,
        lines: int,
        names: tuple[str, ...],
        numeric: frozenset[str],
        done: int,
        begun: Callable[[], FirstSight] | None,
    ) -> RawRows:
        cut_off: list[SetAside] = []
        seen = begun() if begun is not None else None
        if not block.endswith(b"\n"):
            block, cut_off, lines = self._judge_last(block, number + lines - 1, lines)
            seen = None
        again: list[SetAside] = []
        parsed = self._parser.numbers_only(block, number, lines, names, numeric, seen)
        if parsed is None:
            block, again = self._again.take_out(block, number)
            parsed = self._parser.parse(block, number, lines, names, numeric)
        rejects = [*parsed.rejects, *again, *cut_off]
        if again:
            rejects.sort(key=lambda one: one.row)
        return RawRows(self.path, parsed.numbers, parsed.columns, tuple(rejects), done)

    def _judge_last(self, block: bytes, number: int, lines: int) -> tuple[bytes, list[SetAside], int]:
        """The block without its last row if that is cut off; a whole last row without line end is kept."""
        last = block[block.rfind(b"\n") + 1 :]
        text = last.decode(errors="replace")
        fields = split_lines([text], self.dialect.delimiter)[0]
        if not text.strip():
            return block, [], lines
        if len(fields) < len(self.names) or opens_quote(last.rstrip(b"\r"), self.dialect.delimiter):
            rest = block[: len(block) - len(last)]
            return rest, [SetAside(self.path, number, reasons.CUT_OFF, text)], lines - 1
        if len(fields) == len(self.names):
            self._account.assume(
                f"{self.path}: the last row ({number}) has no line end; it is taken as whole, "
                "its last value may be cut short"
            )
        return block + b"\n", [], lines

    def _look_around(self) -> list[tuple[int, bytes]]:
        """Pieces from all over the file, each with the place of its first byte."""
        pieces = _PIECES // self._share
        if not self.form.plain or self.size_bytes < 4 * pieces * _PIECE_BYTES:
            return []
        found = []
        with open_bytes(self._file.on_disk) as file:
            for offset in np.linspace(self.size_bytes / pieces, self.size_bytes - _PIECE_BYTES, pieces).astype(int):
                file.seek(int(offset))
                piece = file.read(_PIECE_BYTES)
                start, end = piece.find(b"\n") + 1, piece.rfind(b"\n")
                if 0 < start < end:
                    found.append((int(offset) + start, piece[start:end]))
        return found

    def table(self) -> list[tuple[list[str], Seen]]:
        """Fields of rows from the head and from pieces all over the file, with their place."""
        first, width, delimiter = self.dialect.first_row, len(self.names), self.dialect.delimiter
        table = split_lines(self._lines[first - 1 :], delimiter)
        rows = [(fields, Seen("", first + i)) for i, fields in enumerate(table) if len(fields) == width]
        for at, piece in self._pieces:
            for line in piece.split(b"\n"):
                text = line.decode(self.form.encoding, errors="replace").rstrip("\r")
                fields = split_lines([text], delimiter)[0]
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
            say(f"{self.path}: rows and header differ by a delimiter at the end or several, which are left out")
        if self._decimal == ",":
            say(f"{self.path}: numbers have decimal commas")
        if odd:
            mark = {".": "points", ",": "commas"}[self.decimals[odd[0]] or "."]
            say(f"{self.path}: numbers of {', '.join(map(repr, odd[:5]))} have decimal {mark}, unlike the others")


def _bare(text: str) -> str:
    """A number without the unit that may stand behind it."""
    return split_unit(text)[0] if text and not text[-1].isdigit() else text


@lru_cache(maxsize=2)
def _table_of(log: CsvLog) -> list[tuple[list[str], Seen]]:
    """Kept for the logs looked at last only: split into fields, a head takes many times its bytes."""
    return log.table()
