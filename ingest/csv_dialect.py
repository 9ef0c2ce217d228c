"""How a CSV log is written, found by looking: delimiter, header rows, columns, decimal marks."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ingest.cell_units import split_unit
from ingest.column_names import MOST_COLUMNS, with_unit_behind
from ingest.errors import BadLog, NotThisLine, missing_columns, nearest
from ingest.number_text import NO_READING, Decimal, decimal_of
from ingest.stamp_text import looks_like_time
from ingest.units import UnitError, quantity_of

DELIMITERS = (";", "\t", "|", ",", "~", "^")
HEADER_WITHIN = 60
"""Rows at the start of a file among which the header must stand."""

_LOOK_AT = 300

_NUMBER = re.compile(r"\s*[+-]?(\d[\d.,' \u00a0]*|[.,]\d+)([eE][+-]?\d+)?\s*")
_BRACKETS_BEHIND = re.compile(r"\s*(?:\[[^\[\]]*\]|\([^()]*\))$")
_LONGEST_BRACKETS = 80
"""Characters of a unit in brackets behind a name."""
_NAMES_OF = {";": "semicolon", "\t": "tab", "|": "vertical bar", ",": "comma", "~": "tilde", "^": "caret"}


@dataclass(frozen=True)
class Dialect:
    """How one CSV file is written.

    names: column names in file order; '' where the header has none. A name with its unit behind it is the name alone.
    units: what the names and the rows below them say of units, by column; empty if nothing.
    header_row, first_row: numbers of the header and of the first row of data.
    """

    delimiter: str
    names: tuple[str, ...]
    header_row: int
    first_row: int
    units: tuple[str, ...] = ()
    padded: bool = False

    @property
    def delimiter_name(self) -> str:
        """For people."""
        return _NAMES_OF[self.delimiter]


def find_dialect(
    path: str, lines: list[str], wanted: Sequence[str], units: Mapping[str, str] | None = None, partial: bool = False
) -> Dialect:
    """The dialect of a log that starts with `lines`.

    wanted: column names the line file gives; they are the best witness of delimiter and header.
    units: of the wanted columns, as the line file gives them. partial: some may be missing.
    Raises BadLog for text that is no table, a missing header, missing or repeated columns, and rows that
    are all longer or shorter than the header.
    """
    lines = lines[:_LOOK_AT]
    best: tuple[int, int, str, list[list[str]]] | None = None
    for delimiter in DELIMITERS:
        table = split_lines(lines, delimiter)
        matches, row = max(((_matches(fields, wanted), -i) for i, fields in enumerate(table[:HEADER_WITHIN])))
        if matches and (best is None or matches > best[0]):
            best = (matches, -row, delimiter, table)
    if best is None:
        raise _no_header(path, lines, wanted)
    matches, row, delimiter, table = best
    row = _first_header(table, row, matches, wanted)
    if len(table[row]) > MOST_COLUMNS:
        raise too_many_columns(path, len(table[row]), row + 1)
    plain = [name.strip() for name in table[row]]
    names, behind = with_unit_behind(plain, wanted, units or {})
    missing = [name for name in dict.fromkeys(wanted) if name not in names]
    if missing and not partial:
        raise missing_columns(path, missing, [n for n in plain if n])
    for name in wanted:
        if names.count(name) > 1:
            raise BadLog(
                path, "column is there twice", row=row + 1, column=name, hint="Rename one of them in the export."
            )
    first, below = _data_start(table, row, names, wanted)
    dialect = _check_width(path, table, Dialect(delimiter, names, row + 1, first + 1, below))
    if behind:
        below = (*below, *[""] * (len(dialect.names) - len(below)))
        dialect = replace(dialect, units=tuple(behind.get(n, b) for n, b in zip(dialect.names, below, strict=False)))
    return dialect


def _first_header(table: list[list[str]], best: int, matches: int, wanted: Sequence[str]) -> int:
    """The row of an earlier header than the one with the most wanted names, if rows of data stand between them."""
    for row in range(best):
        if 2 * _matches(table[row], wanted) > matches and holds_names(table[row]):
            below = [fields for fields in table[row + 1 : best] if any(map(str.strip, fields))][:3]
            if any(any(map(looks_like_time, map(str.strip, fields))) for fields in below):
                return row
    return best


def too_many_columns(path: str, count: int, row: int | None = None) -> BadLog:
    """The error for a table that is no log of one line."""
    return BadLog(
        path,
        f"has {count} columns, more than the {MOST_COLUMNS} that can be read",
        row=row,
        hint="Export only the columns of this line.",
    )


def split_lines(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    """Fields of every line; a quote that is never closed ends with its line."""
    return [_split(line, delimiter) for line in lines]


def _split(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:  # a field beyond the size that the module allows
        return line.split(delimiter)


def decimals_of(columns: dict[str, list[str]], delimiter: str) -> tuple[dict[str, Decimal], Decimal]:
    """Decimal mark of every column from texts seen in it, and the mark that most columns have.

    Columns that leave it open take the one of the others. Where all leave it open, as '1,234' does, a comma is
    the decimal mark if columns are parted by semicolons: they are so because of it (common practice, no source).
    """
    marks: dict[str, Decimal] = {name: decimal_of(texts) for name, texts in columns.items()}
    points, commas = (sum(mark == one for mark in marks.values()) for one in (".", ","))
    common: Decimal = "," if commas > points else "." if points else ""
    if not common and delimiter == ";" and any("," in text for texts in columns.values() for text in texts):
        common = ","
    for name, mark in marks.items():
        if not mark:
            marks[name] = common
    return marks, common


def _matches(fields: Sequence[str], wanted: Sequence[str]) -> int:
    # A damaged file may hold a field of a hundred thousand blanks, which no pattern should be tried on.
    longest = max(map(len, wanted), default=0) + _LONGEST_BRACKETS
    stripped = {field for field in map(str.strip, fields) if len(field) <= longest}
    return len((stripped | {_BRACKETS_BEHIND.sub("", field) for field in stripped}) & set(wanted))


def _data_start(
    table: list[list[str]], header: int, names: Sequence[str], wanted: Sequence[str]
) -> tuple[int, tuple[str, ...]]:
    """Index of the first row of data, and the units if one or two rows below the names are no data.

    Of two such rows, a description and the units in either order, the one with more known units has them.
    """
    below: list[tuple[str, ...]] = []
    row = header + 1
    used = [i for i, name in enumerate(names) if name in wanted]
    while row < len(table) and len(below) < 2:
        fields = [field.strip() for field in table[row]]
        if not any(fields):
            row += 1
            continue
        if not _speaks(fields, used):
            break
        below.append(tuple(fields))
        row += 1
    return row, max(below, key=_known_units, default=())


def holds_names(fields: Sequence[str]) -> bool:
    """Whether a row can be one of column names: no time in it, and fewer numbers than other texts."""
    filled = [field.strip() for field in fields if field.strip()]
    numbers = sum(_NUMBER.fullmatch(field) is not None for field in filled)
    return 2 * numbers < len(filled) and not any(map(looks_like_time, filled))


def speaks_of_columns(fields: Sequence[str], names: Sequence[str], wanted: Sequence[str]) -> bool:
    """Whether a row below the names holds units or remarks and no data."""
    return _speaks(fields, [i for i, name in enumerate(names) if name in wanted])


def _speaks(fields: Sequence[str], used: Sequence[int]) -> bool:
    cells = [fields[i] for i in used if i < len(fields)]
    speaks = any(cell.casefold() not in NO_READING for cell in cells)
    return speaks and not any(map(looks_like_time, fields)) and not any(map(_is_number, cells))


def _is_number(text: str) -> bool:
    return _NUMBER.fullmatch(text) is not None or bool(split_unit(text)[1])


def _known_units(fields: Sequence[str]) -> int:
    return sum(map(_is_unit, fields[:1000]))


def _is_unit(text: str) -> bool:
    try:
        return bool(text) and bool(quantity_of(text))
    except UnitError:
        return False


def _check_width(path: str, table: list[list[str]], dialect: Dialect) -> Dialect:
    """The dialect with as many columns as the rows have; raises BadLog if header and rows cannot be matched."""
    rows = [fields for fields in table[dialect.first_row - 1 :] if any(map(str.strip, fields))]
    if not rows:
        raise BadLog(path, "has a header and no rows", row=dialect.header_row, hint="Check the time span exported.")
    width = Counter(map(len, rows)).most_common(1)[0][0]
    names = dialect.names
    if width == len(names):
        return dialect
    units, row, first = dialect.units, dialect.header_row, dialect.first_row
    more = width - len(names)
    if more > 0 and not any("".join(fields[len(names) :]).strip() for fields in rows if len(fields) == width):
        return Dialect(dialect.delimiter, (*names, *[""] * more), row, first, units, padded=True)
    if width == len(names) - 1 and not names[-1]:
        return Dialect(dialect.delimiter, names[:-1], row, first, units, padded=True)
    if any(len(fields) == len(names) for fields in rows):
        return dialect
    hint = "Export it again with one field for every column."
    if dialect.delimiter == "," and width > len(names):
        hint = "Are there decimal commas? Then export with ';' between columns, or with decimal points."
    raise BadLog(path, f"the header has {len(names)} columns and the rows have {width}", row=first, hint=hint)


def _no_header(path: str, lines: list[str], wanted: Sequence[str]) -> BadLog:
    """The error for a file in which no row holds any wanted name, as helpful as what is there allows."""
    row, text = next(((i + 1, line) for i, line in enumerate(lines) if line.strip()), (1, ""))
    widths = {}
    for delimiter in DELIMITERS:
        counts = Counter(len(fields) for fields in split_lines(lines[:200], delimiter) if fields)
        width, rows = max(((w, n) for w, n in counts.items()), key=lambda pair: (pair[1], pair[0]))
        if width > 1 and rows >= 0.6 * sum(counts.values()):
            widths[delimiter] = width
    if not widths:
        return NotThisLine(
            path,
            f"no columns can be made out: '{text[:60]}' holds none of the delimiters comma, semicolon, tab, "
            "vertical bar, tilde, caret in the way of a table",
            row=row,
            hint="Export the log as CSV with one of these delimiters, or as Parquet.",
        )
    delimiter = max(widths, key=lambda mark: widths[mark])
    table = split_lines(lines[:HEADER_WITHIN], delimiter)
    named = [i for i, f in enumerate(table) if len(f) == widths[delimiter] and not any(map(looks_like_time, f))]
    named = [i for i in named if sum(bool(_NUMBER.fullmatch(cell)) for cell in table[i]) * 2 < len(table[i])]
    if not named:
        first = next(i for i, fields in enumerate(table) if len(fields) == widths[delimiter])
        return NotThisLine(
            path,
            f"there is no header row: the table starts with '{lines[first][:60]}'",
            row=first + 1,
            hint=f"Export with column names; the line file looks for {', '.join(map(repr, wanted[:4]))}.",
        )
    known = [name.strip() for name in table[named[0]] if name.strip()]
    missing = missing_columns(path, list(dict.fromkeys(wanted)), known)
    error = NotThisLine(path, missing.reason, column=missing.column, hint=missing.hint)
    if not any(nearest(name, known) for name in wanted):
        error = NotThisLine(
            path,
            f"none of the columns of the line file is in the log; its header seems to be '{lines[named[0]][:80]}'",
            row=named[0] + 1,
            hint=f"Is it the log of another line? The line file looks for {', '.join(map(repr, wanted[:4]))}.",
        )
    return error
