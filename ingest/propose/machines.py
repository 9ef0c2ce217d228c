"""Several machines in one log: 'Machine1.…', 'Machine2.…', 'EX3_…' with the same names behind."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from ingest.propose.line_name import is_extruder, names_of_line
from ingest.propose.names import tokens_of
from ingest.propose.vocabulary import vocabulary

_DEPTH = 3
_PARTS = frozenset(
    {"zone", "die", "head", "adapter", "screen", "feeder", "stuffer", "vent", "melt", "pump", "hopper", "temperature"}
)
_MEASURED = frozenset({"temperature", "pressure"})


@dataclass(frozen=True)
class Machine:
    """Tags that start alike. name: what they start with. driven: it has a screw drive, so it can be an extruder."""

    name: str
    tags: tuple[str, ...]
    driven: bool


def machines_in(tags: Sequence[str]) -> tuple[list[Machine], list[str]]:
    """The machines of a log and the tags of none; no machine where the log is of one line."""
    groups: dict[tuple[int, str], dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for tag in tags:
        tokens = tokens_of(tag)
        for depth in range(min(_DEPTH, len(tokens) - 2)):
            word, number = tokens[depth], tokens[depth + 1]
            if number.isdigit() and not word.isdigit() and not _part(word):
                groups[depth, word][number].append(tag)
    best: list[Machine] = []
    for (_, word), numbered in groups.items():
        found = [Machine(f"{word} {number}", tuple(own), _driven(own)) for number, own in numbered.items()]
        if sum(one.driven for one in found) >= 2 and sum(len(m.tags) for m in found) > sum(len(m.tags) for m in best):
            best = found
    inside = {tag for one in best for tag in one.tags}
    return best, [tag for tag in tags if tag not in inside]


def _part(word: str) -> bool:
    """Whether a word names a part of a line, as 'zone' or 'feeder', of which every line has several."""
    words = vocabulary()
    if len(word) == 1 and word.casefold() in (words.letters_with_number | words.letters) and word.casefold() != "m":
        return True
    return any(_names_part(meaning) for meaning in words.meanings(word))


def _names_part(meaning: tuple[str, ...]) -> bool:
    """A melt pressure in one word, 'MP', is a sensor: what has a screw and heat behind it is none, but a line."""
    sensor = len(meaning) > 1 and not _MEASURED.isdisjoint(meaning)
    return not sensor and not _PARTS.isdisjoint(meaning)


def _driven(tags: Sequence[str]) -> bool:
    """A zone or feeder is no machine: what has both a screw drive and heat or melt is one."""
    return is_extruder(names_of_line(tags))
