"""A text log as blocks of whole lines in UTF-8, whatever its encoding, plain or gzipped."""

from __future__ import annotations

import codecs
import gzip
import io
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from ingest.errors import BadLog

HEAD_BYTES = 1 << 20
"""What is looked at from the start of a file."""
LONGEST_LINE = 1 << 20
"""Bytes; a line longer than this is no row of a log."""
LARGEST_FILE = 1 << 40
"""Bytes of text; 1 TB is some thousand line-years at one row a second and 64 channels."""

_GZIP = b"\x1f\x8b"
_NO_TEXT = (
    (b"PK\x03\x04", "a workbook or zip archive", "Save the sheet as CSV, or unpack the archive, and read that."),
    (b"\xd0\xcf\x11\xe0", "an old workbook", "Save the sheet as CSV and read that."),
    (b"SQLite format", "a database", "Export the table as CSV or Parquet and read that."),
    (b"%PDF", "a PDF document", "Export the log as CSV or Parquet."),
    (b"\x89PNG", "a picture", "Give the log itself."),
    (b"BZh", "compressed with bzip2", "Unpack it, or compress it with gzip."),
    (b"\xfd7zXZ", "compressed with xz", "Unpack it, or compress it with gzip."),
    (b"7z\xbc\xaf", "a 7z archive", "Unpack it and read what is inside."),
    (b"\x28\xb5\x2f\xfd", "compressed with zstd", "Unpack it, or compress it with gzip."),
)


@dataclass(frozen=True)
class TextForm:
    """How the bytes of a text log become lines.

    encoding: Python codec name. mark_bytes: length of a byte order mark to skip.
    old_line_ends: lines end with a bare carriage return. mixed: some do.
    """

    encoding: str
    mark_bytes: int = 0
    gzipped: bool = False
    old_line_ends: bool = False
    mixed: bool = False

    @property
    def plain(self) -> bool:
        """Bytes of the file are bytes of its text, so one may start reading anywhere."""
        return not (self.gzipped or self.old_line_ends or self.mixed) and self.encoding in ("utf-8", "cp1252")

    @property
    def name(self) -> str:
        """For people."""
        mark = " with mark" if self.mark_bytes else ""
        return f"{self.encoding}{mark}{', gzip' if self.gzipped else ''}"


def open_bytes(path: Path) -> BinaryIO:
    """The file opened for reading; raises BadLog when that is not possible."""
    try:
        if path.is_dir():
            raise BadLog(path, "is a folder, not a log", hint="Give the log files themselves.")
        return path.open("rb")
    except FileNotFoundError:
        raise BadLog(path, "does not exist", hint="Check the name and the folder.") from None
    except OSError as error:
        raise BadLog(path, f"cannot be opened: {error.strerror}", hint="Check the rights on the file.") from None


def look_at_form(path: Path) -> tuple[TextForm, bytes]:
    """The form of a text log and the first HEAD_BYTES of its text in UTF-8 (whole lines unless there is one only)."""
    with open_bytes(path) as raw:
        gzipped = raw.read(2) == _GZIP
        raw.seek(0)
        try:
            head = (gzip.GzipFile(fileobj=raw) if gzipped else raw).read(HEAD_BYTES)
        except (EOFError, OSError, zlib.error):
            raise BadLog(path, "is a damaged gzip file", hint="Copy it again from where it was made.") from None
        whole = len(head) < HEAD_BYTES
    for magic, what, hint in _NO_TEXT:
        if head.startswith(magic):
            raise BadLog(path, f"is {what}, not a CSV or Parquet log", hint=hint)
    encoding, mark = _encoding_of(head, whole)
    text = _decode(head[mark:], encoding)
    if not text.strip():
        raise BadLog(path, "is empty", hint="Check the export: there is not one row in it.")
    controls = sum(text.count(chr(code)) for code in (*range(1, 9), *range(14, 27), *range(28, 32)))
    if controls > len(text) / 50:
        raise BadLog(path, "is not text", hint="Export the log as CSV or Parquet.")
    old = "\r" in text and "\n" not in text
    data = text.encode()
    mixed = not old and _bare_returns(data)
    data = _without_bare_returns(data)
    if not whole and b"\n" in data:
        data = data[: data.rindex(b"\n") + 1]
    return TextForm(encoding, mark, gzipped, old, mixed), data


