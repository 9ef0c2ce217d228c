"""Names of zones, feeders, vents and sensors for a line file, and zones in machine order."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ingest.propose.header_pattern import UNNAMED, Key
from ingest.roles import ROLES

_PLACES = ("Z", "", "ADAPTER", "SCREEN", "HEAD", "DIE", "EXIT")
_OWN_NAME = 1
_NUMBERED = re.compile(r"(\D*?)\s*(\d*)")
_NOT_IN_NAMES = re.compile(r"[:\n]")


def subject_names(keys: Mapping[str, Key], order: Sequence[str]) -> dict[tuple[str, Key], str]:
    """Final names of zones, feeders, vents and sensors, by (tag, key): short, and each there once."""
    names: dict[tuple[str, Key], str] = {}
    taken: dict[str, set[str]] = {per: set() for per in ("zone", "feeder", "vent", "sensor")}
    for per in ("zone", "feeder", "vent"):
        own = {key[1] for key in keys.values() if ROLES[key[0]].per == per}
        taken[per] |= {tidy(subject) for subject in own if not subject.startswith(UNNAMED)}
    given: dict[tuple[str, str], str] = {}
    for tag in order:
        key = keys.get(tag)
        if key is None:
            continue
        per = ROLES[key[0]].per
        if per == "line":
            names[tag, key] = ""
        elif per == "sensor":
            letter = "P" if key[0] == "melt_pressure" else "M"
            wanted = tidy(key[1]) if re.fullmatch(r"[PM]\d+", key[1]) else ""
            name = wanted if wanted and wanted not in taken[per] else _fresh(letter, taken[per])
            taken[per].add(name)
            names[tag, key] = name
        else:
            if (per, key[1]) not in given:
                unnamed = key[1].startswith(UNNAMED)
                given[per, key[1]] = _fresh(per[0].upper(), taken[per]) if unnamed else tidy(key[1])
                taken[per].add(given[per, key[1]])
            names[tag, key] = given[per, key[1]]
    return names


def _fresh(letter: str, taken: set[str]) -> str:
    number = 1
    while f"{letter}{number}" in taken:
        number += 1
    return f"{letter}{number}"


def tidy(text: str) -> str:
    """A name as a line file takes it: no colon, at most 40 letters."""
    return _NOT_IN_NAMES.sub(" ", text).strip()[:40] or "line 1"


def zone_rank(zone: str) -> tuple[int, int]:
    """Throat to die: barrel zones by number, those with a name of their own, adapter, screen, die; feeders by number.

    Zones with names of their own stay as the log lists them.
    """
    match = _NUMBERED.fullmatch(zone)
    letters, number = (match[1], match[2]) if match else (zone, "")
    if letters not in _PLACES:
        return _OWN_NAME, int(number or 0) if letters == "F" else 0
    return _PLACES.index(letters), int(number or 0)
