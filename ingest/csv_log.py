"""A CSV log, read in blocks of whole lines: straight to numbers where that works, by text where it does not."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from functools import partial as partial_of

import numpy as np
import pyarrow as pa

from ingest import account as reasons
from ingest.account import SURE, FileRead, ReadingAccount, SetAside
from ingest.begun_ahead import begun_ahead
from ingest.cell_units import split_unit
from ingest.csv_block import BlockParser, FirstSight, ParsedBlock
from ingest.csv_dialect import Dialect, decimals_of, find_dialect, split_lines
from ingest.errors import MissingColumns
from ingest.head_again import HeadAgain
from ingest.later_columns import later_columns
from ingest.log_file import LogFile, open_bytes
from ingest.number_text import Decimal
from ingest.open_quote import opens_quote
from ingest.quoted_records import joined_head, whole_records
from ingest.raw_rows import RawRows, Seen
from ingest.stamp_text import looks_like_time
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
        self._account, self.say = account, account.assume
        self._block_bytes = block_bytes
        self._share = min(files, _FEWER)
        self.form, head = look_at_form(file, wanted)
        most = HEAD_LINES // self._share
        self._lines = joined_head([line.rstrip("\r") for line in head.decode().split("\n", most)[:most]])
        self._wanted, self._wanted_units = wanted, units or {}
        self.dialect, later = self._find_dialect(partial)
        self.names = (*self.dialect.names, *later)
        self.units = {name: unit for name, unit in zip(self.names, self.dialect.units, strict=False) if unit}
        self._lines = self._before_other_columns()
        self.preamble = tuple(self._lines[: self.dialect.header_row - 1])
        self.size_bytes = file.size_bytes
        self._pieces = self._look_around()
        self._head: RawRows | None = None
        seen = _table_of(self)
        some = seen[:: max(1, len(seen) // _DECIMALS_FROM)]
        places = {name: self.dialect.names.index(name) for name in sorted(numeric) if name in self.dialect.names}
        self.decimals, self._decimal = decimals_of(
            {name: [_bare(fields[place]) for fields, _ in some] for name, place in places.items()},
            self.dialect.delimiter,
        )
        odd = {name for name, mark in self.decimals.items() if (mark or ".") != (self._decimal or ".")}
        self._parser = BlockParser(self.path, self.dialect, self._decimal, set(odd), missing, account)
        self.entry = FileRead(self.path, "CSV", self._found())
        self._say_assumptions(sorted(odd))

    def head(self) -> RawRows:
        """The first rows, all columns as text."""
        if self._head is None:
            rows = [(fields, one.row) for fields, one in _table_of(self) if one.row is not None]
            later = len(self.names) - len(self.dialect.names)
            rows = [([*fields, *[""] * later], row) for fields, row in rows] if later else rows
            columns = {
                name: pa.chunked_array([pa.array([fields[i] for fields, _ in rows], pa.string())])
                for i, name in reversed(list(enumerate(self.names)))
            }
            self._head = RawRows(self.path, np.array([row for _, row in rows], np.int64), columns)
        return self._head

    def seen(self, name: str) -> list[Seen]:
        """Texts of a column from the head and, in a plain file, from places all over it."""
        if name not in self.dialect.names:
            return []
        place = self.names.index(name)
        return [Seen(fields[place], one.row, one.offset) for fields, one in _table_of(self)]

    def texts(self, name: str) -> list[str]:
        """The same without their places."""
        if name not in self.dialect.names:
            return []
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
        reading = _Reading(self, self._parser, self._head_again(), names, numeric)
        blocks = whole_records(self._body(), self.dialect.delimiter, len(self.dialect.names))
        tried = begun_ahead(blocks, reading.at_first_sight)
        for (block, lines, done), begun in tried:
            for rows in reading.rows(block, number, lines, done, begun):
                total += len(rows.numbers) + len(rows.rejects)
                yield rows
            number += lines
        self.entry.rows = total

    def _find_dialect(self, partial: bool) -> tuple[Dialect, tuple[str, ...]]:
        """The dialect, and the wanted columns that the file has only in a later header row."""
        wanted, units = self._wanted, self._wanted_units
        try:
            return find_dialect(self.path, self._lines, wanted, units, partial), ()
        except MissingColumns:
            dialect = find_dialect(self.path, self._lines, wanted, units, partial=True)
            later = later_columns(self._file, self.form, dialect, wanted, units)
            if not {*dialect.names, *later}.issuperset(wanted):
                raise
            return dialect, later

    def _before_other_columns(self) -> list[str]:
        """The first lines up to a header row of other columns, if there is one among them."""
        first = self.dialect.first_row
        body = "\n".join(self._lines[first - 1 :]).encode()
        above = next(self._head_again().stretches(body, first, 0))
        return self._lines[: first - 1 + above.lines] if above.lines else self._lines

    def _head_again(self) -> HeadAgain:
        say = partial_of(self._account.assume, how_sure=SURE)
        return HeadAgain(self.path, self.dialect, self._lines, self._wanted, self._wanted_units, self.names, say)

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
        first, width, delimiter = self.dialect.first_row, len(self.dialect.names), self.dialect.delimiter
        table = split_lines(self._lines[first - 1 :], delimiter)
        rows = [(fields, Seen("", first + i)) for i, fields in enumerate(table) if len(fields) == width]
        # Behind a header row of other columns, which is not known here, times may stand elsewhere.
        times = [i for i, text in enumerate(rows[0][0]) if looks_like_time(text)] if rows else []
        for at, piece in self._pieces:
            for line in piece.split(b"\n"):
                text = line.decode(self.form.encoding, errors="replace").rstrip("\r")
                fields = split_lines([text], delimiter)[0]
                if len(fields) == width and all(looks_like_time(fields[i]) for i in times):
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


class _Reading:
    """One reading of a file, whose columns may change on the way."""

    def __init__(
        self, log: CsvLog, parser: BlockParser, again: HeadAgain, names: tuple[str, ...], numeric: frozenset[str]
    ) -> None:
        self._path, self._dialect, self._say = log.path, log.dialect, log.say
        self._again, self._names, self._numeric = again, names, numeric
        self._now = parser, self._known()  # replaced as one, as another thread looks at it

    def _known(self) -> tuple[str, ...]:
        return tuple(name for name in self._names if name in self._dialect.names) or self._dialect.names[:1]

    def at_first_sight(self, item: tuple[bytes, int, int]) -> FirstSight:
        """May run in another thread, ahead of `rows`."""
        parser, names = self._now
        return parser.at_first_sight(item[0], names, self._numeric)

    def rows(
        self, block: bytes, number: int, lines: int, done: int, begun: Callable[[], FirstSight] | None
    ) -> Iterator[RawRows]:
        """The rows of a block of lines. number: of its first line."""
        seen = begun() if begun is not None else None
        parser, names = self._now
        if block.endswith(b"\n"):
            parsed = parser.numbers_only(block, number, lines, names, self._numeric, seen)
            if parsed is not None:
                self._again.passed()
                yield self._raw(parsed, parsed.rejects, done)
                return
        for stretch in self._again.stretches(block, number, lines):
            if stretch.dialect is not None:
                self._dialect, parser = stretch.dialect, parser.after(stretch.dialect)
                names = self._known()
                self._now = parser, names
            part, cut_off, count = stretch.block, list[SetAside](), stretch.lines
            if not part.endswith(b"\n"):
                part, cut_off, count = self._judge_last(part, stretch.number + count - 1, count)
            parsed = parser.parse(part, stretch.number, count, names, self._numeric)
            rejects = sorted([*parsed.rejects, *stretch.found, *cut_off], key=lambda one: one.row)
            yield self._raw(parsed, rejects, done)

    def _raw(self, parsed: ParsedBlock, rejects: list[SetAside], done: int) -> RawRows:
        """With columns that these rows do not have as empty ones."""
        columns = parsed.columns
        for name in self._names:
            if name not in columns:
                kind = pa.float64() if name in self._numeric else pa.string()
                columns = {**columns, name: pa.chunked_array([pa.nulls(len(parsed.numbers), kind)])}
        return RawRows(self._path, parsed.numbers, columns, tuple(rejects), done)

    def _judge_last(self, block: bytes, number: int, lines: int) -> tuple[bytes, list[SetAside], int]:
        """The block without its last row if that is cut off; a whole last row without line end is kept."""
        last = block[block.rfind(b"\n") + 1 :]
        text = last.decode(errors="replace")
        width = len(self._dialect.names)
        fields = split_lines([text], self._dialect.delimiter)[0]
        if not text.strip():
            return block, [], lines
        if len(fields) < width or opens_quote(last.rstrip(b"\r"), self._dialect.delimiter):
            rest = block[: len(block) - len(last)]
            return rest, [SetAside(self._path, number, reasons.CUT_OFF, text)], lines - 1
        if len(fields) == width:
            self._say(
                f"{self._path}: the last row ({number}) has no line end; it is taken as whole, "
                "its last value may be cut short"
            )
        return block + b"\n", [], lines


def _bare(text: str) -> str:
    """A number without the unit that may stand behind it."""
    return split_unit(text)[0] if text and not text[-1].isdigit() else text


@lru_cache(maxsize=2)
def _table_of(log: CsvLog) -> list[tuple[list[str], Seen]]:
    """Kept for the logs looked at last only: split into fields, a head takes many times its bytes."""
    return log.table()
