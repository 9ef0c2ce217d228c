"""The logs in a zip archive, each as a file of its own."""

from __future__ import annotations

import shutil
import tempfile
import weakref
import zipfile
from pathlib import Path
from typing import BinaryIO, cast

from ingest.errors import BadLog
from ingest.log_file import LogFile
from ingest.unpacking import DAMAGED, PACKINGS, Unpacked

MAGIC = b"PK\x03\x04"
OLD_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""Of a compound file (MS-CFB), in which workbooks were kept before 2007 and those with a password are still."""
MOST_MEMBERS = 10_000
LARGEST_COPY = 1 << 33
"""Bytes; a Parquet file or workbook inside an archive is copied out to be read, a text is not."""

_LEFT_OUT = ("__MACOSX/", ".")
_PIECE = 1 << 22


def zip_members(path: Path) -> list[LogFile]:
    """Members of an archive in the order of their names; folders, hidden and empty ones left out.

    Raises BadLog for a damaged archive, one within another, too many members, members that overlap (their bytes
    are counted several times, which is how a small archive unpacks to a huge one), and a password.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            infos = [info for info in archive.infolist() if info.filename and not info.is_dir() and info.file_size]
            if len(infos) > MOST_MEMBERS:
                raise BadLog(path, f"holds more than {MOST_MEMBERS} files", hint="Unpack it and read the folder.")
            if sum(info.compress_size for info in infos) > path.stat().st_size:
                raise BadLog(path, "holds members that overlap, which no honest archive does")
            kept = [info for info in infos if not _left_out(info.filename)]
            members = [_member(path, archive, info) for info in sorted(kept, key=lambda info: info.filename)]
    except (zipfile.BadZipFile, OSError, NotImplementedError, ValueError):
        raise BadLog(path, "zip file is cut off or damaged", hint="Copy it again from where it was made.") from None
    if not members:
        raise BadLog(path, "is empty", hint="Check the export: there is no log in the archive.")
    return members


def _left_out(name: str) -> bool:
    return name.startswith(_LEFT_OUT[0]) or Path(name).name.startswith(_LEFT_OUT[1])


def _member(path: Path, archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> LogFile:
    name = f"{path}: {info.filename}"
    if info.flag_bits & 1:
        raise BadLog(name, "is protected by a password", hint="Unpack it and read what is inside.")
    try:
        with archive.open(info) as file:
            start = file.read(8)
    except (*DAMAGED, NotImplementedError, RuntimeError, ValueError):
        raise BadLog(name, "zip file is cut off or damaged", hint="Copy it again from where it was made.") from None

    def opened() -> Unpacked:
        # Each reading opens the archive anew, so that many members do not hold many files open.
        return _Member(path, info, name)

    if start.startswith((MAGIC, OLD_MAGIC, b"PAR1")):
        return _copied(path, info, name, start.startswith(MAGIC))
    if any(start.startswith(magic) for magic in PACKINGS.values()):
        raise BadLog(name, "is packed twice", hint="Unpack the archive and read what is inside.")
    return LogFile(path, info.compress_size, inside=info.filename, kind="zip", opener=opened)


class _Member(Unpacked):
    """Bytes of one member."""

    def __init__(self, path: Path, info: zipfile.ZipInfo, name: str) -> None:
        self._archive = zipfile.ZipFile(path)
        super().__init__(name, cast(BinaryIO, self._archive.open(info)), "zip", info.compress_size)

    def close(self) -> None:
        """Gives member and archive back."""
        super().close()
        self._archive.close()


class TemporaryFolder:
    """A temporary folder that goes when this does."""

    def __init__(self) -> None:
        self.path = Path(tempfile.mkdtemp(prefix="log_"))
        weakref.finalize(self, shutil.rmtree, self.path, ignore_errors=True)


def _copied(path: Path, info: zipfile.ZipInfo, name: str, zipped: bool) -> LogFile:
    """A member that must be a file of its own to be read: a Parquet file, or a workbook."""
    folder = TemporaryFolder()
    copy = folder.path / ("member.xlsx" if zipped else "member")  # the workbook reader looks at the ending
    free = shutil.disk_usage(folder.path).free
    if info.file_size > min(LARGEST_COPY, free // 2):
        raise BadLog(name, f"takes {info.file_size / 1e9:.1f} GB to copy out", hint="Unpack the archive first.")
    member = _Member(path, info, name)
    try:
        with copy.open("wb") as file:
            while data := member.read(_PIECE):
                file.write(data)
    finally:
        member.close()
    if zipped:
        from ingest.workbook import workbook_kind

        if not workbook_kind(copy):
            raise BadLog(name, "is an archive inside an archive", hint="Unpack the outer one and read what is inside.")
    return LogFile(path, info.compress_size, inside=info.filename, kind="zip", keep=folder, copy=copy)
