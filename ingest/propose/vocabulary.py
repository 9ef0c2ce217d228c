"""What words and abbreviations in tag names mean, in several languages: the tables of words.toml, ready to look up."""

from __future__ import annotations

import tomllib
import unicodedata
from dataclasses import dataclass
from functools import cache
from importlib import resources

_GLUE = ("", "s", "n", "en", "e", "er", "es")
_SHORTEST_INSIDE = 3
# Letters that are no letter with a mark, so that taking the marks off leaves them.
_OWN_LETTERS = str.maketrans("łŁıøØđĐ", "lLioOdD")
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})


def in_latin_1(text: str) -> str:
    """Letters beyond Latin-1 without their marks, so that 'Głowica' is one word: 'Glowica'."""
    return "".join(mark if mark < "\u0100" else _without_marks(mark) for mark in text.translate(_OWN_LETTERS))


def _without_marks(text: str) -> str:
    return "".join(mark for mark in unicodedata.normalize("NFKD", text) if not unicodedata.combining(mark))


def plain(text: str) -> str:
    """Small letters without accents: 'Düse' is 'duse'."""
    folded = unicodedata.normalize("NFKD", text.casefold().translate(_OWN_LETTERS))
    return "".join(mark for mark in folded if not unicodedata.combining(mark))


@dataclass(frozen=True)
class Vocabulary:
    """words: word -> the concepts it may stand for, each a tuple of one or two that come together.

    letters, letters_with_number: single letter -> concepts it may stand for, the latter only with a number behind.
    """

    words: dict[str, tuple[tuple[str, ...], ...]]
    letters: dict[str, tuple[str, ...]]
    letters_with_number: dict[str, tuple[str, ...]]

    def meanings(self, word: str) -> tuple[tuple[str, ...], ...]:
        """What a word may stand for, () if it is not known; long words are taken apart, 'Massedruck', 'zonetemp'."""
        key = plain(word)
        if key in self.words:
            return self.words[key]
        pieces = self._apart(key) if len(key) >= 2 * _SHORTEST_INSIDE else None
        if pieces is None:
            return ()
        # Of a piece with several meanings the first is taken: compounds of two ambiguous words are rare.
        together = [concept for piece in pieces for concept in self.words[piece][0]]
        return (tuple(dict.fromkeys(together)),)

    def _apart(self, key: str) -> tuple[str, ...] | None:
        """The fewest known words that make up the whole of `key`, German joining letters between them allowed."""
        best: dict[int, tuple[str, ...]] = {0: ()}
        for start in range(len(key)):
            if start not in best:
                continue
            for end in range(start + _SHORTEST_INSIDE, len(key) + 1):
                piece = key[start:end]
                if piece not in self.words:
                    continue
                for glue in _GLUE:
                    stop = end + len(glue)
                    if key.startswith(glue, end) and (stop < len(key) or not glue):
                        found = (*best[start], piece)
                        if stop not in best or len(found) < len(best[stop]):
                            best[stop] = found
        whole = best.get(len(key))
        return whole if whole and len(whole) > 1 else None


def table(name: str) -> dict[str, object]:
    """A table of this package."""
    return tomllib.loads(resources.files("ingest.propose").joinpath(name).read_text(encoding="utf-8"))


@cache
def vocabulary() -> Vocabulary:
    """The vocabulary of words.toml."""
    content = table("words.toml")
    words: dict[str, list[tuple[str, ...]]] = {}

    def learn(word: str, concepts: tuple[str, ...]) -> None:
        for key in {plain(word), plain(word.casefold().translate(_UMLAUTS))}:
            known = words.setdefault(key, [])
            if concepts not in known:
                known.append(concepts)

    special = {name: content.pop(name) for name in ("pairs", "letters", "letters_with_number")}
    for concept, languages in content.items():
        for found in languages.values():  # type: ignore[attr-defined]
            for word in found:
                learn(word, (concept,))
    for word, concepts in special["pairs"].items():  # type: ignore[attr-defined]
        learn(word, tuple(concepts))
    letters = {name: {k: tuple(v) for k, v in special[name].items()} for name in ("letters", "letters_with_number")}  # type: ignore[attr-defined]
    return Vocabulary(
        {word: tuple(found) for word, found in words.items()}, letters["letters"], letters["letters_with_number"]
    )
