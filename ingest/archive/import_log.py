"""The files of a log into an archive: read, mapped, checked, put on the grid, kept. Cut off, it is simply repeated."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from threading import Event

from ingest.account import ReadingAccount
from ingest.archive.archive_writer import ArchiveWriter
from ingest.archive.counts import Brought
from ingest.archive.layout import book_folder, group_ns
from ingest.archive.line_book import (
    Import,
    ImportedFile,
    content_hash,
    finished_imports,
    import_number,
    keep_import,
    mapping_fingerprint,
)
from ingest.archive.place import Place, open_place
from ingest.archive.relay import relayed
from ingest.archive.seam import held_over
from ingest.archive.sweep import sweep
from ingest.block import Block
from ingest.mapping import LogMapping
from ingest.read_log import read_blocks

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class ImportReport:
    """What became of an import.

    known: files that the archive already holds, read in the same way; they were not read again.
    account: of the files that were read; empty where there was none.
    first, end: of the cells read, UTC ns, 0 where there was none. days_changed: in this run.
    """

    line: str
    known: tuple[Path, ...]
    read: tuple[Path, ...]
    account: ReadingAccount
    brought: Brought
    days_changed: int
    first: int
    end: int


def import_log(
    paths: Sequence[Path],
    mapping: LogMapping,
    archive: str | Place,
    *,
    account: ReadingAccount | None = None,
    progress: Progress | None = None,
    dry: bool = False,
) -> ImportReport:
    """Brings the files of one log into the archive, as the one log that they are.

    account: an empty one. dry: nothing is written, only counted.
    Raises BadLog as `read_blocks` does, and for an archive that cannot be used; what was finished until then stays.
    """
    place = open_place(archive)
    line, account = mapping.line, account or ReadingAccount()
    if dry:
        return _import(paths, mapping, place, account, progress, dry=True)
    with place.locked(book_folder(line)):
        report = _import(paths, mapping, place, account, progress, dry=False)
        sweep(place, line)
    return report


def _import(
    paths: Sequence[Path],
    mapping: LogMapping,
    place: Place,
    account: ReadingAccount,
    progress: Progress | None,
    *,
    dry: bool,
) -> ImportReport:
    fingerprint = mapping_fingerprint(mapping)
    known = _known(paths, finished_imports(place, mapping.line), fingerprint)
    wanted = [path for path in paths if path not in known]
    if not wanted and known:
        return ImportReport(mapping.line, tuple(known), (), account, Brought(), 0, 0, 0)
    stop = Event()
    with ThreadPoolExecutor(1, "content hash") as hashing:
        hashes = hashing.submit(lambda: [content_hash(path, stop) for path in wanted])
        try:
            # Opening the log finds most of what can be wrong with it; the archive is not touched before.
            # A Block is what becomes a row group, so that nothing has to be put together.
            block_s = group_ns(round(mapping.cadence_s * 1e9)) / 1e9
            blocks = read_blocks(wanted, mapping, account, block_s=block_s, progress=progress)
            writer = ArchiveWriter(place, mapping.line, lambda: import_number(hashes.result(), fingerprint), dry=dry)
            first, end = _bring(blocks, place, mapping, writer)
            if not dry:
                files = [_file(path, digest, account) for path, digest in zip(wanted, hashes.result(), strict=True)]
                number = import_number(hashes.result(), fingerprint)
                done = Import(number, fingerprint, tuple(files), writer.brought, account.as_dict())
                keep_import(place, mapping.line, done)
        finally:
            stop.set()  # where it failed, nobody waits for the rest
    return ImportReport(
        mapping.line, tuple(known), tuple(wanted), account, writer.brought, writer.days_changed, first, end
    )


def _bring(blocks: Iterator[Block], place: Place, mapping: LogMapping, writer: ArchiveWriter) -> tuple[int, int]:
    """Blocks as they are read into the archive; start of the first and end of the last one, 0 where there was none."""
    hold_ns = {one.key: round(min(one.hold_s, 3600.0) * 1e9) for one in mapping.channels}
    first = end = 0
    try:
        # Closed even where this thread is interrupted, so that the writer is not used and abandoned at once.
        with closing(relayed(_joined_on(blocks, place, mapping.line, hold_ns), writer.add)) as passing:
            for block in passing:
                first, end = first or block.t0, block.end
        writer.close()
    except BaseException:
        writer.abandon()
        raise
    return first, end


def _joined_on(blocks: Iterator[Block], place: Place, line: str, hold_ns: Mapping[str, int]) -> Iterator[Block]:
    first = next(blocks, None)
    if first is not None:
        yield held_over(place, line, first, hold_ns)
    yield from blocks


def _known(paths: Sequence[Path], finished: Sequence[Import], fingerprint: str) -> list[Path]:
    """Files whose content was imported before. Only where the size is known is the content looked at."""
    before = [file for one in finished if one.mapping == fingerprint for file in one.files]
    sizes, hashes = {file.size for file in before}, {file.sha256 for file in before}
    return [path for path in paths if path.is_file() and path.stat().st_size in sizes and content_hash(path) in hashes]


def _file(path: Path, digest: str, account: ReadingAccount) -> ImportedFile:
    """What became of a file; a packed one may hold several logs."""
    mine = [one for one in account.files if one.path == str(path) or one.path.startswith(str(path))]
    firsts = [one.first_ns for one in mine if one.first_ns is not None]
    lasts = [one.last_ns for one in mine if one.last_ns is not None]
    rows = sum(one.rows for one in mine)
    return ImportedFile(str(path), digest, path.stat().st_size, rows, min(firsts, default=0), max(lasts, default=0))
