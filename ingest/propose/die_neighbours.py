"""Die zones told by their neighbours in a log of actual values only: D1 ... Dn right behind Z1 ... Zn, and like them.

With set-points or outputs beside them `loop_zones` tells more. A letter D may also be a feeder, so all of it must
be so: the same name but for the letter, the place, the level, and that no step is wider than steel takes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ingest.propose.header_pattern import Key
from ingest.propose.name_evidence import unit_agrees
from ingest.propose.names import TagName
from ingest.propose.relations import Relations
from ingest.propose.tag_numbers import TagNumbers

_LETTER = "d"
_LEAST_ZONES = 3
_BEYOND = 0.25
"""Of the level of the zones, how far a die may lie beyond them."""
_WIDER = 2.0
"""Times the zones' own widest way from reading to reading, and spread."""
_SUM = 0.05
_OF_FEEDERS = frozenset({"weight", "refill", "gravimetric", "rate"})


@dataclass(frozen=True)
class DieNeighbours:
    """dies: zone by tag. no_feeder: tags that are as warm and as still as the zones, wherever they stand."""

    dies: Mapping[str, str]
    no_feeder: frozenset[str]


def die_neighbours(
    names: Sequence[TagName], numbers: Mapping[str, TagNumbers], relations: Relations, known: Mapping[str, Key]
) -> DieNeighbours:
    """Tags that stand for die zones. known: (role, subject) by tag, of those certain enough to lean on."""
    place = {name.tag: i for i, name in enumerate(names)}
    by_shape: dict[tuple[str, ...], list[TagName]] = {}
    for name in names:
        if known.get(name.tag, ("", ""))[0] == "zone_temperature" and (shape := _shape(name, "z")):
            by_shape.setdefault(shape, []).append(name)
    dies: dict[str, str] = {}
    no_feeder: set[str] = set()
    for shape, zones in by_shape.items():
        some = [name for name in names if _shape(name, _LETTER) == shape]
        alike = [name for name in some if _like(name, zones, numbers)]
        if len(zones) < _LEAST_ZONES or not some or len(alike) < len(some):
            continue
        tags = [name.tag for name in some]
        if _feeds(tags, names, numbers, relations, known):
            continue
        no_feeder.update(tags)
        counted = [_number(name, _LETTER) for name in some]
        first, last = place[tags[0]], place[tags[-1]]
        together = last - first == len(tags) - 1 and counted == list(range(1, len(tags) + 1))
        beside = first == max(place[one.tag] for one in zones) + 1
        if together and beside and len(tags) <= len(zones):
            dies |= {tag: f"DIE{number}" for tag, number in zip(tags, counted, strict=True)}
    return DieNeighbours(dies, frozenset(no_feeder))


def _place_of(name: TagName, letter: str) -> int:
    """Where a single letter with a number behind stands in the name, -1 where none does."""
    pairs = pairwise(name.tokens)
    return next((i for i, (one, behind) in enumerate(pairs) if one.casefold() == letter and behind.isdigit()), -1)


def _shape(name: TagName, letter: str) -> tuple[str, ...]:
    at = _place_of(name, letter)
    return (*name.tokens[:at], "*", *name.tokens[at + 2 :]) if at >= 0 else ()


def _number(name: TagName, letter: str) -> int:
    return int(name.tokens[_place_of(name, letter) + 1])


def _like(name: TagName, zones: Sequence[TagName], numbers: Mapping[str, TagNumbers]) -> bool:
    """Whether the numbers are those of a zone like the others."""
    one = numbers.get(name.tag)
    others = [numbers[zone.tag] for zone in zones if zone.tag in numbers and numbers[zone.tag].count]
    if one is None or not one.count or one.constant or not others:
        return False
    if name.unit_firm and not unit_agrees("zone_temperature", name):
        return False
    low, high = min(other.middle for other in others), max(other.middle for other in others)
    level = low - _BEYOND * abs(low) <= one.middle <= high + _BEYOND * abs(high)
    way = one.jitter * one.changes <= _WIDER * max(other.jitter * other.changes for other in others)
    return level and way and one.high - one.low <= _WIDER * max(other.high - other.low for other in others)


def _feeds(
    tags: Sequence[str],
    names: Sequence[TagName],
    numbers: Mapping[str, TagNumbers],
    relations: Relations,
    known: Mapping[str, Key],
) -> bool:
    """Whether a weight falls with them, a word of feeders stands beside the letter, or they make up the line's rate."""
    if any(pair.second in tags and pair.lead > 0 for pair in relations.falls):
        return True
    for name in names:
        said = any((one.concepts - one.weak) & _OF_FEEDERS for one in name.readings)
        if said and _place_of(name, _LETTER) >= 0:
            return True
    total = sum(numbers[tag].middle for tag in tags)
    rates = [tag for tag, key in known.items() if key[0] in ("line_rate", "line_rate_setpoint")]
    return any(abs(numbers[tag].middle - total) <= _SUM * abs(total) for tag in rates if tag in numbers)
