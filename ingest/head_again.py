"""Header rows in the middle of a CSV log, as where a logger was started anew: the same again, or of other columns."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ingest import account as reasons
from ingest.account import SetAside
from ingest.column_names import with_unit_behind
from ingest.csv_dialect import Dialect, holds_names, speaks_of_columns, split_lines
from ingest.errors import BadLog
from ingest.units import Conversion, UnitError, to_unit

MOST_CHANGES = 1000
"""Changes of the columns within one file; a file with more is none that a logger wrote."""
_ROWS_BELOW = 2
"""Rows of units or remarks that may stand below the names."""
_SPLIT = "Split the file before this row; both parts together are read as one log."


@dataclass(frozen=True)
class Stretch:
    """Lines that have the same columns.

    number: of the first line. lines: how many. dialect: of these lines, if it is another than before, else None.
    found: header rows among them, which are left blank in `block`.
    """

    block: bytes
    number: int
    lines: int
    dialect: Dialect | None = None
    found: list[SetAside] = field(default_factory=list)


class HeadAgain:
    """Finds header rows in one reading of a file, from its first row of data on.

    lines: the first lines of the file. wanted: columns the line file names. units: of those, as the line file has them.
    names: columns that are read of this file. say: told where the columns change.
    """

    def __init__(
        self,
        file: str,
        dialect: Dialect,
        lines: Sequence[str],
        wanted: Sequence[str],
        units: Mapping[str, str],
        names: Sequence[str],
        say: Callable[[str], None],
    ) -> None:
        self._file, self._say, self._units, self._names = file, say, units, set(names)
        self._wanted = tuple(dict.fromkeys(wanted))
        head = lines[dialect.header_row - 1 : dialect.first_row - 1]
        self._head = {line.encode() for line in head if line.strip()}
        self._dialect = dialect
        self._width = len(split_lines(lines[dialect.header_row - 1 : dialect.header_row], dialect.delimiter)[0])
        self._said = {name: unit for name, unit in zip(dialect.names, dialect.units, strict=False) if unit}
        # A row with more than half of the names has one of any half.
        half = sorted(self._wanted, key=len, reverse=True)[: len(self._wanted) // 2 + 1]
        self._look, self._all = (header_pattern(some, dialect.delimiter) for some in (half, self._wanted))
        self._half = [name.encode() for name in half if name]
        self._below = 0
        self._changes = 0

    def passed(self) -> None:
        """Lines without any header row went by."""
        self._below = 0

    def stretches(self, block: bytes, number: int, lines: int) -> Iterator[Stretch]:
        """The block, cut where the columns change. number: of its first line.

        Raises BadLog where a column that is read changes its unit, where one comes up that this file did not have
        before and another file has, and beyond MOST_CHANGES.
        """
        places = deque(self._places(block))
        if self._below and (not places or places[0]):
            places.appendleft(0)
        if not places:
            yield Stretch(block, number, lines)
            return
        rows = block.split(b"\n")
        start, found, dialect = 0, list[SetAside](), None
        while places:
            i = places.popleft()
            plain = rows[i].rstrip(b"\r")
            changed = None
            if self._is_below(plain, number + i):
                pass
            elif plain in self._head:
                self._below = _ROWS_BELOW
            elif (changed := self._changed(plain, number + i)) is None:
                plain = b""
            elif changed.names != self._dialect.names:
                if i > start:
                    above = b"".join(row + b"\n" for row in rows[start:i])
                    yield Stretch(above, number + start, i - start, dialect, found)
                start, found, dialect = i, [], changed
            self._dialect = changed or self._dialect
            if plain.strip():
                found.append(self._aside(number + i, plain))
                rows[i] = b""
            if self._below and i + 1 < len(rows) and (not places or places[0] != i + 1):
                places.appendleft(i + 1)
        yield Stretch(b"\n".join(rows[start:]), number + start, lines - start, dialect, found)

    def _places(self, block: bytes) -> list[int]:
        """Lines that may be header rows, by their index."""
        places, line, at = list[int](), 0, 0
        # Rows of data hold none of the names, and to look for plain bytes takes a hundredth of the time.
        for match in self._look.finditer(block) if any(name in block for name in self._half) else ():
            line += block.count(b"\n", at, match.end() - 1)
            at = match.end() - 1
            if not places or places[-1] != line:
                places.append(line)
        here = {i for text in self._head for i in _lines_of(block, text)}
        return sorted({*places, *here}) if here else places

    def _is_below(self, plain: bytes, row: int) -> bool:
        """Whether this is a row of units or remarks below new names."""
        if not self._below or not plain.strip():
            return False
        fields = [text.strip() for text in split_lines([plain.decode(errors="replace")], self._dialect.delimiter)[0]]
        if speaks_of_columns(fields, self._dialect.names, self._wanted):
            self._below -= 1
            self._compare_units(dict(zip(self._dialect.names, fields, strict=False)), row)
            return True
        self._below = 0
        return False

    def _changed(self, plain: bytes, row: int) -> Dialect | None:
        """The dialect from this line on, if it is a header row."""
        least = len(set(self._wanted) & set(self._dialect.names)) // 2
        if len(set(self._all.findall(plain))) <= least:
            return None
        fields = [text.strip() for text in split_lines([plain.decode(errors="replace")], self._dialect.delimiter)[0]]
        names, behind = with_unit_behind(fields, self._wanted, self._units)
        there = set(names) & set(self._wanted)
        if len(there) <= least or not holds_names(fields):
            return None
        for name in there:
            if names.count(name) > 1:
                raise BadLog(self._file, "column is there twice from here on", row=row, column=name, hint=_SPLIT)
        new = there - self._names
        if new:
            raise BadLog(
                self._file, "from here on the log has this column too", row=row, column=sorted(new)[0], hint=_SPLIT
            )
        self._compare_units(behind, row)
        self._below = _ROWS_BELOW
        padding = len(self._dialect.names) - self._width
        self._width = len(names)
        names = (*names, *[""] * padding) if padding >= 0 else names[:padding]
        if names != self._dialect.names:
            self._changes += 1
            if self._changes > MOST_CHANGES:
                what = f"the columns change for the {MOST_CHANGES + 1}th time"
                raise BadLog(self._file, what, row=row, hint="Is the file damaged? Export the log again.")
            self._tell(names, row)
        self._head = {plain}
        return replace(self._dialect, names=names)

    def _tell(self, names: tuple[str, ...], row: int) -> None:
        before, now = ([name for name in some if name] for some in (self._dialect.names, names))
        new, gone = [name for name in now if name not in before], [name for name in before if name not in now]
        parts = [f"{_listed(new)} added" if new else "", f"{_listed(gone)} no more there" if gone else ""]
        if not new and not gone:
            parts = ["their order another"]
        told = " and ".join(part for part in parts if part)
        self._say(f"{self._file}, row {row}: another header row stands here, {told}; the rows below are read after it")

    def _compare_units(self, units: Mapping[str, str], row: int) -> None:
        for name in self._wanted:
            before, now = self._said.get(name, ""), units.get(name, "")
            if before and now and before != now and _differ(before, now):
                raise BadLog(
                    self._file,
                    f"from here on the unit is '{now}', before it is '{before}'",
                    row=row,
                    column=name,
                    hint="Split the file there, and read each part with a line file that has its unit.",
                )
            if now and not before:
                self._said[name] = now

    def _aside(self, row: int, plain: bytes) -> SetAside:
        return SetAside(self._file, row, reasons.HEADER_AGAIN, plain.decode(errors="replace"))


def header_pattern(names: Sequence[str], delimiter: str) -> re.Pattern[bytes]:
    """Finds places of a text in UTF-8 where a field starts with one of some names."""
    some = b"|".join(re.escape(name.encode()) for name in sorted(names, key=len, reverse=True) if name)
    mark = re.escape(delimiter.encode())
    return re.compile(rb'(?m)(?:^|["' + mark + rb"])[ ]*(" + (some or rb"(?!)") + rb")(?![0-9A-Za-z])")


def _lines_of(block: bytes, text: bytes) -> Iterator[int]:
    """Which lines of the block are this text, by their index."""
    line = counted = 0
    at = block.find(text)
    while at >= 0:
        start, end = block.rfind(b"\n", 0, at) + 1, block.find(b"\n", at)
        end = len(block) if end < 0 else end
        if block[start:end].rstrip(b"\r") == text:
            line, counted = line + block.count(b"\n", counted, start), start
            yield line
        at = block.find(text, end)


def _listed(names: Sequence[str]) -> str:
    listed = ", ".join(map(repr, names[:5])) + (f" and {len(names) - 5} more" if len(names) > 5 else "")
    return f"{listed} {'are' if len(names) > 1 else 'is'}"


def _differ(one: str, other: str) -> bool:
    """Whether two units make different numbers; remarks that are no units do not tell."""
    try:
        return to_unit(one, other) != Conversion(1.0, 0.0)
    except UnitError:
        return False
