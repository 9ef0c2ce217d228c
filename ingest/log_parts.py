"""What a person gives as a log, a file, an archive, a workbook or a folder, as the single files it holds."""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import unquote

from ingest.errors import BadLog
from ingest.log_file import LogFile, file_at, open_bytes
from ingest.other_workbook import other_sheets
from ingest.workbook import workbook_kind, workbook_sheets
from ingest.zip_members import MAGIC, OLD_MAGIC, zip_members

MOST_FILES = 50_000
"""Files in a folder; an hour each, six years."""

_TEXTS, _OTHERS = (
    (".csv", ".txt", ".tsv", ".log", ".dat"),
    (".parquet", ".pq", ".xlsx", ".xlsm", ".xlsb", ".xls", ".ods", ".zip"),
)
SUFFIXES = (*_TEXTS, *_OTHERS, ".gz", ".zst", ".bz2", ".xz")
"""Endings of files that are read when a folder is given."""


def log_parts(path: Path) -> list[LogFile]:
    """The files of a log in the order of their names. Raises BadLog.

    A folder is read with all folders in it; a folder called `key=value`, as partitioned data sets have them, gives
    its files a column. Files and folders whose name starts with a point or an underscore are left out.
    """
    if not path.is_dir():
        return _parts_of(path, {})
    files: list[LogFile] = []
    for place, folders, names in os.walk(path):
        folders[:] = sorted(name for name in folders if name[0] not in "._")
        here = Path(place)
        constants = _partitions(here.relative_to(path))
        for name in sorted(names):
            if name[0] not in "._" and name.casefold().endswith(SUFFIXES):
                files += _parts_of(here / name, constants)
        if len(files) > MOST_FILES:
            raise BadLog(path, f"is a folder with more than {MOST_FILES} files", hint="Give a part of it.")
    if not files:
        raise BadLog(
            path,
            "is a folder without a log in it",
            hint=f"Logs end with {', '.join(SUFFIXES)}; give the files themselves.",
        )
    return files


def _parts_of(path: Path, constants: dict[str, str]) -> list[LogFile]:
    with open_bytes(path) as raw:
        start = raw.read(len(OLD_MAGIC))
    if not start.startswith((MAGIC, OLD_MAGIC)):
        return [file_at(path, constants)]
    if kind := _kind(path):
        return _sheets(LogFile(path, path.stat().st_size, constants=constants), kind)
    parts = []
    for member in zip_members(path):
        copied = member.copy is not None and not _starts_with(member.copy, b"PAR1")
        parts += _sheets(member, _kind(member.on_disk)) if copied else [member]
    return parts


def _kind(path: Path) -> str:
    return "xls" if _starts_with(path, OLD_MAGIC) else workbook_kind(path)


def _sheets(file: LogFile, kind: str) -> list[LogFile]:
    return workbook_sheets(file) if kind == "xlsx" else other_sheets(file, kind)


def _starts_with(path: Path, magic: bytes) -> bool:
    with path.open("rb") as file:
        return file.read(len(magic)) == magic


def _partitions(folder: Path) -> dict[str, str]:
    pairs = (part.split("=", 1) for part in folder.parts if "=" in part)
    return {unquote(name): unquote(text) for name, text in pairs}
