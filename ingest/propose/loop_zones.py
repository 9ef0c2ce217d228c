"""Zones told by being the same kind of loop as the known zones: the same endings, level and stillness.

A flange, a screen changer or a die has a name of its own, but the log lists it as it lists the zones. What else has
such endings is told apart by its level, by jumping as no steel does, by its words, by the weight that falls with it,
or by making up the rate of the line. Levels are common practice, no source.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ingest.propose.header_pattern import Key
from ingest.propose.loop_stems import Family, Loop, families, other_loops
from ingest.propose.name_evidence import PLACES, roles_named, unit_agrees
from ingest.propose.names import Reading, TagName
from ingest.propose.relations import Relations
from ingest.propose.tag_numbers import TagNumbers
from ingest.propose.unit_choice import customary_units

_BEYOND_C = 60.0
"""How far a set-point may lie beyond those of the known zones."""
_STEEL_C = (30.0, 460.0)
_JUMPS = 2.0
"""Times the known zones' usual way from reading to reading that steel does not reach."""
_SUM = 0.05
_OUTPUT = (-101.0, 101.0)
_HEATED = frozenset({"zone", *PLACES, "temperature", "heating"})
_FITTING = _HEATED | {"cooling", "setpoint", "actual", "output", "inlet", "outlet", "before", "after"}
_OF_FEEDERS = frozenset({"weight", "refill", "gravimetric", "rate"})
_PLACE = re.compile(rf"({'|'.join(PLACES)})\d*", re.IGNORECASE)


@dataclass(frozen=True)
class LoopZones:
    """zones: (role, zone) by tag. like: a known zone's tag of that role. no_feeder: tags that behave as a zone's do."""

    zones: Mapping[str, Key]
    like: Mapping[str, str]
    no_feeder: frozenset[str]


@dataclass(frozen=True)
class _Log:
    names: Mapping[str, TagName]
    numbers: Mapping[str, TagNumbers]
    relations: Relations
    known: Mapping[str, Key]
    fahrenheit: bool

    def degrees(self, kelvin: float) -> float:
        """A difference in the log's unit."""
        return 1.8 * kelvin if self.fahrenheit else kelvin

    def level(self, celsius: float) -> float:
        """A temperature in the log's unit."""
        return 1.8 * celsius + 32 if self.fahrenheit else celsius


def loop_zones(
    names: Sequence[TagName], numbers: Mapping[str, TagNumbers], relations: Relations, known: Mapping[str, Key]
) -> LoopZones:
    """Zones that the known ones tell. known: (role, subject) by tag, of those certain enough to lean on."""
    zones: dict[str, Key] = {}
    like: dict[str, str] = {}
    no_feeder: set[str] = set()
    by_tag = {name.tag: name for name in names}
    found = families(names, known) if numbers else []
    if not found:
        return LoopZones({}, {}, frozenset())
    roles = {tag: key[0] for tag, key in known.items()}
    log = _Log(by_tag, numbers, relations, known, customary_units(roles, by_tag, numbers)[0])
    for family in found:
        series: dict[tuple[str, ...], list[Loop]] = defaultdict(list)
        for loop in other_loops(family, names):
            if _may_be(loop, log):
                series[loop.stem.words].append(loop)
        loops: list[Loop] = []
        for several in series.values():
            lettered = any(_says_feeder(loop, log) for loop in several)
            if lettered and (_feeds(several, log) or not all(_still(loop, family, log) for loop in several)):
                continue  # what a letter calls a feeder is none only where all of its series stand still as steel does
            passed = [loop for loop in several if _is_zone(loop, family, log)]
            loops += passed if not lettered or len(passed) == len(several) else []
            no_feeder.update(tag for loop in several if _still(loop, family, log) for tag in loop.tags.values())
        for loop, subject in zip(loops, _subjects(loops, log), strict=True):
            zones |= {tag: (role, subject) for role, tag in loop.tags.items()}
            like |= {tag: family.tags[role][0] for role, tag in loop.tags.items()}
    return LoopZones(zones, like, frozenset(no_feeder))


