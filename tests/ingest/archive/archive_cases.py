"""Blocks to be kept, and what an archive must then hold, worked out cell by cell."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np

from ingest.account import ReadingAccount
from ingest.archive.archive_writer import ArchiveWriter
from ingest.archive.import_log import ImportReport, import_log
from ingest.archive.place import open_place
from ingest.block import NONE, Block
from ingest.mapping import LogMapping

SECOND = 10**9
MINUTE, HOUR, DAY = 60 * SECOND, 3600 * SECOND, 86_400 * SECOND
LINE = "L1"


def keep(archive: Path, blocks: Iterable[Block], number: str = "one") -> ArchiveWriter:
    """Blocks into an archive without a log."""
    writer = ArchiveWriter(open_place(str(archive)), LINE, lambda: number)
    for block in blocks:
        writer.add(block)
    writer.close()
    return writer


def bring(archive: Path, *paths: Path, mapping: LogMapping, **options: object) -> ImportReport:
    """Files of a log into an archive."""
    return import_log(list(paths), mapping, str(archive), account=ReadingAccount(), **options)  # type: ignore[arg-type]


def bits(value: float) -> bytes:
    """The bits of a value; all NaN are one."""
    return b"none" if np.isnan(value) else struct.pack("<d", value)


def cells(blocks: Iterable[Block]) -> dict[tuple[str, int], tuple[bytes, int]]:
    """(channel, start of the cell) -> (bits, status), of all cells, empty ones too."""
    found = {}
    for block in blocks:
        for key, values, status in zip(block.channels, block.values, block.status, strict=True):
            for i in range(block.n):
                found[key, block.t0 + i * block.step] = (bits(values[i]), int(status[i]))
    return found


def filled(blocks: Iterable[Block]) -> dict[tuple[str, int], tuple[bytes, int]]:
    """As `cells`, without empty ones."""
    return {place: cell for place, cell in cells(blocks).items() if cell[1] & 3 != NONE}


def notes(blocks: Iterable[Block]) -> list[tuple[int, str, str]]:
    """All notes in order."""
    return sorted((note.at_ns, note.kind, note.text) for block in blocks for note in block.notes)


def tree(folder: Path) -> dict[str, bytes]:
    """Every file of an archive with its bytes, locks left out."""
    files = (path for path in folder.rglob("*") if path.is_file() and path.name != ".lock")
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def differing(one: dict[str, bytes], other: dict[str, bytes]) -> list[str]:
    """Paths that are not the same in two trees."""
    return sorted(path for path in one.keys() | other.keys() if one.get(path) != other.get(path))


def hours_are_whole(blocks: Sequence[Block]) -> bool:
    """Blocks lie inside one UTC hour each, in order, and end only there and where a cell is missing."""
    for block in blocks:
        if not block.n or block.t0 // HOUR != (block.end - block.step) // HOUR:
            return False
    for before, after in pairwise(blocks):
        if after.t0 < before.end or (after.t0 == before.end and after.t0 // HOUR == before.t0 // HOUR):
            return False
    return True
