"""Lot and recipe columns as notes: one note where the text of a column changes."""

from __future__ import annotations

import re

import numpy as np
import pyarrow as pa

from ingest.arrow_compute import pc
from ingest.block import Note
from ingest.errors import BadLog
from ingest.mapping import LogMapping
from ingest.number_text import NO_READING
from ingest.raw_rows import RawRows
from ingest.readings import Places
from ingest.time_stamps import as_text

MOST_TEXTS = 100_000
"""Different texts in a lot or recipe column; with more it holds something else."""


class NoteTexts:
    """Gives texts codes while rows are still unsorted, and notes once they are in order.

    A cell without text says nothing, so the lot before it goes on. A number reads the same with or without '.0'.
    """

    def __init__(self, mapping: LogMapping) -> None:
        pairs = (("lot", mapping.lot_column), ("recipe", mapping.recipe_column))
        self._columns = tuple((kind, column) for kind, column in pairs if column)
        self._codes: tuple[dict[str, int], ...] = tuple({} for _ in self._columns)
        self._texts: tuple[list[str], ...] = tuple([] for _ in self._columns)
        self._now = [-1] * len(self._columns)

    def codes(self, rows: RawRows) -> np.ndarray:
        """Codes int32, shape (columns, n), -1 where a row says nothing. Raises BadLog beyond MOST_TEXTS."""
        codes = np.full((len(self._columns), len(rows.numbers)), -1, np.int32)
        for i, (kind, column) in enumerate(self._columns):
            if column not in rows.columns:  # in a file beside this one
                continue
            known, texts = self._codes[i], self._texts[i]
            encoded = _plain(rows.columns[column]).combine_chunks().dictionary_encode()
            meaning: list[int] = []
            for raw in encoded.dictionary.to_pylist():
                text = re.sub(r"^(-?\d+)\.0+$", r"\1", raw.strip())
                if text.casefold() in NO_READING:
                    meaning.append(-1)
                    continue
                if text not in known:
                    known[text] = len(texts)
                    texts.append(text)
                meaning.append(known[text])
            if len(texts) > MOST_TEXTS:
                raise BadLog(
                    rows.file,
                    f"the {kind} changes nearly every row",
                    column=column,
                    hint=f"Correct {kind}_column in the line file.",
                )
            if meaning:
                codes[i] = np.array(meaning, np.int32)[encoded.indices.to_numpy()]
        return codes

    def notes(self, places: Places) -> list[Note]:
        """Notes for the changes in rows that are in order of time."""
        notes: list[Note] = []
        for i, (kind, _) in enumerate(self._columns):
            said = np.flatnonzero(places.texts[i] >= 0)
            codes = places.texts[i, said]
            changes = np.flatnonzero(np.diff(codes, prepend=self._now[i]) != 0)
            notes += [Note(int(places.at_ns[said[k]]), kind, self._texts[i][codes[k]]) for k in changes]
            if len(codes):
                self._now[i] = int(codes[-1])
        return sorted(notes, key=lambda note: note.at_ns)


def _plain(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """Texts; whole numbers in a float column without their '.0'."""
    if pa.types.is_floating(column.type):
        values = column.cast(pa.float64(), safe=False)
        whole = pc.and_(pc.equal(values, pc.floor(values)), pc.less(pc.abs(values), 1e15))
        whole = pc.fill_null(whole, False)
        integers = pc.cast(pc.if_else(whole, values, 0.0), pa.int64()).cast(pa.string())
        return pc.if_else(whole, integers, as_text(values))
    return as_text(column)
