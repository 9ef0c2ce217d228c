"""A text log as blocks of whole lines in UTF-8, whatever its encoding, plain or packed."""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ingest.errors import BadLog, NotThisLine
from ingest.log_file import ByteStream, LogFile
from ingest.quoted_with_apostrophes import quoted_with_apostrophes
from ingest.text_encoding import ONE_BYTE, encoding_of

HEAD_BYTES = 1 << 20
"""What is looked at from the start of a file."""
LONGEST_LINE = 1 << 20
"""Bytes; a line longer than this is no row of a log."""
LARGEST_FILE = 1 << 40
"""Bytes of text; 1 TB is some thousand line-years at one row a second and 64 channels."""

_MARK = codecs.BOM_UTF8
_STRETCH = 1 << 18
_AS_TABLE = "Open it in a spreadsheet program, save it as .xlsx or CSV and read that."
_NO_TEXT = (
    (b"SQLite format", "a database", "Export the table as CSV or Parquet and read that."),
    (b"%PDF", "a PDF document", "Export the log as CSV or Parquet."),
    (b"\x89PNG", "a picture", "Give the log itself."),
    (b"7z\xbc\xaf", "a 7z archive", "Unpack it and read what is inside."),
    (b"Rar!", "a rar archive", "Unpack it and read what is inside."),
    (b"\x04\x22\x4d\x18", "packed with lz4", "Unpack it, or pack it with gzip or zstd."),
    (b"<?xml", "an XML document", _AS_TABLE),
    (b"<html", "a web page", _AS_TABLE),
    (b"<HTML", "a web page", _AS_TABLE),
    (b"<!DOCTYPE", "a web page", _AS_TABLE),
    (b"<table", "a table of a web page", _AS_TABLE),
    (b"PK\x03\x04", "a workbook or zip archive", "Unpack it and read what is inside."),
)


@dataclass(frozen=True)
class TextForm:
    """How the bytes of a text log become lines.

    encoding: Python codec name. mark_bytes: length of a byte order mark to skip. kind: how it is packed, for people.
    seekable: bytes on the disk are those of the text.
    old_line_ends: lines end with a bare carriage return. mixed: some do.
    apostrophes: texts are quoted with them; they are turned to quotation marks.
    """

    encoding: str
    mark_bytes: int = 0
    kind: str = ""
    seekable: bool = True
    old_line_ends: bool = False
    mixed: bool = False
    apostrophes: bool = False

    @property
    def plain(self) -> bool:
        """Bytes of the file are bytes of its text, so one may start reading anywhere."""
        return (
            self.seekable
            and not (self.old_line_ends or self.mixed or self.apostrophes)
            and self.encoding in ("utf-8", *ONE_BYTE)
        )

    @property
    def name(self) -> str:
        """For people."""
        mark = " with mark" if self.mark_bytes else ""
        quoted = ", quoted with apostrophes" if self.apostrophes else ""
        return f"{self.encoding}{mark}{f', {self.kind}' if self.kind else ''}{quoted}"


def look_at_form(file: LogFile, wanted: Sequence[str] = ()) -> tuple[TextForm, bytes]:
    """The form of a text log and the first HEAD_BYTES of its text in UTF-8 (whole lines unless there is one only).

    wanted: names the line file gives, which may tell code pages apart. Raises BadLog.
    """
    path = file.name
    raw = file.open()
    try:
        head = _first(raw, HEAD_BYTES)
    finally:
        raw.close()
    whole = len(head) < HEAD_BYTES
    start = head[:1000].removeprefix(_MARK).lstrip()
    for magic, what, hint in _NO_TEXT:
        if start.startswith(magic):
            raise NotThisLine(path, f"is {what}, not a CSV or Parquet log", hint=hint)
    encoding, mark = encoding_of(head, whole, wanted)
    text = _decode(head[mark:], encoding).replace("\0", "").replace("\ufeff", "")
    if not text.strip():
        raise NotThisLine(path, "is empty", hint="Check the export: there is not one row in it.")
    controls = sum(text.count(chr(code)) for code in (*range(1, 9), *range(14, 27), *range(28, 32)))
    if controls > len(text) / 50:
        raise NotThisLine(path, "is not text", hint="Export the log as CSV or Parquet.")
    old = "\r" in text and "\n" not in text
    data = text.encode()
    mixed = not old and _bare_returns(data)
    data = _without_bare_returns(data)
    if not whole and b"\n" not in data and len(data) > LONGEST_LINE // 2:
        raise BadLog(path, "line is longer than 1 MB", row=1, hint="This is no log of rows and columns.")
    if not whole and b"\n" in data:
        data = data[: data.rindex(b"\n") + 1]
    apostrophes = quoted_with_apostrophes(data)
    data = data.replace(b"'", b'"') if apostrophes else data
    return TextForm(encoding, mark, file.kind, file.seekable, old, mixed, apostrophes), data


