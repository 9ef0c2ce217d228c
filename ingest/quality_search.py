"""Finds which numbers a quality column holds, since zero is good in one scheme and bad in another."""

from __future__ import annotations

from collections.abc import Sequence

from ingest.account import GUESS, ReadingAccount
from ingest.mapping import LogMapping
from ingest.quality import CLASSIC, OPC_UA, scheme_of
from ingest.raw_rows import Log
from ingest.time_stamps import as_text


def find_scheme(logs: Sequence[Log], mapping: LogMapping, account: ReadingAccount) -> str:
    """The scheme of the quality codes of a log, '' where there are only words; every choice is said.

    Where what was looked at leaves it open, every row is looked at.
    """
    column = mapping.quality_column
    if mapping.layout != "long" or not column:
        return ""
    schemes = {scheme_of(one.text for one in log.seen(column)) for log in logs} - {""}
    zeros = any(one.text.strip() in ("0", "0.0", "0x0", "0x00000000") for log in logs for one in log.seen(column))
    if not schemes and zeros:
        for log in logs:
            for rows in log.rows((column,), frozenset()):
                schemes |= {scheme_of(as_text(rows.columns[column]).unique().to_pylist())} - {""}
                if schemes:
                    break
    if len(schemes) == 1:
        scheme = schemes.pop()
        account.assume(f"{logs[0].path}: numbers in '{column}' are {scheme}")
        return scheme
    if schemes:
        mixed = f"{logs[0].path}: numbers in '{column}' are mixed; they are taken as {CLASSIC} up to 65535"
        account.assume(mixed, GUESS)
        return CLASSIC
    if zeros:
        account.assume(f"{logs[0].path}: all numbers in '{column}' are 0, which is taken as good ({OPC_UA})")
        return OPC_UA
    return ""
