"""Control loops by their names: what the tags of one loop share is its stem, what tells them apart its endings.

Found from the zones that are known: 'Z3_PV' and 'Z3_SP' have the stem Z3 and the endings PV and SP, and 'KX_PV' and
'KX_SP' are a loop of the same kind. Endings may as well stand ahead of the stem or within it.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ingest.propose.header_pattern import Key
from ingest.propose.names import TagName

LOOP_ROLES = ("zone_temperature", "zone_setpoint", "zone_output")
_LEAST = 3
_NUMBERED_ZONE = re.compile(r"Z\d+")

Tokens = tuple[str, ...]


@dataclass(frozen=True)
class Stem:
    """What the tags of one loop share: the words before and after what tells them apart."""

    before: Tokens
    after: Tokens

    @property
    def words(self) -> Tokens:
        """Without numbers, so that the loops of a series have the same."""
        return tuple(token.casefold() for token in (*self.before, *self.after) if not token.isdigit())

    @property
    def shape(self) -> tuple[bool, bool]:
        """On which sides of the ending something stands."""
        return bool(self.before), bool(self.after)


@dataclass(frozen=True)
class Family:
    """Loops of one kind. endings: by role. members: stems of the known zones, of one series. tags: theirs, by role."""

    endings: Mapping[str, Tokens]
    members: tuple[Stem, ...]
    tags: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Loop:
    """Tags of a loop of a family that is none of its known zones, by role. name: of the stem, as the log writes it."""

    name: str
    stem: Stem
    tags: Mapping[str, str]


def families(names: Sequence[TagName], known: Mapping[str, Key]) -> list[Family]:
    """The kinds of loops that three and more numbered zones have, with their outputs where these are known."""
    tokens = {name.tag: name.tokens for name in names}
    zones: dict[str, dict[str, str]] = defaultdict(dict)
    for tag, (role, subject) in known.items():
        if role in LOOP_ROLES and _NUMBERED_ZONE.fullmatch(subject) and tag in tokens:
            zones[subject][role] = tag
    found: list[Family] = []
    for roles in (LOOP_ROLES, LOOP_ROLES[:2]):
        best: dict[tuple[object, ...], Family] = {}
        for family in _of_roles(roles, zones, tokens):
            key = (family.members[0].shape, *family.endings.values())
            if key not in best or len(best[key].members) < len(family.members):
                best[key] = family
        # Where zones have outputs, a loop without one is not of their kind.
        found += [one for one in best.values() if not any(_shares_zones(one, other) for other in found)]
    return found


def _of_roles(
    roles: Sequence[str], zones: Mapping[str, Mapping[str, str]], tokens: Mapping[str, Tokens]
) -> Iterator[Family]:
    series: dict[tuple[object, ...], list[tuple[Stem, Mapping[str, str]]]] = defaultdict(list)
    for tags in zones.values():
        if all(role in tags for role in roles):
            stem, endings = split([tokens[tags[role]] for role in roles])
            if stem.words:
                series[stem.words, stem.shape, tuple(endings)].append((stem, tags))
    for (_, _, endings), members in series.items():
        if len(members) >= _LEAST:
            tags = {role: tuple(of[role] for _, of in members) for role in roles}
            yield Family(dict(zip(roles, endings, strict=True)), tuple(stem for stem, _ in members), tags)  # type: ignore[arg-type]


def _shares_zones(one: Family, other: Family) -> bool:
    return not set(one.tags["zone_temperature"]).isdisjoint(other.tags["zone_temperature"])


def split(every: Sequence[Tokens]) -> tuple[Stem, list[Tokens]]:
    """The stem of some names, as the first writes it, and their endings in small letters."""
    small = [tuple(token.casefold() for token in tokens) for tokens in every]
    before = _shared(small)
    after = _shared([tokens[before:][::-1] for tokens in small])
    first = every[0]
    endings = [tokens[before : len(tokens) - after] for tokens in small]
    return Stem(first[:before], first[len(first) - after :]), endings


def same_loop(one: Tokens, other: Tokens) -> bool:
    """Whether two names differ in their last word only, and what stands before it has a number: 'D3_KG', 'D3_FLOW'."""
    stem = tuple(token.casefold() for token in one[:-1])
    return stem == tuple(token.casefold() for token in other[:-1]) and any(token.isdigit() for token in stem)


def _shared(every: Sequence[Tokens]) -> int:
    """How many tokens all have alike from the start."""
    count = 0
    while all(len(tokens) > count and tokens[count] == every[0][count] for tokens in every):
        count += 1
    return count


def other_loops(family: Family, names: Sequence[TagName]) -> list[Loop]:
    """Loops with all the endings of a family that are not of its series, in the order of the log."""
    by_tokens: dict[Tokens, list[str]] = defaultdict(list)
    for name in names:
        by_tokens[tuple(token.casefold() for token in name.tokens)].append(name.tag)
    anchor = next((ending for ending in family.endings.values() if ending), ())
    found: dict[tuple[str, ...], Loop] = {}
    for name in names:
        small = tuple(token.casefold() for token in name.tokens)
        for at in range(len(small) - len(anchor) + 1):
            if not anchor or small[at : at + len(anchor)] != anchor:
                continue
            stem = Stem(name.tokens[:at], name.tokens[at + len(anchor) :])
            if stem.shape != family.members[0].shape or not stem.words or stem.words == family.members[0].words:
                continue
            tags = _tags_of(stem, family, by_tokens)
            if tags:
                found.setdefault(tuple(tags.values()), Loop(_name(stem, family), stem, tags))
    return list(found.values())


def _tags_of(stem: Stem, family: Family, by_tokens: Mapping[Tokens, list[str]]) -> dict[str, str]:
    """Tags of the loop by role, empty where one is missing or there twice."""
    before, after = (tuple(token.casefold() for token in side) for side in (stem.before, stem.after))
    tags = {role: by_tokens.get((*before, *ending, *after), []) for role, ending in family.endings.items()}
    return {role: found[0] for role, found in tags.items()} if all(len(found) == 1 for found in tags.values()) else {}


def _name(stem: Stem, family: Family) -> str:
    """The stem without what the known zones start and end with as well: 'FX 2' of 'Zone FX 2'."""
    sides = [(one.before, one.after) for one in (*family.members, stem)]
    lead = _shared([tuple(token.casefold() for token in before) for before, _ in sides])
    tail = _shared([tuple(token.casefold() for token in after[::-1]) for _, after in sides])
    own = (*stem.before[lead:], *stem.after[: len(stem.after) - tail]) or (*stem.before, *stem.after)
    text = own[0]
    for token in own[1:]:
        text += token if token.isdigit() else f" {token}"
    return text
