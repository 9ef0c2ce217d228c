"""Opens the files of a log, each by its content, with the columns that a mapping needs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ingest.account import SURE, ReadingAccount
from ingest.csv_log import BLOCK_BYTES, CsvLog
from ingest.errors import BadLog, NotThisLine, missing_columns
from ingest.log_file import LogFile
from ingest.log_parts import log_parts
from ingest.mapping import LogMapping
from ingest.parquet_log import BATCH_ROWS, MAGIC, ParquetLog
from ingest.raw_rows import Log


def columns_of(mapping: LogMapping) -> tuple[tuple[str, ...], frozenset[str]]:
    """Columns that a mapping names beside the time, and those of them that hold numbers in a wide log."""
    wide = mapping.layout == "wide"
    if wide:
        values = [source.tag for source in mapping.channels]
    else:
        values = [mapping.tag_column, mapping.value_column, mapping.quality_column]
    values += [mapping.line_column, mapping.lot_column, mapping.recipe_column]
    names = tuple(dict.fromkeys(name for name in values if name))
    texts = {mapping.line_column, mapping.lot_column, mapping.recipe_column}
    numeric = frozenset(source.tag for source in mapping.channels) - texts if wide else frozenset[str]()
    return names, numeric


def open_logs(
    paths: Sequence[Path],
    mapping: LogMapping,
    account: ReadingAccount,
    block_bytes: int = BLOCK_BYTES,
    batch_rows: int = BATCH_ROWS,
) -> list[CsvLog | ParquetLog]:
    """All files of a log, opened and looked over.

    A single file must have every column. Of several, each may have some of them: what is nowhere is an error, what
    is not in every file is said. Of an archive, workbook or folder, files that hold nothing of this line are left
    out, which is said too. Raises BadLog.
    """
    given = [(Path(path), log_parts(Path(path))) for path in paths]
    files = sum(len(parts) for _, parts in given)
    logs: list[CsvLog | ParquetLog] = []
    first_error: BadLog | None = None
    for _, parts in given:
        for part in parts:
            try:
                log = _open(part, mapping, account, block_bytes, batch_rows, files)
                _refuse_without_place(log, mapping)
            except BadLog as error:
                first_error = first_error or error
                if len(parts) == 1 or not isinstance(error, NotThisLine):
                    raise
                account.assume(f"{part.name} is left out: {error.reason}", SURE)
                continue
            logs.append(log)
    if not logs:
        if first_error is None:
            hint = "Export the log again, as CSV or Parquet."
            first_error = BadLog(given[0][0], "is a workbook without a sheet that has cells", hint=hint)
        raise first_error
    _check_union(logs, mapping, account)
    return logs


def total_bytes(logs: Sequence[Log]) -> int:
    """Size of all files, for a progress bar."""
    return sum(log.size_bytes for log in logs)


def _open(
    file: LogFile, mapping: LogMapping, account: ReadingAccount, block_bytes: int, batch_rows: int, files: int
) -> CsvLog | ParquetLog:
    names, numeric = columns_of(mapping)
    wanted = tuple(dict.fromkeys((*mapping.time_columns, *names)))
    partial = files > 1
    units = {source.tag: source.unit for source in mapping.channels} if mapping.layout == "wide" else {}
    parquet = file.path.suffix.casefold() in (".parquet", ".pq") and file.seekable
    if file.seekable:
        with file.on_disk.open("rb") as raw:
            parquet = raw.read(4) == MAGIC or parquet
    if parquet:
        return ParquetLog(file, wanted, batch_rows, units, partial)
    numbers = numeric if mapping.layout == "wide" else frozenset({mapping.value_column})
    return CsvLog(file, wanted, numbers, mapping.missing_values, account, block_bytes, units, partial, files)


def _refuse_without_place(log: CsvLog | ParquetLog, mapping: LogMapping) -> None:
    """Every file must tell when a row is, of which line and of which tag, and have at least one value."""
    must = [*mapping.time_columns, *([mapping.line_column] if mapping.line_column else [])]
    if mapping.layout == "long":
        must += [mapping.tag_column, mapping.value_column]
    missing = [name for name in must if name not in log.names]
    values = [source.tag for source in mapping.channels] if mapping.layout == "wide" else []
    if values and not set(values) & set(log.names):
        missing += values
    if missing:
        error = missing_columns(log.path, missing, [name for name in log.names if name])
        raise NotThisLine(error.path, error.reason, column=error.column, hint=error.hint)


def _check_union(logs: Sequence[CsvLog | ParquetLog], mapping: LogMapping, account: ReadingAccount) -> None:
    names, _ = columns_of(mapping)
    nowhere = [name for name in names if not any(name in log.names for log in logs)]
    if nowhere:
        known = list(dict.fromkeys(name for log in logs for name in log.names if name))
        raise missing_columns(logs[0].path, nowhere, known)
