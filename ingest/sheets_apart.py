"""The work of the process that `other_workbook` starts: every sheet of one workbook as a text file.

Imports little, as it is started for every workbook.
"""

from __future__ import annotations

import datetime as dt
import json
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ingest.sheet_lines import sheet_lines

FREE_MEMORY, MEMORY_A_BYTE, MOST_MEMORY = 256 << 20, 400, 1 << 30
"""Bytes for any workbook, more for every byte of it, and at most. A cell takes some hundred bytes, in a file hardly
less than one; an old sheet of 65,536 rows and 60 columns takes half of the most. More than a file can hold would only
cost time where a damaged one says that it is large."""
MOST_TEXT = 2 << 30
"""Bytes of all sheets."""

_WHOLE = 1e16


def main(path: str, folder: str, *endings: str) -> None:
    """Writes sheet after sheet into `folder`, called '0', '1', ..., and says on stdout how that ended, in JSON.

    endings: what the file may be, '.xls', '.ods' and so on; each is tried until one can be read.
    """
    _bound_memory(Path(path).stat().st_size)
    said: dict[str, object] = {}
    for ending in endings:
        found = _said(Path(path), Path(folder), ending)
        if not said or "titles" in found or "password" in found:
            said = found
        if "damaged" not in found:
            break
    json.dump(said, sys.stdout)


def _said(path: Path, folder: Path, ending: str) -> dict[str, object]:
    try:
        return {"titles": _write(_under_name(path, folder / f"workbook{ending}"), folder)}
    except (KeyboardInterrupt, SystemExit):
        raise
    except MemoryError:
        return {"memory": True}
    except BaseException as error:  # the library lets panics of its own out, which are no Exception
        kind, text = type(error).__name__, str(error)
        if kind == "PasswordError":
            return {"password": True}
        return {"memory": True} if "limit exceeded" in text else {"damaged": text[:80] or kind}


def _under_name(path: Path, name: Path) -> Path:
    """The library goes by the ending; told none it tries all kinds and does not say why none could be read."""
    try:
        name.symlink_to(path.resolve())
    except OSError:  # not for everybody on every system
        shutil.copyfile(path, name)
    return name


def _bound_memory(size: int) -> None:
    try:
        import resource
    except ImportError:  # not on this system
        return
    hard, most = resource.getrlimit(resource.RLIMIT_AS)[1], min(MOST_MEMORY, FREE_MEMORY + MEMORY_A_BYTE * size)
    if hard == resource.RLIM_INFINITY or hard > most:
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _write(path: Path, folder: Path) -> list[str]:
    from python_calamine import CalamineWorkbook, SheetTypeEnum

    titles, left = list[str](), MOST_TEXT
    book = CalamineWorkbook.from_path(path)
    for sheet in book.sheets_metadata:
        if sheet.typ != SheetTypeEnum.WorkSheet:
            continue
        with (folder / str(len(titles))).open("wb") as text:
            for line in sheet_lines(_rows(book.get_sheet_by_name(sheet.name))):
                left -= text.write(line)
                if left < 0:
                    raise MemoryError
        titles.append(sheet.name)
    return titles


def _rows(sheet: Any) -> Iterator[list[object]]:
    """Rows and cells from the first of the sheet on, so that they have the numbers that a person sees."""
    if sheet.start is None:
        return
    left: list[object] = [None] * sheet.start[1]  # the library leaves out empty columns, but not empty rows
    for values in sheet.iter_rows():
        row = [*left, *map(_cell, values)]
        while row and row[-1] is None:
            row.pop()
        yield row


def _cell(value: object) -> object:
    """As the reader of the other kind of workbook has it."""
    if value == "":
        return None
    if isinstance(value, float) and value.is_integer() and abs(value) < _WHOLE:
        return int(value)  # which the format does not tell from a fraction, as a person does: lot 4417
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return dt.datetime.combine(value, dt.time())
    return value
