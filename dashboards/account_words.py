"""The reading account as rows of a table: what was read, what was left out and why."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from dashboards.clock import duration
from dashboards.shown_units import parted
from dashboards.texts import say

MOST_NAMED = 6


def account_rows(account: Mapping[str, Any]) -> list[tuple[str, str]]:
    """(what, how much) of a stored account, see `ingest.account.ReadingAccount`; what is nothing is left out.

    Counts of an account of another shape are shown under their own names.
    """
    rows = [(say(f"account.{key}"), parted(account[key])) for key in ("rows_read", "rows_accepted") if account.get(key)]
    rows += [
        (say("account.aside", reason=reason), parted(n)) for reason, n in _dict(account, "set_aside_by_reason").items()
    ]
    for key in ("duplicates", "out_of_order", "clock_step_count"):
        if account.get(key):
            rows.append((say(f"account.{key}"), parted(account[key])))
    if account.get("gap_count"):
        rows.append(
            (
                say("account.gaps"),
                say("account.gap_length", n=str(account["gap_count"]), time=duration(account["gap_s"])),
            )
        )
    for key in ("values_missing", "values_sentinel", "values_out_of_range", "values_unreadable", "conversions"):
        named = _dict(account, key)
        if named:
            rows.append((say(f"account.{key}"), _named([_one(tag, what) for tag, what in named.items()])))
    if account.get("silent_tags"):
        rows.append((say("account.silent_tags"), _named(list(account["silent_tags"]))))
    paths = [file["path"] for file in account.get("files") or () if isinstance(file, dict) and "path" in file]
    sure = _dict(account, "how_sure")
    for key, label in (("assumptions", "account.assumed"), ("noticed", "account.noticed")):
        for sentence in account.get(key) or ():
            level = f" ({sure[sentence]})" if sentence in sure else ""
            rows.append((say(label), without_folders(sentence, paths) + level))
    return rows or [(key.replace("_", " "), parted(n)) for key, n in account.items() if isinstance(n, int)]


def _dict(account: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found = account.get(key)
    return found if isinstance(found, dict) else {}


def _one(tag: str, what: Any) -> str:
    if isinstance(what, dict) and "count" in what:
        return f"{tag} {what['count']}".strip()
    if isinstance(what, dict):
        return f"{tag} {', '.join(f'{number} ({count} times)' for number, count in what.items())}"
    return f"{tag} {what}"


def _named(items: list[str]) -> str:
    """The first few, then how many more."""
    more = len(items) - MOST_NAMED
    return ", ".join(items[:MOST_NAMED]) + (say("account.more", count=str(more)) if more > 0 else "")


def without_folders(sentence: str, paths: list[str]) -> str:
    """Without folders: the page is no place for them."""
    for path in paths:
        sentence = sentence.replace(path, PurePath(path).name)
    return sentence