def line_blocks(
    file: LogFile, form: TextForm, block_bytes: int, say: Callable[[str], None]
) -> Iterator[tuple[bytes, int, int]]:
    """Blocks of whole lines in UTF-8, their number of lines, and how many bytes of the file they reach to.

    block_bytes: wanted size; a block holds at least one line. Only the last block may lack its line end.
    say: told of NUL bytes and byte order marks inside the text, which are left out: the first come from loggers
    that lost power, the second from files that were joined.
    Raises BadLog for a damaged file, a line beyond LONGEST_LINE, a text beyond LARGEST_FILE.
    """
    path = file.name
    line, total = 1, 0
    pending: list[bytes] = []
    pending_bytes = 0
    told: set[bytes] = set()
    raw = file.open()

    def without(data: bytes, what: bytes, words: str) -> bytes:
        if what not in told:
            told.add(what)
            row = line + data[: data.index(what)].count(b"\n")
            say(f"{path}: {words} are left out, the first on row {row}")
        return data.replace(what, b"")

    def tidy(block: bytes) -> bytes:
        if _MARK[:1] in block and _MARK in block:
            block = without(block, _MARK, "byte order marks inside the text")
        block = block.replace(b"'", b'"') if form.apostrophes else block
        return _without_bare_returns(block)

    try:
        for piece in _pieces(path, raw, form, block_bytes):
            total += len(piece)
            if b"\0" in piece:
                piece = without(piece, b"\0", "NUL bytes, which a logger that lost power leaves,")
            end = piece.rfind(b"\n") + 1
            if end:
                block = tidy(b"".join((*pending, memoryview(piece)[:end])))
                lines = line_count(block)
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
            block = tidy(b"".join(pending))
            if block:
                yield block, block.count(b"\n") + (not block.endswith(b"\n")), raw.tell()
    finally:
        raw.close()


def _first(raw: ByteStream, size: int) -> bytes:
    """The first bytes, however little a stream gives at once."""
    parts: list[bytes] = []
    left = size
    while left and (data := raw.read(left)):
        parts.append(data)
        left -= len(data)
    return b"".join(parts)


def _pieces(path: str, raw: ByteStream, form: TextForm, size: int) -> Iterator[bytes]:
    """The text in UTF-8, cut anywhere between characters."""
    decoder = None if form.encoding == "utf-8" else codecs.getincrementaldecoder(form.encoding)(errors="replace")
    try:
        _first(raw, form.mark_bytes)
        while data := raw.read(size):
            piece = data if decoder is None else decoder.decode(data).encode(errors="replace")
            yield piece.replace(b"\r", b"\n") if form.old_line_ends else piece
        if decoder is not None and (rest := decoder.decode(b"", final=True)):
            yield rest.encode(errors="replace")
    except OSError as error:
        raise BadLog(path, f"cannot be read to its end: {error.strerror or error}") from None


def line_count(data: bytes) -> int:
    """How many line ends; with numpy, for which many hits cost no more than few, piece by piece for the cache."""
    letters = np.frombuffer(data, np.uint8)
    return sum(
        int(np.count_nonzero(letters[start : start + _STRETCH] == 10)) for start in range(0, len(letters), _STRETCH)
    )


def _bare_returns(data: bytes) -> bool:
    if b"\r" not in data:
        return False
    returns = data.count(b"\r")
    return returns > 0 and returns != data.count(b"\r\n")


def _without_bare_returns(data: bytes) -> bytes:
    """Every line ends with a line feed, as the CSV parser too takes a bare carriage return for a line end."""
    return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if _bare_returns(data) else data


def _decode(data: bytes, encoding: str) -> str:
    return codecs.getincrementaldecoder(encoding)(errors="replace").decode(data)
