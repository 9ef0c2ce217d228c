"""A block of CSV lines as columns: straight to numbers where that works, with care where it does not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.csv as arrow_csv

from ingest import account as reasons
from ingest.account import GUESS, ReadingAccount, SetAside
from ingest.arrow_compute import pc
from ingest.csv_dialect import Dialect
from ingest.errors import BadLog
from ingest.number_text import NO_READING_AS_WRITTEN, Decimal
from ingest.open_quote import opens_quote

_WORTH_THREADS = 1 << 20


@dataclass(frozen=True)
class ParsedBlock:
    """Rows with their line numbers, columns under their names, and what could not be split into columns."""

    numbers: np.ndarray
    columns: dict[str, pa.ChunkedArray]
    rejects: list[SetAside]


@dataclass(frozen=True)
class FirstSight:
    """A block read as if every line were a row and every number column held numbers; None where that fails.

    numeric: the columns taken for numbers. dialect: how the lines were taken to be written.
    """

    numeric: frozenset[str]
    table: pa.Table | None
    dialect: Dialect


class BlockParser:
    """Parses blocks of whole lines of one file.

    decimal: mark of most number columns. as_text: number columns to be read as text; grows as texts are met in
    others, which only spares trying and changes no result.
    missing: further texts that say 'no reading'.
    """

    def __init__(
        self,
        file: str,
        dialect: Dialect,
        decimal: Decimal,
        as_text: set[str],
        missing: tuple[str, ...],
        account: ReadingAccount,
    ) -> None:
        self._file, self._dialect, self._account = file, dialect, account
        self._decimal: Decimal = decimal or "."
        self._as_text = as_text
        self._missing = missing
        self._none = [*NO_READING_AS_WRITTEN, *missing]

    def after(self, dialect: Dialect) -> BlockParser:
        """The parser of later lines of the same file, which have other columns."""
        return BlockParser(self._file, dialect, self._decimal, self._as_text, self._missing, self._account)

    def at_first_sight(self, block: bytes, names: tuple[str, ...], numeric: frozenset[str]) -> FirstSight:
        """Most blocks are no more work than this; may run in another thread. The result is for `numbers_only`."""
        wanted = numeric - self._as_text
        table = self._table(block, names, wanted, threads=False) if wanted & set(names) else None
        return FirstSight(wanted, table, self._dialect)

    def numbers_only(
        self,
        block: bytes,
        number: int,
        lines: int,
        names: tuple[str, ...],
        numeric: frozenset[str],
        seen: FirstSight | None = None,
    ) -> ParsedBlock | None:
        """A block whose number columns hold numbers in every line, so that no line can be a header; else None.

        seen: of the same block. It does not count where columns were found to hold texts since, or to be others.
        """
        wanted = numeric - self._as_text
        if not wanted & set(names):
            return None
        still = seen is not None and seen.numeric == wanted and seen.dialect is self._dialect
        table = seen.table if seen is not None and still else self._table(block, names, wanted)
        return self._whole(table, block, number, lines, names)

    def _whole(
        self, table: pa.Table | None, block: bytes, number: int, lines: int, names: tuple[str, ...]
    ) -> ParsedBlock | None:
        """A block whose every line is a row, None where that is not so at first sight."""
        # An open quote swallows the lines behind it and so changes their count, but for one on the last line.
        last = block[block.rfind(b"\n", 0, -1) + 1 :].rstrip(b"\r\n")
        if table is None or len(table) != lines or opens_quote(last, self._dialect.delimiter):
            return None
        numbers = np.arange(number, number + lines, dtype=np.int64)
        return ParsedBlock(numbers, {name: table.column(name) for name in names}, [])

    def parse(
        self, block: bytes, number: int, lines: int, names: tuple[str, ...], numeric: frozenset[str]
    ) -> ParsedBlock:
        """A block that ends with a line end. number: of its first line. numeric: columns wanted as numbers."""
        table = self._table(block, names, numeric - self._as_text)
        parsed = self._whole(table, block, number, lines, names)
        if parsed is not None:
            return parsed
        last = block[block.rfind(b"\n", 0, -1) + 1 :].rstrip(b"\r\n")
        kept = self._lines(block)
        if not kept:
            return self._parse_lines({}, number, names, numeric) or ParsedBlock(np.zeros(0, np.int64), {}, [])
        parsed = self._parse_lines(kept, number, names, numeric)
        if parsed is None or opens_quote(last, self._dialect.delimiter):
            open_ = {i for i, line in kept.items() if opens_quote(line, self._dialect.delimiter)}
            parsed = self._parse_lines({i: line for i, line in kept.items() if i not in open_}, number, names, numeric)
            if parsed is None:
                raise self._unruly(number)
            parsed.rejects.extend(
                SetAside(self._file, number + i, reasons.OPEN_QUOTE, kept[i].decode()) for i in sorted(open_)
            )
            parsed.rejects.sort(key=lambda one: one.row)
        return parsed

    def _lines(self, block: bytes) -> dict[int, bytes]:
        """Lines in UTF-8 by their place in the block; blank ones left out."""
        # Found with numpy, since a log may hold millions of blank lines.
        ends = np.flatnonzero(np.frombuffer(block, np.uint8) == 10)
        starts = np.concatenate(([0], ends + 1))
        ends = np.append(ends, len(block))
        places = np.flatnonzero(ends > starts)
        spans = zip(places.tolist(), starts[places].tolist(), ends[places].tolist(), strict=True)
        lines = {i: block[start:end].rstrip(b"\r") for i, start, end in spans}
        try:
            block.decode()
        except UnicodeDecodeError:
            self._account.assume(f"{self._file}: letters that are not UTF-8 are read as cp1252", GUESS)
            lines = {i: _as_utf8(line) for i, line in lines.items()}
        return {i: line for i, line in lines.items() if line.strip(b" ")}

    def _parse_lines(
        self, lines: dict[int, bytes], number: int, names: tuple[str, ...], numeric: frozenset[str]
    ) -> ParsedBlock | None:
        """The lines one for one, None where they do not come out so."""
        block = b"".join(line + b"\n" for line in lines.values())
        bad: list[arrow_csv.InvalidRow] = []
        table = self._table(block, names, numeric - self._as_text, bad)
        if table is None:
            bad.clear()
            table = self._table(block, names, frozenset(), bad)
            if table is None:
                raise self._unruly(number)
            self._learn_text_columns(table, numeric - self._as_text)
            fast = (numeric - self._as_text) & set(names)  # the others are in a file beside this one
            faster = self._table(block, tuple(fast), fast, [])
            if faster is not None:
                for name in fast:
                    table = table.set_column(table.column_names.index(name), name, faster.column(name))
        if len(table) + len(bad) != len(lines):
            return None
        numbers = number + np.fromiter(lines, np.int64, len(lines))
        rejects = [SetAside(self._file, int(numbers[row.number - 1]), reasons.WRONG_COLUMNS, row.text) for row in bad]
        numbers = np.delete(numbers, [row.number - 1 for row in bad])
        return ParsedBlock(numbers, {name: table.column(name) for name in names}, rejects)

    def _unruly(self, number: int) -> BadLog:
        return BadLog(
            self._file,
            "from here on rows cannot be told apart",
            row=number,
            hint="Is the file damaged? Copy it again, or take the lines from here on out of it.",
        )

    def _table(
        self,
        block: bytes,
        names: tuple[str, ...],
        numeric: frozenset[str],
        bad: list[arrow_csv.InvalidRow] | None = None,
        threads: bool = True,
    ) -> pa.Table | None:
        """The block as a table, None where a number column holds a text or a text is not UTF-8.

        bad: receives the rows with the wrong number of columns, with their numbers in the block.
        threads: the block may be cut up among several; costs more work in sum.
        """
        kinds = {f"{i}": pa.float64() if name in numeric else pa.string() for i, name in enumerate(self._dialect.names)}
        places = [f"{self._dialect.names.index(name)}" for name in names]
        if not block or not names:
            return pa.table([pa.array([], kinds[place]) for place in places], names=list(names))

        def skip(row: arrow_csv.InvalidRow) -> str:
            assert bad is not None
            bad.append(row)
            return "skip"

        threads = threads and bad is None and len(block) > _WORTH_THREADS  # with threads, rows have no numbers
        size = None if bad is None else max(len(block), _WORTH_THREADS)  # a row must fit into what is parsed at once
        try:
            table = arrow_csv.read_csv(
                pa.BufferReader(block),
                read_options=arrow_csv.ReadOptions(column_names=list(kinds), use_threads=threads, block_size=size),
                parse_options=arrow_csv.ParseOptions(
                    # Without `bad` a row too long or short ends it: nothing is gained by reading on.
                    delimiter=self._dialect.delimiter,
                    invalid_row_handler=None if bad is None else skip,
                ),
                convert_options=arrow_csv.ConvertOptions(
                    column_types=kinds,
                    include_columns=places,
                    null_values=self._none,
                    strings_can_be_null=False,
                    decimal_point=self._decimal,
                ),
            )
        except pa.ArrowInvalid:
            return None
        return table.rename_columns(list(names))

    def _learn_text_columns(self, table: pa.Table, numeric: frozenset[str]) -> None:
        """Finds the number columns of a table of texts that hold other texts than numbers."""
        none = pa.array(self._none)
        for name in numeric & set(table.column_names):
            texts = pc.utf8_trim_whitespace(table.column(name))
            texts = texts.filter(pc.invert(pc.is_in(texts, value_set=none)))
            if self._decimal == ",":
                texts = pc.replace_substring(pc.replace_substring(texts, ".", "x"), ",", ".")
            try:
                pc.cast(texts, pa.float64())
            except pa.ArrowInvalid:
                self._as_text.add(name)


def _as_utf8(line: bytes) -> bytes:
    try:
        line.decode()
    except UnicodeDecodeError:
        return line.decode("cp1252", errors="replace").encode()
    return line
