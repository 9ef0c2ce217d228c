"""Takes a tag name apart: which concepts its words stand for, which numbers it carries, which unit."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from ingest.propose.unit_in_name import CONCEPT_OF, UnitFound, known_unit, unit_behind
from ingest.propose.vocabulary import in_latin_1, plain, vocabulary

_WORD = re.compile(r"[A-ZÀ-ÖØ-Þ]+(?=[A-ZÀ-ÖØ-Þ][a-zß-öø-ÿ])|[A-ZÀ-ÖØ-Þ]?[a-zß-öø-ÿ]+|[A-ZÀ-ÖØ-Þ]+|\d+|%|[^\W\d_]+")
_QUANTITIES = frozenset(CONCEPT_OF.values()) | {
    "output", "load", "level", "refill", "gravimetric", "running", "auto", "dew_point", "heating", "cooling", "none",
}  # fmt: skip
SUBJECTS = (
    "zone",
    "die",
    "head",
    "adapter",
    "screen",
    "feeder",
    "stuffer",
    "vent",
    "melt",
    "pump",
    "throat",
    "gearbox",
)
_MOST_READINGS = 12
_INDEX_LETTERS = frozenset("ABCDEFGH")
_BEHIND_ZONE = {"d": "die", "a": "adapter"}
"""Letters with a number in a name that has the word zone, 'Zone D1': zones of a place of their own."""
_CARDS = frozenset({"ai", "ao", "di", "do"})
"""Inputs and outputs of a controller, with the number of the channel behind."""


@dataclass(frozen=True)
class Reading:
    """One way to understand a tag name.

    concepts: what it speaks of. weak: those of them that a single letter says. unknown: words not understood.
    by_unit: the unit is all that says what it is.
    numbers: each with the concept right before it, '' where there is none, in the order of the name.
    """

    concepts: frozenset[str]
    weak: frozenset[str]
    unknown: tuple[str, ...]
    numbers: tuple[tuple[str, int], ...]
    by_unit: bool = False


@dataclass(frozen=True)
class TagName:
    """A tag name taken apart. readings: ways to understand it, the first meaning of every word first.

    unit: as written, from the name or the header rows. unit_firm: it can hardly be anything else. unit_given: the
        header rows have it.
    """

    tag: str
    tokens: tuple[str, ...]
    readings: tuple[Reading, ...]
    unit: str
    unit_firm: bool
    unit_given: bool = False

    @property
    def quantity(self) -> str:
        """Of the unit, '' where there is none."""
        return known_unit(self.unit) if self.unit else ""


Tokens = tuple[str, ...]


@dataclass(frozen=True)
class Ends:
    """Words, in small letters, that names start and end with and that say nothing of what a tag shows."""

    lead: Tokens
    tail: Tokens

    def cut(self, tokens: Tokens) -> Tokens:
        """A name without them; one that is nothing else stays whole."""
        small = tuple(token.casefold() for token in tokens)
        if self.lead and len(small) > len(self.lead) and small[: len(self.lead)] == self.lead:
            tokens, small = tokens[len(self.lead) :], small[len(self.lead) :]
        if self.tail and len(small) > len(self.tail) and small[-len(self.tail) :] == self.tail:
            tokens = tokens[: -len(self.tail)]
        return tokens


NO_ENDS = Ends((), ())


def tokens_of(name: str) -> tuple[str, ...]:
    """Words and numbers of a name: 'Machine1.MotorRPM' is Machine, 1, Motor, RPM."""
    return tuple(_WORD.findall(in_latin_1(name)))


def read_names(tags: Sequence[str], units: dict[str, str] | None = None, ends: Ends = NO_ENDS) -> list[TagName]:
    """Every tag taken apart. units: from the rows below the header, by tag. ends: what only names the line."""
    units = units or {}
    found = [_unit_before(ends.tail, unit_behind(tag)) for tag in tags]
    whole = [tokens_of(one.rest) or tokens_of(tag) for one, tag in zip(found, tags, strict=True)]
    every = [ends.cut(tokens) for tokens in whole]
    leading = _common_start(every)
    often = Counter(token.casefold() for tokens in every for token in set(tokens))
    common = {token for token, count in often.items() if len(tags) > 4 and count > 0.6 * len(tags)}
    lettered = _letters_apart(every)
    numbered = any(_says_zone(one) and two.isdigit() for tokens in every for one, two in pairwise(tokens))
    names = []
    for tag, one, tokens, full in zip(tags, found, every, whole, strict=True):
        given = units.get(tag, "").strip()
        unit, firm = (given, True) if given and known_unit(given) else (one.unit, one.firm)
        apart = frozenset(place - leading for place in lettered.get(tokens, ()) if place >= leading)
        readings = _readings(tokens[leading:], common, known_unit(unit) if unit else "", apart, numbered)
        names.append(TagName(tag, full, readings, unit, firm, bool(given and unit == given)))
    return names


def _unit_before(tail: Tokens, found: UnitFound) -> UnitFound:
    """The unit that stands ahead of the name of the line, 'Screw speed rpm MP1'."""
    if not tail or found.unit:
        return found
    text = in_latin_1(found.rest)
    words = list(_WORD.finditer(text))
    if len(text) != len(found.rest) or tuple(one[0].casefold() for one in words[-len(tail) :]) != tail:
        return found
    ahead = unit_behind(found.rest[: words[-len(tail)].start()].rstrip(" ._-/:"))
    return ahead if ahead.unit and tokens_of(ahead.rest) else found


def _says_zone(token: str) -> bool:
    return len(token) > 1 and ("zone",) in vocabulary().meanings(token)


def _letters_apart(every: Sequence[tuple[str, ...]]) -> dict[tuple[str, ...], set[int]]:
    """Places of capitals of the start of the alphabet in which names differ that are otherwise the same.

    Single ones, 'Feeder A' and 'Feeder B', or each behind another, 'FA', 'FB' and 'FC': then FB is no feedback.
    """
    alike: dict[tuple[int, str, tuple[str, ...]], set[str]] = {}
    for tokens in set(every):
        for place, token in enumerate(tokens):
            if token[-1] in _INDEX_LETTERS and token.isupper() and (len(token) == 2 or (len(token) == 1 < len(tokens))):
                key = (place, token[:-1], (*tokens[:place], "*", *tokens[place + 1 :]))
                alike.setdefault(key, set()).add(token[-1])
    found: dict[tuple[str, ...], set[int]] = {}
    for (place, ahead, pattern), letters in alike.items():
        places = letters <= {letter.upper() for letter in _BEHIND_ZONE} and any(map(_says_zone, pattern))
        if len(letters) >= (3 if ahead else 2) and "A" in letters and not places:
            for letter in letters:
                found.setdefault((*pattern[:place], ahead + letter, *pattern[place + 1 :]), set()).add(place)
    return found


def _common_start(every: Sequence[tuple[str, ...]]) -> int:
    """How many leading words say nothing, as all names have them."""
    if len(every) < 3:
        return 0
    words, count = vocabulary(), 0
    while all(len(tokens) > count + 1 and tokens[count] == every[0][count] for tokens in every):
        meanings = words.meanings(every[0][count])
        if any(concept not in ("neutral", "none") for meaning in meanings for concept in meaning):
            break
        count += 1
    return count


def _readings(
    tokens: tuple[str, ...],
    common: set[str],
    quantity: str,
    apart: frozenset[int] = frozenset(),
    numbered: bool = False,
) -> tuple[Reading, ...]:
    """apart: places of letters that only tell one tag from another, 'Feeder A' from 'Feeder B'.

    numbered: other tags are zones by a number alone, so that a letter says more than which machine it is.
    """
    words = vocabulary()
    choices: list[tuple[tuple[str, ...], ...]] = []
    tokens = _joined(tokens) if not apart else tokens
    placed = numbered and any(map(_says_zone, tokens))
    for place, token in enumerate(tokens):
        if token.isdigit():
            choices.append(((token,),))
            continue
        followed = place + 1 < len(tokens) and tokens[place + 1].isdigit()
        if placed and followed and token.casefold() in _BEHIND_ZONE:
            choices.append(((_BEHIND_ZONE[token.casefold()],),))
            continue
        if place in apart:
            choices.append(((f"!{token}",),))
            continue
        meanings = words.meanings(token)
        if token.casefold() in _CARDS and followed:
            meanings = (("neutral",),)
        if not meanings and len(token) == 1:
            key = token.casefold()
            letters = (words.letters_with_number.get(key) if followed else None) or words.letters.get(key, ())
            meanings = tuple(("neutral",) if one == "neutral" else (f"?{one}",) for one in letters) or (("neutral",),)
        if not meanings:
            meanings = (("neutral",),) if token.casefold() in common else ((f"!{token}",),)
        choices.append(meanings)
    readings = []
    for chosen in list(product(*choices))[:_MOST_READINGS]:
        readings.append(_reading(chosen, quantity))
    return tuple(dict.fromkeys(readings))


def _joined(tokens: tuple[str, ...]) -> tuple[str, ...]:
    """Two words that are one word of the trade, 'HaulOff', 'set point', are put together.

    A letter with a number behind stays by itself: 'SP_D1' is the set-point of D1 and no 'spd'.
    """
    words = vocabulary().words
    found: list[str] = []
    for place, token in enumerate(tokens):
        index = len(token) == 1 and tokens[place + 1 : place + 2] != () and tokens[place + 1].isdigit()
        if found and not token.isdigit() and not index and len(found[-1]) > 1 and plain(found[-1] + token) in words:
            found[-1] += token
        else:
            found.append(token)
    return tuple(found)


def _reading(chosen: Sequence[tuple[str, ...]], quantity: str) -> Reading:
    strong: set[str] = set()
    letters: list[str] = []
    unknown: list[str] = []
    numbers: list[tuple[str, int]] = []
    before = ""
    for meaning in chosen:
        for concept in meaning:
            if concept.isdigit():
                numbers.append((before, int(concept)))
                before = ""
            elif concept.startswith("?"):
                letters.append(concept[1:])
                before = concept[1:]
            elif concept.startswith("!"):
                unknown.append(concept[1:])
                before = ""
            else:
                if concept != "neutral":
                    strong.add(concept)
                before = concept
    by_unit = not strong and not letters
    concept = CONCEPT_OF.get(quantity, "")
    if concept and concept != "share" and not strong & _QUANTITIES - {"heating", "cooling", "output"}:
        strong.add(concept)
    weak = set()
    for letter in letters:
        taken = _QUANTITIES if letter in _QUANTITIES else set(SUBJECTS) if letter in SUBJECTS else {letter}
        if letter in ("setpoint", "actual", "output"):
            taken = {"setpoint", "actual", "output"}
        if not strong & taken:
            weak.add(letter)
    return Reading(frozenset(strong | weak), frozenset(weak), tuple(unknown), tuple(numbers), by_unit)
