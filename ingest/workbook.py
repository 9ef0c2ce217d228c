"""The sheets of a workbook (Office Open XML, ECMA-376), each as text with tabs: one line a row, read as it streams.

Workbooks of other kinds do not stream; `other_workbook` reads them.
"""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ingest.errors import BadLog
from ingest.log_file import LogFile
from ingest.sheet_lines import sheet_lines
from ingest.unpacking import FREE_BYTES, MOST_TIMES

MOST_ROWS, MOST_COLUMNS = 1_048_576, 16_384
"""Of a sheet, as the format has it."""
LARGEST_TEXTS = 1 << 29
"""Bytes; the texts of all sheets are kept together in the file and must be in memory to read any."""

_KINDS = {"xl/workbook.xml": "xlsx", "xl/workbook.bin": "xlsb", "content.xml": "ods"}


def workbook_kind(path: Path) -> str:
    """What kind of workbook a zip file is: 'xlsx', 'xlsb', 'ods', or '' for none. Raises BadLog."""
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise BadLog(
            path,
            "is no whole workbook or zip archive; it is cut off or damaged",
            hint="Copy it again from where it was made.",
        ) from None
    return next((kind for part, kind in _KINDS.items() if part in names), "")


def workbook_sheets(file: LogFile) -> list[LogFile]:
    """The sheets of a workbook in their order; charts left out. Raises BadLog."""
    refuse_bombs(file)
    opened = _Book(file)
    try:
        titles = [sheet.title for sheet in opened.book.worksheets]
    finally:
        opened.close()
    share = file.size_bytes // max(1, len(titles))
    return [
        LogFile(
            file.path,
            share,
            inside=f"{file.inside}: sheet {title}" if file.inside else f"sheet {title}",
            kind="workbook",
            opener=lambda title=title: SheetText(file, title, share),
            constants=file.constants,
            keep=file.keep,
        )
        for title in titles
    ]


def refuse_bombs(file: LogFile) -> None:
    """Raises BadLog for a zipped workbook with a part that unpacks out of all proportion."""
    with zipfile.ZipFile(file.on_disk) as archive:
        for info in archive.infolist():
            too_much = info.file_size > FREE_BYTES and info.file_size > MOST_TIMES["zip"] * max(1, info.compress_size)
            if too_much or (
                info.filename.endswith(("sharedStrings.xml", "sharedStrings.bin")) and info.file_size > LARGEST_TEXTS
            ):
                raise BadLog(
                    file.name,
                    f"its part {info.filename} unpacks to {info.file_size / 1e6:.0f} MB, which no log does",
                    hint="Have the log exported again, as CSV or Parquet if it is long.",
                )


class _Book:
    """A workbook, opened for one reading. Raises BadLog."""

    def __init__(self, file: LogFile) -> None:
        from openpyxl import load_workbook

        self._raw = file.on_disk.open("rb")  # given a path, the library would go by its ending
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # of styles and extensions that do not matter here
                self.book: Any = load_workbook(self._raw, read_only=True, data_only=True, keep_links=False)
        except Exception as error:  # the library lets everything out that a damaged part can cause
            self._raw.close()
            raise damaged_workbook(file.name, error) from None

    def close(self) -> None:
        """Gives the file back."""
        self.book.close()
        self._raw.close()


def damaged_workbook(name: str, error: Exception) -> BadLog:
    """The error for what a library could not read."""
    return BadLog(
        name,
        f"workbook is damaged ({str(error)[:80] or type(error).__name__})",
        hint="Save it again as .xlsx, or as CSV, and read that.",
    )


class SheetText:
    """One sheet as UTF-8 text, its cells between tabs; row numbers are those of the sheet.

    Dates are written like 2026-03-06 10:52:30.125. Where all dates of a column are whole days, as they are beside a
    column of times of day, the time of day is left out.
    """

    def __init__(self, file: LogFile, title: str, share: int) -> None:
        self._file, self._share = file, share
        self._opened = _Book(file)
        sheet = self._opened.book[title]
        self._most = max(1, min(sheet.max_row or MOST_ROWS, MOST_ROWS))
        self._row = 0
        self._lines = self._text(sheet)
        self._rest = b""

    def read(self, size: int = -1, /) -> bytes:
        """Up to `size` bytes, or a few more lines where `size` is negative."""
        size = size if size >= 0 else FREE_BYTES
        parts, length = [self._rest], len(self._rest)
        while length < size and (line := next(self._lines, None)) is not None:
            parts.append(line)
            length += len(line)
        data = b"".join(parts)
        self._rest = data[size:]
        return data[:size]

    def tell(self) -> int:
        """An estimate of the bytes on the disk that this took."""
        return int(self._share * min(1.0, self._row / self._most))

    def close(self) -> None:
        """Gives the workbook back."""
        self._opened.close()

    def _text(self, sheet: Any) -> Iterator[bytes]:
        return sheet_lines(self._rows(sheet))

    def _rows(self, sheet: Any) -> Iterator[list[object]]:
        wide = sheet.max_column
        # Without a stated size the library takes as many columns as a row says it has, however many.
        most = MOST_COLUMNS if wide is None or wide > MOST_COLUMNS else wide
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                for values in sheet.iter_rows(max_row=MOST_ROWS, max_col=most, values_only=True):
                    self._row += 1
                    if self._row > self._most and all(value is None for value in values):
                        return  # rows that are only said to be there
                    row = list(values)
                    while row and row[-1] is None:
                        row.pop()
                    yield row
        except Exception as error:  # as above
            raise damaged_workbook(self._file.name, error) from None
