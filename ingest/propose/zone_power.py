"""The 'power' of a zone that is its controller's output in percent and no kilowatts.

It stands beside the temperature and the set-point of a zone, under the same stem. That it is percent is told by all
zones together: heat in kilowatts is never below nought, and the bands of one zone take up to some 50 kW on the largest
machines (common practice, no source).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ingest.propose.header_pattern import Key
from ingest.propose.loop_stems import Stem, Tokens, split
from ingest.propose.names import TagName
from ingest.propose.tag_numbers import TagNumbers

_PERCENT = 100.5
_FULL = 99.5
_COOLS = -1.0
_NO_BAND_KW = 60.0
_LEVELS = 10
_MOST_BESIDE = 12
"""Tags with one stem above which it is the name of more than a zone."""


@dataclass(frozen=True)
class ZonePower:
    """outputs: (zone_output, zone) by tag. why: what tells, by tag. beside: all tags with the stem of a zone."""

    outputs: Mapping[str, Key]
    why: Mapping[str, str]
    beside: frozenset[str]


def zone_power(names: Sequence[TagName], numbers: Mapping[str, TagNumbers], known: Mapping[str, Key]) -> ZonePower:
    """Outputs among what is called power. known: (role, subject) by tag, of those certain enough to lean on."""
    by_tag = {name.tag: name for name in names}
    outputs: dict[str, Key] = {}
    why: dict[str, str] = {}
    beside: set[str] = set()
    endings: dict[Tokens, dict[str, str]] = defaultdict(dict)
    for zone, stem in _stems(by_tag, known):
        own = {name.tag: ending for name in names if (ending := _ending(name, stem)) is not None}
        if len(own) > _MOST_BESIDE:
            continue
        beside |= own.keys()
        for tag, ending in own.items():
            if _says_power(by_tag[tag]):
                endings[ending][tag] = zone
    for zones in endings.values():
        reason = _percent([by_tag[tag] for tag in zones], [numbers[tag] for tag in zones if tag in numbers])
        if reason:
            outputs |= {tag: ("zone_output", zone) for tag, zone in zones.items()}
            why |= dict.fromkeys(zones, reason)
    return ZonePower(outputs, why, frozenset(beside))


def _stems(names: Mapping[str, TagName], known: Mapping[str, Key]) -> Iterator[tuple[str, Stem]]:
    """What the temperature and the set-point of a zone share, by zone."""
    loops: dict[str, dict[str, str]] = defaultdict(dict)
    for tag, (role, zone) in known.items():
        if role in ("zone_temperature", "zone_setpoint") and tag in names:
            loops[zone][role] = tag
    for zone, tags in loops.items():
        if len(tags) == 2:
            stem, _ = split([names[tag].tokens for tag in tags.values()])
            if stem.words:
                yield zone, stem


def _ending(name: TagName, stem: Stem) -> Tokens | None:
    """What a name has beside the stem, in small letters; None where it has another stem."""
    small = _small(name.tokens)
    before, after = _small(stem.before), _small(stem.after)
    end = len(small) - len(after)
    if end < len(before) or small[: len(before)] != before or small[end:] != after:
        return None
    return small[len(before) : end]


def _small(tokens: Tokens) -> Tokens:
    return tuple(token.casefold() for token in tokens)


def _says_power(name: TagName) -> bool:
    other_unit = name.unit_firm and name.quantity != "share"
    return not other_unit and any("power" in one.concepts - one.weak for one in name.readings)


def _percent(names: Sequence[TagName], numbers: Sequence[TagNumbers]) -> str:
    """What tells that the power of several zones is in percent, '' where nothing does."""
    read = [one for one in numbers if one.count]
    if any(one.least < -_PERCENT or one.most > _PERCENT for one in read):
        return ""
    if all(name.unit_firm for name in names):
        return "it is the power of a zone in percent"
    if not read:
        return ""
    least, most = min(one.low for one in read), max(one.most for one in read)
    if least <= _COOLS:
        return f"it is called power, and among the zones it goes down to {least:.3g}, which heat in kW never does"
    if most >= _FULL:
        return "it is called power, and among the zones it goes up to 100 and no further"
    if most >= _NO_BAND_KW and all(one.whole for one in read) and max(one.distinct for one in read) >= _LEVELS:
        return f"it is called power, and among the zones it goes up to {most:.3g} in whole numbers"
    return ""