def _may_be(loop: Loop, log: _Log) -> bool:
    """Whether neither a word, a unit, a known role nor a falling weight makes the loop something else."""
    tags = set(loop.tags.values())
    warm = any("temperature" in one.concepts for one in log.names[loop.tags["zone_temperature"]].readings)
    if any(pair.second in tags and pair.lead > 0 for pair in log.relations.falls):
        return False
    for role, tag in loop.tags.items():
        name, numbers = log.names[tag], log.numbers.get(tag)
        if numbers is None or not numbers.count or (name.unit_firm and not unit_agrees(role, name)):
            return False
        if not any(_fits(one, role, warm) for one in name.readings):
            return False
        other = log.known.get(tag, (role, ""))[0]
        if other != role and not other.startswith("feeder"):
            return False
    return True


def _fits(reading: Reading, role: str, warm: bool) -> bool:
    """warm: the loop says that it is of a temperature, so that a pump is one with a heated body."""
    allowed = _FITTING | (reading.weak & {"feeder"})
    allowed |= {"power"} if role == "zone_output" else frozenset()
    allowed |= {"pump"} if warm else frozenset()
    return reading.concepts <= allowed


def _says_feeder(loop: Loop, log: _Log) -> bool:
    return any("feeder" in one.concepts for tag in loop.tags.values() for one in log.names[tag].readings)


def _feeds(several: Sequence[Loop], log: _Log) -> bool:
    """Whether loops have a weight or the like beside them, or add up to the rate of the line."""
    stems = {(*loop.stem.before, *loop.stem.after) for loop in several}
    for name in log.names.values():
        said = any(one.concepts & _OF_FEEDERS for one in name.readings)
        if said and any(name.tokens[: len(stem)] == stem or name.tokens[-len(stem) :] == stem for stem in stems):
            return True
    total = sum(log.numbers[loop.tags["zone_temperature"]].middle for loop in several)
    rates = [tag for tag, key in log.known.items() if key[0] in ("line_rate", "line_rate_setpoint")]
    return any(abs(log.numbers[tag].middle - total) <= _SUM * total for tag in rates if tag in log.numbers)


def _still(loop: Loop, family: Family, log: _Log) -> bool:
    """Whether a loop is at a level that steel can have, and goes from reading to reading no faster than zones do."""
    one = log.numbers[loop.tags["zone_temperature"]]
    ways = [_way(log.numbers[tag]) for tag in family.tags["zone_temperature"] if tag in log.numbers]
    low, high = (log.level(level) for level in _STEEL_C)
    return low <= one.middle <= high and _way(one) <= _JUMPS * max(ways, default=0.0)


def _way(one: TagNumbers) -> float:
    """How far a reading goes from one row to the next, rows without a change among them."""
    return one.jitter * one.changes


def _is_zone(loop: Loop, family: Family, log: _Log) -> bool:
    actual, wanted = loop.tags["zone_temperature"], loop.tags["zone_setpoint"]
    if not _still(loop, family, log) or log.numbers[actual].constant:
        return False
    if not any(one.actual == actual and one.wanted == wanted for one in log.relations.follows):
        return False
    levels = [log.numbers[tag].middle for tag in family.tags["zone_setpoint"] if tag in log.numbers]
    beyond = log.degrees(_BEYOND_C)
    if not levels or not min(levels) - beyond <= log.numbers[wanted].middle <= max(levels) + beyond:
        return False
    output = log.numbers[loop.tags["zone_output"]] if "zone_output" in loop.tags else None
    if output is not None and not (_OUTPUT[0] <= output.least and output.most <= _OUTPUT[1]):
        return False
    # A screw turns as steadily as steel is warm: a loop without a word of heat may be the one that is not told.
    heated = any(one.concepts & _HEATED for tag in loop.tags.values() for one in log.names[tag].readings)
    return heated or any(key[0] == "screw_speed" for key in log.known.values())


def _subjects(loops: Sequence[Loop], log: _Log) -> list[str]:
    """The place that the words say, where one loop only has it, else the stem."""
    places = [_place(loop, log) for loop in loops]
    return [
        place if place and places.count(place) == 1 else loop.name for place, loop in zip(places, loops, strict=True)
    ]


def _place(loop: Loop, log: _Log) -> str:
    said = {one.subject for role, tag in loop.tags.items() for one in roles_named(log.names[tag]) if one.role == role}
    return next((subject for subject in sorted(said) if _PLACE.fullmatch(subject)), "")
