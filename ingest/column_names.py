"""Column names that carry their unit, such as 'T1 [°C]', found under the tag of the line file, 'T1'."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ingest.units import UnitError, quantity_of

MOST_COLUMNS = 20_000
"""A file with more is no log of one line; a spreadsheet holds 16,384."""

_BRACKETED = re.compile(r"\s*(?:\[([^\[\]]*)\]|\(([^()]*(?:\([^()]*\))?)\))\s*")
_BEHIND_MARK = re.compile(r"(?:\s*[/,;]\s*|[_\s]+(?:in\s+)?)(\S.*)")


def with_unit_behind(
    names: Sequence[str], wanted: Sequence[str], units: Mapping[str, str]
) -> tuple[tuple[str, ...], dict[str, str]]:
    """The names, those that are a wanted one with a unit behind it changed to the wanted one; and those units.

    A unit in brackets may be anything; behind a blank, an underscore, a stroke or a comma it must be a unit of the
    same quantity as the one in `units`, for 'T1 A' may be another tag. Nothing is changed where two names fit.
    """
    there = set(names)
    found, written = list(names), dict[str, str]()
    for name in dict.fromkeys(wanted):
        if name in there or not name:
            continue
        fits = [
            (i, unit)
            for i, candidate in enumerate(names)
            if candidate.startswith(name) and (unit := _unit_behind(candidate[len(name) :], units.get(name, "")))
        ]
        if len(fits) == 1:
            place, unit = fits[0]
            found[place], written[name] = name, unit
    return tuple(found), written


def _unit_behind(rest: str, unit: str) -> str:
    bracketed = _BRACKETED.fullmatch(rest)
    if bracketed:
        return (bracketed[1] or bracketed[2] or "").strip() or "-"
    marked = _BEHIND_MARK.fullmatch(rest)
    try:
        return marked[1] if marked and unit and quantity_of(marked[1]) == quantity_of(unit) else ""
    except UnitError:
        return ""
