"""Compares the units written below the names of a CSV log with those of the line file."""

from __future__ import annotations

from ingest.account import ReadingAccount
from ingest.csv_log import CsvLog
from ingest.mapping import LogMapping
from ingest.roles import RELATIVE
from ingest.units import UnitError, to_unit


def compare_units(log: CsvLog, mapping: LogMapping, account: ReadingAccount) -> None:
    """Says where the log names another unit than the line file; the line file counts."""
    if mapping.layout != "wide" or not log.dialect.units:
        return
    below = dict(zip(log.names, log.dialect.units, strict=False))
    for source in mapping.channels:
        written = below.get(source.tag, "").strip()
        if not written or source.unit == RELATIVE:
            continue
        try:
            conversion = to_unit(written, source.unit)
        except UnitError:
            continue  # a remark, or a name that is not known: nothing can be said
        if conversion.scale != 1 or conversion.offset != 0:
            account.assume(
                f"{log.path}: below '{source.tag}' stands '{written}', the line file says '{source.unit}'; "
                "the line file counts"
            )
