"""Zones told by how still they stand: steel at a set-point of its own, several of them at one level.

A screw speed stands as still as a zone, and any number from 100 to 450 may be a speed, a rate or a pressure. What only
zones do is to stand at one and the same level three times over, each with a set-point of its own; and what is numbered
on and on with these, each number with its set-point, is one of them as long as the numbers end there. Levels are
common practice, no source.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence

from ingest.propose.relations import Follows
from ingest.propose.tag_numbers import TagNumbers

_SPREAD = 0.005
"""Of the level, between the 1st and the 99th percentile: zones stand within 0.3 %, what a scale weighs within 4 %."""
_LEVELS, _ANY_ZONE = (100.0, 750.0), (30.0, 750.0)
_ALWAYS = 0.98
_SAME_LEVEL = 0.001
_LEAST = 3
_NUMBERED = re.compile(r"(.*?)(\d+)(\D*)")


def steady_zones(tags: Sequence[str], numbers: Mapping[str, TagNumbers], follows: Sequence[Follows]) -> list[str]:
    """Tags that are zone temperatures by their stillness alone, in the order of `tags`."""
    still: dict[str, set[str]] = defaultdict(set)
    for one in follows:
        actual, wanted = numbers[one.actual], numbers[one.wanted]
        low, high = _ANY_ZONE
        if (
            one.share >= _ALWAYS and actual.distinct > 1 and wanted.constant and low <= wanted.middle <= high
            and actual.high - actual.low <= _SPREAD * wanted.middle
        ):  # fmt: skip
            still[one.actual].add(one.wanted)
    found = _at_one_level(still, numbers)
    found |= _numbered_with(found, still, set(tags))
    return [tag for tag in tags if tag in found]


def _at_one_level(still: Mapping[str, set[str]], numbers: Mapping[str, TagNumbers]) -> set[str]:
    """Three tags and more at a level that three set-points and more have."""
    found: set[str] = set()
    for tag, wanted in still.items():
        level = numbers[tag].middle
        if not _LEVELS[0] <= level <= _LEVELS[1]:
            continue
        beside = [one for one in still if abs(numbers[one].middle - level) <= _SAME_LEVEL * level]
        targets = {w for w in wanted if abs(numbers[w].middle - level) <= _SAME_LEVEL * level}
        if len(beside) >= _LEAST and len(targets) >= _LEAST:
            found.add(tag)
    return found


def _numbered_with(found: set[str], still: Mapping[str, set[str]], tags: set[str]) -> set[str]:
    """Those whose number follows on, where the numbers begin and end with them."""
    more: set[str] = set()
    for tag in found:
        for step in (-1, 1):
            side, at = [], _stepped(tag, step)
            while at in still and any(_number(wanted) == _number(at) for wanted in still[at]):
                side.append(at)
                at = _stepped(at, step)
            if at not in tags:
                more.update(side)
    return more


def _number(tag: str) -> str:
    match = _NUMBERED.fullmatch(tag)
    return match[2] if match else ""


def _stepped(tag: str, step: int) -> str:
    """The tag with the next number, '' where there is none."""
    match = _NUMBERED.fullmatch(tag)
    if match is None or int(match[2]) + step < 0:
        return ""
    return f"{match[1]}{int(match[2]) + step:0{len(match[2])}d}{match[3]}"
