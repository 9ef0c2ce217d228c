"""Where tags stand: logs list the tags of every zone and feeder in the same order, so that a place tells a role.

Learned from the tags whose role is known, and used only where the known ones agree.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from ingest.roles import ROLES

_AGREE = 0.8
_LEAST = 2
_NUMBERED = re.compile(r"([A-Z]+)(\d+)")

UNNAMED = "~"
"""Starts the name of a zone or feeder that only its behaviour told; the tag of its temperature or weight follows."""

Key = tuple[str, str]


def votes_of_place(order: Sequence[str], known: Mapping[str, Key]) -> dict[str, Counter[Key]]:
    """For every tag that is not known, how many known tags place a (role, subject) there.

    order: tags as the log lists them. known: (role, subject) by tag.
    """
    place = {tag: i for i, tag in enumerate(order)}
    families: dict[str, dict[Key, int]] = defaultdict(dict)
    for tag, (role, subject) in known.items():
        per = ROLES[role].per
        if per in ("zone", "feeder") and tag in place:
            families[per][role, subject] = place[tag]
    votes: dict[str, Counter[Key]] = defaultdict(Counter)
    for keys in families.values():
        _votes_inside(order, known, keys, votes)
        _votes_along(order, known, keys, votes)
    return votes


def _votes_inside(
    order: Sequence[str], known: Mapping[str, Key], keys: Mapping[Key, int], votes: dict[str, Counter[Key]]
) -> None:
    """Zone 3's output stands two behind its temperature, as with zones 1, 2 and 5."""
    seen: dict[tuple[str, str], Counter[int]] = defaultdict(Counter)
    by_subject: dict[str, dict[str, int]] = defaultdict(dict)
    for (role, subject), place in keys.items():
        by_subject[subject][role] = place
    for places in by_subject.values():
        for one, at in places.items():
            for other, there in places.items():
                if one != other:
                    seen[one, other][there - at] += 1
    for (one, other), steps in seen.items():
        step = _agreed(steps)
        if step is None:
            continue
        for subject, places in by_subject.items():
            if one in places and other not in places:
                _vote(order, known, places[one] + step, (other, subject), votes)


def _votes_along(
    order: Sequence[str], known: Mapping[str, Key], keys: Mapping[Key, int], votes: dict[str, Counter[Key]]
) -> None:
    """Zone 4's temperature stands four behind zone 3's, as zone 3's stands behind zone 2's."""
    numbered: dict[tuple[str, str], dict[int, int]] = defaultdict(dict)
    for (role, subject), place in keys.items():
        match = _NUMBERED.fullmatch(subject)
        if match:
            numbered[role, match[1]][int(match[2])] = place
    for (role, letters), places in numbered.items():
        steps = Counter(places[n + 1] - places[n] for n in places if n + 1 in places)
        step = _agreed(steps)
        if step is None:
            continue
        for number, place in places.items():
            for side in (-1, 1):
                if number + side not in places and number + side > 0:
                    _vote(order, known, place + side * step, (role, f"{letters}{number + side}"), votes)


def _agreed(steps: Counter[int]) -> int | None:
    if not steps:
        return None
    step, count = steps.most_common(1)[0]
    return step if count >= _LEAST and count >= _AGREE * sum(steps.values()) else None


def _vote(order: Sequence[str], known: Mapping[str, Key], at: int, key: Key, votes: dict[str, Counter[Key]]) -> None:
    if 0 <= at < len(order) and (order[at] not in known or known[order[at]][1].startswith(UNNAMED)):
        votes[order[at]][key] += 1
