"""Tables set down in a temporary file and read back in any order, so that a long log need not be in memory."""

from __future__ import annotations

import shutil
import tempfile
import weakref

import pyarrow as pa

from ingest.errors import BadLog

LEAST_FREE = 1 << 30
"""Bytes of the disk that are left alone."""


class Spill:
    """Tables in one temporary file, which goes when this does. Raises BadLog where the disk has no room."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._file = tempfile.TemporaryFile(prefix="log_")  # noqa: SIM115  (closed with this object)
        weakref.finalize(self, self._file.close)
        self._places: list[tuple[int, int]] = []
        self._end = 0

    def __len__(self) -> int:
        return len(self._places)

    def write(self, table: pa.Table) -> int:
        """Sets a table down and returns its number."""
        sink = pa.BufferOutputStream()
        with pa.ipc.new_stream(sink, table.schema, options=pa.ipc.IpcWriteOptions(compression="lz4")) as writer:
            writer.write_table(table)
        data = sink.getvalue()
        if shutil.disk_usage(tempfile.gettempdir()).free < LEAST_FREE + data.size:
            raise self._full()
        try:
            self._file.seek(self._end)
            self._file.write(data)
        except OSError:
            raise self._full() from None
        self._places.append((self._end, data.size))
        self._end += data.size
        return len(self._places) - 1

    def read(self, number: int) -> pa.Table:
        """The table of that number."""
        start, size = self._places[number]
        self._file.seek(start)
        with pa.ipc.open_stream(pa.py_buffer(self._file.read(size))) as reader:
            return reader.read_all()

    def _full(self) -> BadLog:
        return BadLog(
            self._name,
            f"is not in order of time, and the disk has no room for sorting it ({self._end / 1e9:.1f} GB were written)",
            hint="Sort it by time, oldest row first, and read it again; or set TMPDIR to a folder on a larger disk.",
        )


def plain_types(table: pa.Table) -> pa.Table:
    """The table without dictionaries, whose entries would differ from part to part."""
    for i, field in enumerate(table.schema):
        if pa.types.is_dictionary(field.type):
            table = table.set_column(i, field.name, table.column(i).cast(field.type.value_type))
    return table
