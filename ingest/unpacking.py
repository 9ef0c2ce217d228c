"""Packed bytes as a stream that never grows beyond what a log could honestly unpack to."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import zipfile
import zlib
from typing import BinaryIO, cast

import pyarrow as pa

from ingest.errors import BadLog

PACKINGS = {"gzip": b"\x1f\x8b", "zstd": b"\x28\xb5\x2f\xfd", "bzip2": b"BZh", "xz": b"\xfd7zXZ\x00"}
"""Ways to pack one file, and how such files start (RFC 1952, RFC 8878, and the formats' own descriptions)."""

FREE_BYTES = 1 << 26
"""So much may come out of any file, however small it is."""
MOST_TIMES = {"gzip": 600, "zip": 600, "zstd": 2000, "bzip2": 3000, "xz": 2000}
"""Beyond FREE_BYTES, how many bytes may come out of one byte. The dullest log there can be, 64 constant channels at
one row a second, gives 127 with gzip, 377 with zstd and 580 with bzip2 (measured); DEFLATE cannot give more than
1032 (zlib's technical notes), the others hardly know a bound."""

DAMAGED = (EOFError, OSError, zlib.error, lzma.LZMAError, zipfile.BadZipFile, pa.ArrowException)
"""What reading damaged bytes raises."""


class Unpacked:
    """Bytes out of a packed file. Raises BadLog for a damaged file, and for one that unpacks out of all proportion.

    name: for messages. raw: the packed bytes. packed: a key of PACKINGS, or 'zip' for bytes unpacked already.
    packed_bytes: size of the packed bytes where `raw` cannot tell how far it is.
    """

    def __init__(self, name: str, raw: BinaryIO, packed: str, packed_bytes: int | None = None) -> None:
        self._name, self._raw, self._packed, self._packed_bytes = name, raw, packed, packed_bytes
        self._out = 0
        try:
            self._stream = _stream(raw, packed)
        except DAMAGED:
            raise self._damaged() from None

    def read(self, size: int = -1, /) -> bytes:
        """Up to `size` bytes; the whole rest is never read at once."""
        try:
            data = self._stream.read(size if size >= 0 else FREE_BYTES)
        except RuntimeError:
            raise BadLog(self._name, "is protected by a password", hint="Unpack it and read what is inside.") from None
        except (*DAMAGED, NotImplementedError):
            raise self._damaged() from None
        self._out += len(data)
        packed = self._packed_bytes if self._packed_bytes is not None else self._raw.tell()
        most = MOST_TIMES[self._packed]
        if self._out > FREE_BYTES and self._out > most * max(1, packed):
            raise BadLog(
                self._name,
                f"unpacks to more than {most} times its size, which no log does",
                hint="It is damaged or made to fill the memory; have the log exported again.",
            )
        return data

    def tell(self) -> int:
        """Packed bytes read so far, or an estimate of them."""
        return self._raw.tell() if self._packed_bytes is None else min(self._out, self._packed_bytes)

    def close(self) -> None:
        """Gives the file back."""
        self._stream.close()
        self._raw.close()

    def _damaged(self) -> BadLog:
        return BadLog(
            self._name,
            f"{self._packed} file is cut off or damaged",
            hint="Copy it again from where it was made.",
        )


def _stream(raw: BinaryIO, packed: str) -> BinaryIO:
    if packed == "gzip":
        return cast(BinaryIO, io.BufferedReader(gzip.GzipFile(fileobj=raw)))  # type: ignore[arg-type]
    if packed == "zstd":
        return cast(BinaryIO, pa.CompressedInputStream(pa.PythonFile(raw, mode="r"), "zstd"))
    if packed == "bzip2":
        return cast(BinaryIO, bz2.BZ2File(raw))
    if packed == "xz":
        return cast(BinaryIO, lzma.LZMAFile(raw))
    return raw
