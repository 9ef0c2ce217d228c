"""What is kept of each day of a line: which files hold it, its notes, what each import brought. One record a change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ingest.archive.layout import FORMAT, book_folder
from ingest.archive.place import Place
from ingest.archive.sealed import sealed, unsealed
from ingest.block import Note
from ingest.errors import BadLog


@dataclass(frozen=True)
class DayRecord:
    """One day as it stands.

    number: counts the changes of the day. cells, coarse: paths of its files; coarse may be ''.
    rows: cells on the time axis. first, end: of the cells, UTC ns.
    imports: by import, what it brought to this day (see `counts.Brought`).
    """

    day: str
    number: int
    step: int
    channels: tuple[str, ...]
    cells: str
    coarse: str
    rows: int
    first: int
    end: int
    notes: tuple[Note, ...]
    imports: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "format": FORMAT, "day": self.day, "step_ns": self.step, "channels": list(self.channels),
            "cells": self.cells, "coarse": self.coarse, "rows": self.rows, "first_ns": self.first, "end_ns": self.end,
            "notes": [[note.at_ns, note.kind, note.text] for note in self.notes],
            "imports": dict(self.imports),
        }  # fmt: skip


class DayBook:
    """The days of one line, as they stood when this was made and as they are put since."""

    def __init__(self, place: Place, line: str) -> None:
        self._place, self._line = place, line
        self._folder = f"{book_folder(line)}/days"
        self._numbers: dict[str, list[int]] = {}
        self._known: dict[str, DayRecord] = {}
        for path in place.files(self._folder):
            day, _, rest = path.rpartition("/")[2].partition(".")
            number = rest.removesuffix(".json")
            if number.isdigit() and not day.startswith("."):
                self._numbers.setdefault(day, []).append(int(number))
        for numbers in self._numbers.values():
            numbers.sort()

    @property
    def days(self) -> list[str]:
        """Days that may have a record, in order."""
        return sorted(self._numbers)

    def at(self, day: str) -> DayRecord | None:
        """The day as it stands, None where nothing of it was kept. Raises BadLog for another format."""
        if day not in self._known:
            for number in reversed(self._numbers.get(day, [])):
                record = unsealed(self._place.read(self._path(day, number)))
                if record is not None:
                    self._known[day] = _record(record, number, str(self._place))
                    break
        return self._known.get(day)

    def put(self, record: DayRecord) -> None:
        """The day stands so from now on: the one moment at which a change of the archive takes hold."""
        self._place.put(self._path(record.day, record.number), sealed(record.as_dict()))
        self._numbers.setdefault(record.day, []).append(record.number)
        self._known[record.day] = record

    def next_number(self, day: str) -> int:
        """Number for the next record of a day; one that was cut off under that number is written over."""
        record = self.at(day)
        return record.number + 1 if record else 1

    def current_files(self) -> set[str]:
        """Paths of all records and data files that count."""
        found: set[str] = set()
        for day in self.days:
            record = self.at(day)
            if record is not None:
                found |= {self._path(day, record.number), record.cells, record.coarse}
        return found

    def _path(self, day: str, number: int) -> str:
        return f"{self._folder}/{day}.{number:06d}.json"


def _record(data: Mapping[str, Any], number: int, place: str) -> DayRecord:
    if data["format"] != FORMAT:
        raise BadLog(place, f"archive has format {data['format']}, this version reads {FORMAT}")
    return DayRecord(
        data["day"], number, data["step_ns"], tuple(data["channels"]), data["cells"], data["coarse"], data["rows"],
        data["first_ns"], data["end_ns"], tuple(Note(at, kind, text) for at, kind, text in data["notes"]),
        data["imports"],
    )  # fmt: skip
