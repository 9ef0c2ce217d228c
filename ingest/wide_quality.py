"""Quality columns of wide logs: one beside each tag, such as 'T1.q' or 'T1 status'."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pyarrow as pa

from ingest.account import ReadingAccount
from ingest.errors import BadLog
from ingest.mapping import LogMapping
from ingest.quality import OPC_UA, read_quality, scheme_of
from ingest.raw_rows import Log

NONE_AT_ALL = "-"
"""As quality_suffix: the log has no quality columns, whatever its names look like."""

_SUFFIX = re.compile(r"[ ._:/-]?[\[(]?(q|qc|qual|quality|st|stat|status)[\])]?", re.IGNORECASE)
_GOOD_BYTE = re.compile(r"(19[2-9]|2[0-4]\d|25[0-5])(\.0)?")


@dataclass(frozen=True)
class WideQuality:
    """Which column of a file holds the quality of which tag, and which codes they are."""

    columns: Mapping[str, str]
    scheme: str


def find_wide_quality(logs: Sequence[Log], mapping: LogMapping, account: ReadingAccount) -> list[WideQuality]:
    """The quality columns of every file of a wide log; what was found is said.

    With quality_suffix in the mapping these are the columns called tag + suffix. Else they are found by name, and
    taken only where what stands in them is plainly quality: known words, OPC UA status codes, or classic quality
    bytes among which there is a good one. A 'status' of zeros and ones may be a heater's.
    Raises BadLog where a suffix is given and no such column is there.
    """
    if mapping.layout != "wide" or mapping.quality_suffix == NONE_AT_ALL:
        return [WideQuality({}, "")] * len(logs)
    found = [_columns_of(log, mapping) for log in logs]
    if mapping.quality_suffix and not any(found):
        raise BadLog(
            logs[0].path,
            f"no column is called like a tag with '{mapping.quality_suffix}' behind it",
            hint="Correct quality_suffix in [log] of the line file, or leave it out.",
        )
    pairs = [(log, name) for log, columns in zip(logs, found, strict=True) for name in columns.values()]
    texts = {text for log, name in pairs for text in _seen(log, name)}
    scheme = scheme_of(texts) or OPC_UA
    for log, columns in zip(logs, found, strict=True):
        if columns:
            some = ", ".join(map(repr, list(columns.values())[:3])) + (", ..." if len(columns) > 3 else "")
            codes = f"; numbers in them are {scheme}" if any(text[:1].isdigit() for text in texts) else ""
            account.assume(f"{log.path}: the quality of readings is taken from columns {some}{codes}")
    return [WideQuality(columns, scheme) for columns in found]


def _columns_of(log: Log, mapping: LogMapping) -> dict[str, str]:
    tags = {source.tag for source in mapping.channels}
    others = [name for name in log.names if name and name not in tags and log.names.count(name) == 1]
    if mapping.quality_suffix:
        return {tag: tag + mapping.quality_suffix for tag in tags if tag + mapping.quality_suffix in others}
    columns: dict[str, str] = {}
    for name in others:
        tag = next((name[:i] for i in range(len(name) - 1, 0, -1) if name[:i] in tags), "")
        if tag and tag in log.names and tag not in columns and _SUFFIX.fullmatch(name[len(tag) :]):
            columns[tag] = name
    return {tag: name for tag, name in columns.items() if _is_quality(_seen(log, name))}


def _seen(log: Log, name: str) -> set[str]:
    return {one.text.strip() for one in log.seen(name)} - {""}


def _is_quality(texts: set[str]) -> bool:
    scheme = scheme_of(texts) or OPC_UA
    if not texts or read_quality(pa.chunked_array([pa.array(sorted(texts))]), scheme)[1].any():
        return False
    words = any(text[:1].isalpha() for text in texts)
    return words or (scheme == OPC_UA and texts != {"0"}) or any(map(_GOOD_BYTE.fullmatch, texts))