def line_blocks(path: Path, form: TextForm, block_bytes: int) -> Iterator[tuple[bytes, int, int]]:
    """Blocks of whole lines in UTF-8, their number of lines, and how many bytes of the file they reach to.

    block_bytes: wanted size; a block holds at least one line. Only the last block may lack its line end.
    Raises BadLog for a damaged gzip file, a line beyond LONGEST_LINE, a text beyond LARGEST_FILE.
    """
    line, total = 1, 0
    pending: list[bytes] = []
    pending_bytes = 0
    with open_bytes(path) as raw:
        for piece in _pieces(path, raw, form, block_bytes):
            total += len(piece)
            end = piece.rfind(b"\n") + 1
            if end:
                block = _without_bare_returns(b"".join((*pending, piece[:end])))
                lines = block.count(b"\n")
                yield block, lines, raw.tell()
                line += lines
                piece = piece[end:]
                pending, pending_bytes = [], 0
            if piece:
                pending.append(piece)
                pending_bytes += len(piece)
            if pending_bytes > LONGEST_LINE:
                raise BadLog(path, "line is longer than 1 MB", row=line, hint="This is no log of rows and columns.")
            if total > LARGEST_FILE:
                raise BadLog(path, "holds more than 1 TB of text", row=line, hint="Split the log into smaller files.")
        if pending:
            block = _without_bare_returns(b"".join(pending))
            yield block, block.count(b"\n") + (not block.endswith(b"\n")), raw.tell()


def _pieces(path: Path, raw: BinaryIO, form: TextForm, size: int) -> Iterator[bytes]:
    """The text in UTF-8, cut anywhere between characters."""
    stream = io.BufferedReader(gzip.GzipFile(fileobj=raw)) if form.gzipped else raw  # type: ignore[arg-type]
    decoder = None if form.encoding == "utf-8" else codecs.getincrementaldecoder(form.encoding)(errors="replace")
    try:
        stream.read(form.mark_bytes)
        while data := stream.read(size):
            piece = data if decoder is None else decoder.decode(data).encode()
            yield piece.replace(b"\r", b"\n") if form.old_line_ends else piece
        if decoder is not None and (rest := decoder.decode(b"", final=True)):
            yield rest.encode()
    except (EOFError, zlib.error, gzip.BadGzipFile):
        raise BadLog(path, "gzip file is cut off or damaged", hint="Copy it again from where it was made.") from None
    except OSError as error:
        raise BadLog(path, f"cannot be read to its end: {error.strerror or error}") from None


def _bare_returns(data: bytes) -> bool:
    returns = data.count(b"\r")
    return returns > 0 and returns != data.count(b"\r\n")


def _without_bare_returns(data: bytes) -> bytes:
    """Every line ends with a line feed, as the CSV parser too takes a bare carriage return for a line end."""
    return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if _bare_returns(data) else data


def _encoding_of(head: bytes, whole: bool) -> tuple[str, int]:
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8", 3
    if head.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le", 2
    if head.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be", 2
    sample = head[:4096]
    # Without a mark, Latin text in UTF-16 still shows itself by a zero in every other byte.
    if sample[1::2].count(0) > 0.4 * len(sample[1::2]):
        return "utf-16-le", 0
    if sample[::2].count(0) > 0.4 * len(sample[::2]):
        return "utf-16-be", 0
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head, final=whole)
    except UnicodeDecodeError:
        return "cp1252", 0
    return "utf-8", 0


def _decode(data: bytes, encoding: str) -> str:
    return codecs.getincrementaldecoder(encoding)(errors="replace").decode(data)
