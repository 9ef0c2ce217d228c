"""Notes of an import over notes that are there, by the same rule as cells: the first stands, empty time is filled."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ingest.archive.counts import Contradiction
from ingest.block import Note

LASTING_KINDS = ("lot", "recipe")
"""Kinds whose text holds until the next note of the kind."""

Span = tuple[int, int]


@dataclass(frozen=True)
class MergedNotes:
    """notes: of the day, in order. new: how many of them were not there. refused: texts that contradict."""

    notes: tuple[Note, ...]
    new: int
    refused: tuple[Contradiction, ...]


@dataclass(frozen=True)
class Texts:
    """Texts of lasting kinds that hold when a day begins: as it was there, in the import, and as it is to be."""

    there: dict[str, str]
    given: dict[str, str]
    merged: dict[str, str]


def merge_notes(
    there: Sequence[Note], given: Sequence[Note], covered: Sequence[Span], filled: Sequence[Span], before: Texts
) -> MergedNotes:
    """Notes of one day.

    covered: time that had cells, UTC ns. filled: time that has cells now and had none. Both in order.
    Where cells were there, what held there goes on to hold; where the import fills, its texts hold. A note is
    added wherever the text changes by that, and left out where it says what holds anyway.
    """
    notes = set(there)
    refused: list[Contradiction] = []
    notes |= {note for note in given if note.kind not in LASTING_KINDS}
    for kind in LASTING_KINDS:
        mine = sorted(note for note in there if note.kind == kind)
        theirs = sorted(note for note in given if note.kind == kind)
        if not theirs and kind not in before.given:
            continue
        was, says = _lookup(mine, before.there.get(kind)), _lookup(theirs, before.given.get(kind))
        now = before.merged.get(kind)
        at_mine = {note.at_ns for note in mine}
        moments = {*at_mine, *(note.at_ns for note in theirs), *(start for start, _ in (*covered, *filled))}
        for at_ns in sorted(moments):
            old, new = was(at_ns), says(at_ns)
            inside = _inside(covered, at_ns)
            if inside and old is not None and new is not None and old != new and _is_at(theirs, at_ns):
                refused.append(Contradiction(at_ns, kind, old, new))
            wanted = (old if old is not None else new) if inside else (new if new is not None else old)
            if wanted is not None and (wanted != now or at_ns in at_mine):
                notes.add(Note(at_ns, kind, wanted))
                now = wanted
    ordered = tuple(sorted(notes, key=lambda note: (note.at_ns, note.kind, note.text)))
    return MergedNotes(ordered, len(notes) - len(set(there)), tuple(refused))


def last_texts(notes: Sequence[Note], before: dict[str, str]) -> dict[str, str]:
    """Texts of lasting kinds that hold after notes in order."""
    return {**before, **{note.kind: note.text for note in notes if note.kind in LASTING_KINDS}}


def _lookup(notes: Sequence[Note], before: str | None) -> Callable[[int], str | None]:
    times = [note.at_ns for note in notes]

    def text_at(at_ns: int) -> str | None:
        place = bisect_right(times, at_ns)
        return notes[place - 1].text if place else before

    return text_at


def _is_at(notes: Sequence[Note], at_ns: int) -> bool:
    return any(note.at_ns == at_ns for note in notes)


def _inside(spans: Sequence[Span], at_ns: int) -> bool:
    place = bisect_right(spans, at_ns, key=lambda span: span[0])
    return place > 0 and at_ns < spans[place - 1][1]
