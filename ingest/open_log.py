"""Opens the files of a log, CSV or Parquet by their content, with the columns that a mapping needs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ingest.account import ReadingAccount
from ingest.csv_log import BLOCK_BYTES, CsvLog
from ingest.mapping import LogMapping
from ingest.parquet_log import BATCH_ROWS, MAGIC, ParquetLog
from ingest.text_file import open_bytes


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


def open_log(
    path: Path,
    mapping: LogMapping,
    account: ReadingAccount,
    block_bytes: int = BLOCK_BYTES,
    batch_rows: int = BATCH_ROWS,
) -> CsvLog | ParquetLog:
    """One file of a log, opened and looked over. Raises BadLog."""
    names, numeric = columns_of(mapping)
    wanted = tuple(dict.fromkeys((*mapping.time_columns, *names)))
    with open_bytes(path) as file:
        parquet = file.read(4) == MAGIC
    if parquet or path.suffix.casefold() in (".parquet", ".pq"):
        return ParquetLog(path, wanted, batch_rows)
    numbers = numeric if mapping.layout == "wide" else frozenset({mapping.value_column})
    return CsvLog(path, wanted, numbers, mapping.missing_values, account, block_bytes)


def total_bytes(logs: Sequence[CsvLog | ParquetLog]) -> int:
    """Size of all files, for a progress bar."""
    return sum(log.size_bytes for log in logs)
