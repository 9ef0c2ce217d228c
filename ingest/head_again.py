"""Header rows that stand again in the middle of a CSV log, as where a logger was started anew."""

from __future__ import annotations

from collections.abc import Sequence

from ingest import account as reasons
from ingest.account import SetAside
from ingest.csv_dialect import Dialect, split_lines
from ingest.errors import BadLog


class HeadAgain:
    """Finds the header row of a file, and the rows of units below it, where they come again.

    lines: the first lines of the file. wanted: columns the line file names.
    """

    def __init__(self, file: str, dialect: Dialect, lines: Sequence[str], wanted: Sequence[str]) -> None:
        self._file, self._dialect = file, dialect
        self._wanted = set(wanted) & set(dialect.names)
        head = lines[dialect.header_row - 1 : dialect.first_row - 1]
        self._head = tuple(line.encode() for line in head if line.strip())
        mark = dialect.delimiter.encode()
        first = self._head[0].split(mark, 1)[0] if self._head else b""
        self._start = first + mark

    def take_out(self, block: bytes, number: int) -> tuple[bytes, list[SetAside]]:
        """The block with such rows left blank, and those rows. number: of the first line of the block.

        Raises BadLog where a header comes that has the wanted columns in other places.
        """
        if not any(needle in block for needle in (self._start, *self._head[1:])):
            return block, []
        lines, found = block.split(b"\n"), list[SetAside]()
        for i, line in enumerate(lines):
            plain = line.rstrip(b"\r")
            if plain in self._head:
                found.append(SetAside(self._file, number + i, reasons.HEADER_AGAIN, plain.decode(errors="replace")))
                lines[i] = b""
            elif self._start and plain.startswith(self._start):
                self._refuse_other(plain.decode(errors="replace"), number + i)
        return (b"\n".join(lines) if found else block), found

    def _refuse_other(self, line: str, row: int) -> None:
        names = {name.strip() for name in split_lines([line], self._dialect.delimiter)[0]}
        if len(self._wanted & names) > len(self._wanted) / 2:
            raise BadLog(
                self._file,
                f"from here on the log has other columns ('{line[:60]}')",
                row=row,
                hint="Split the file before this row; both parts together are read as one log.",
            )
