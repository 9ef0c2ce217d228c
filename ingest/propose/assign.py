"""One role and one subject for every tag, all together: the most evidence, and 'cannot tell' rather than wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ingest.propose.evidence import Case, Cases, Witnesses, gather
from ingest.propose.header_pattern import UNNAMED, Key
from ingest.propose.proposal import Candidate, Sure
from ingest.roles import ROLES

SURE, LIKELY, GUESS = 1.1, 0.8, 0.62
"""Least score to be called so. A name that says it in full is worth 1, its numbers 0.1, a clear companion 0.75."""
LEAD = {"sure": 0.35, "likely": 0.25, "a guess": 0.15}
"""Least lead over the next best role of the tag, and over the next best tag of the role."""
LEAN_ON = 0.8
_ROUNDS = 4


@dataclass(frozen=True)
class Assigned:
    """What one tag is. key: None where it cannot be told. why_not: then."""

    key: Key | None
    sure: Sure
    candidates: tuple[Candidate, ...]
    why_not: str = ""


def assign(witnesses: Witnesses) -> dict[str, Assigned]:
    """Roles of all tags. What is told with some certainty becomes a witness for the others, in a few rounds."""
    known: dict[str, Key] = {}
    result: dict[str, Assigned] = {}
    for _ in range(_ROUNDS):
        result = _judged(gather(witnesses, known))
        leaned = {
            tag: one.key
            for tag, one in result.items()
            if one.key is not None and one.candidates and one.candidates[0].score >= LEAN_ON
        }
        if leaned == known:
            break
        known = leaned
    return _without_parts_of_others(result)


def _without_parts_of_others(result: dict[str, Assigned]) -> dict[str, Assigned]:
    """A zone or feeder known by behaviour only may be the missing part of a named one: then it cannot be told."""
    has: dict[tuple[str, str], set[str]] = {}
    for one in result.values():
        if one.key is not None and ROLES[one.key[0]].per in ("zone", "feeder"):
            has.setdefault((ROLES[one.key[0]].per, one.key[1]), set()).add(one.key[0])
    maybe: dict[tuple[str, str], str] = {}
    for (per, subject), roles in has.items():
        if subject.startswith(UNNAMED):
            other = next((s for (p, s), r in has.items() if p == per and s[:1] != UNNAMED and not r & roles), "")
            if other:
                maybe[per, subject] = other
    judged = {}
    for tag, one in result.items():
        if one.key is not None and (ROLES[one.key[0]].per, one.key[1]) in maybe:
            other = maybe[ROLES[one.key[0]].per, one.key[1]]
            why = f"is {one.key[0]} of {other}, or of a {ROLES[one.key[0]].per} of its own"
            one = Assigned(None, "cannot tell", one.candidates, why)
        judged[tag] = one
    return judged


def _judged(cases: Cases) -> dict[str, Assigned]:
    chosen = _jointly(cases)
    return {tag: _judge(tag, chosen.get(tag), chosen, cases) for tag in cases}


def _slot(tag: str, key: Key) -> Key:
    """What only one tag can have. Sensors are told apart afterwards, so each has its own."""
    return (key[0], f"{key[1]}\0{tag}") if ROLES[key[0]].per == "sensor" else key


def _jointly(cases: Cases) -> dict[str, Key]:
    """The pairing of tags with roles that has the most evidence; a pairing below the least of a guess is no gain."""
    from scipy.optimize import linear_sum_assignment

    tags = [tag for tag, found in cases.items() if found]
    slots = sorted({_slot(tag, key) for tag in tags for key in cases[tag]})
    if not tags:
        return {}
    column = {slot: i for i, slot in enumerate(slots)}
    # One column more for every tag: left alone.
    gain = np.full((len(tags), len(slots) + len(tags)), -1e6)
    for i, tag in enumerate(tags):
        gain[i, len(slots) + i] = 0.0
        for key, case in cases[tag].items():
            gain[i, column[_slot(tag, key)]] = case.score - GUESS + 1e-6
    rows, columns = linear_sum_assignment(gain, maximize=True)
    by_slot = {(tag, _slot(tag, key)): key for tag in tags for key in cases[tag]}
    return {tags[i]: by_slot[tags[i], slots[j]] for i, j in zip(rows, columns, strict=True) if j < len(slots)}


def _judge(tag: str, key: Key | None, chosen: Mapping[str, Key], cases: Cases) -> Assigned:
    found = cases[tag]
    ranked = sorted(found.items(), key=lambda item: -item[1].score)
    candidates = tuple(_candidate(k, case) for k, case in ranked[:5])
    if not ranked:
        return Assigned(None, "cannot tell", (), "neither name nor behaviour says what it is")
    if key is None:
        best = ranked[0]
        taken = next((other for other, k in chosen.items() if other != tag and k == best[0]), "")
        if best[1].score >= GUESS and taken:
            return Assigned(None, "cannot tell", candidates, f"best fits {_words(best[0])}, as '{taken}' does")
        return Assigned(None, "cannot tell", candidates, f"too little speaks for {_words(best[0])}")
    score = found[key].score
    free = [
        (other, case.score) for other, case in ranked
        if other != key and not _held_better(tag, other, case.score, chosen, cases)
    ]  # fmt: skip
    next_key, next_score = free[0] if free else (key, 0.0)
    rival, rival_score = _rival(tag, key, chosen, cases)
    lead = score - max(next_score, rival_score)
    sure = next(
        (word for word, least in (("sure", SURE), ("likely", LIKELY), ("a guess", GUESS))
         if score >= least and lead >= LEAD[word] and not (word == "sure" and found[key].never_sure)),
        "cannot tell",
    )  # fmt: skip
    if sure == "cannot tell":
        why = f"fits {_words(key)} and {_words(next_key)} alike" if next_score >= rival_score else (
            f"'{rival}' fits {_words(key)} as well"
        )  # fmt: skip
        return Assigned(None, "cannot tell", candidates, why)
    ordered = (_candidate(key, found[key]), *(one for one in candidates if (one.role, one.subject) != key))
    return Assigned(key, sure, ordered)  # type: ignore[arg-type]


def _held_better(tag: str, key: Key, score: float, chosen: Mapping[str, Key], cases: Cases) -> bool:
    """Whether another tag has that role with more right, so that it is no alternative for this one."""
    if ROLES[key[0]].per == "sensor":
        return False
    return any(k == key and cases[other][k].score > score + 0.1 for other, k in chosen.items() if other != tag)


def _rival(tag: str, key: Key, chosen: Mapping[str, Key], cases: Cases) -> tuple[str, float]:
    """The best other tag for a role among those that have no better one."""
    if ROLES[key[0]].per == "sensor":
        return "", 0.0
    best = ("", 0.0)
    for other, found in cases.items():
        case = found.get(key)
        if other == tag or case is None:
            continue
        has = chosen.get(other)
        if has is not None and found[has].score >= case.score + 0.1:
            continue
        if case.score > best[1]:
            best = (other, case.score)
    return best


def _candidate(key: Key, case: Case) -> Candidate:
    return Candidate(key[0], key[1], round(case.score, 2), case.reasons, case.position)


def _words(key: Key) -> str:
    return key[0] + (f" of {key[1]}" if key[1] and not key[1].startswith("~") else "")
