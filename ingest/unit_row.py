"""Compares the units that a log gives with its columns with those of the line file."""

from __future__ import annotations

from ingest.account import SURE, ReadingAccount
from ingest.mapping import LogMapping
from ingest.raw_rows import Log
from ingest.roles import RELATIVE
from ingest.units import UnitError, to_unit


def compare_units(log: Log, mapping: LogMapping, account: ReadingAccount) -> None:
    """Says where the log names another unit than the line file; the line file counts."""
    if mapping.layout != "wide":
        return
    for source in mapping.channels:
        written = log.units.get(source.tag, "").strip()
        if not written or source.unit == RELATIVE:
            continue
        try:
            conversion = to_unit(written, source.unit)
        except UnitError:
            continue  # a remark, or a name that is not known: nothing can be said
        if conversion.scale != 1 or conversion.offset != 0:
            account.assume(
                f"{log.path}: for '{source.tag}' the log gives '{written}', the line file says '{source.unit}'; "
                "the line file counts",
                SURE,
            )
