"""The one error a log can raise: what is wrong with it, where, and what to do."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from pathlib import Path


class BadLog(Exception):
    """A log that cannot be read. The message is for the person who brought the log.

    path: the log.
    reason: what is wrong, as a clause without a full stop.
    row: row of the file, counted from 1 as an editor or spreadsheet counts.
    column: name of the column.
    hint: what to do about it.
    """

    def __init__(
        self, path: Path | str, reason: str, *, row: int | None = None, column: str | None = None, hint: str = ""
    ) -> None:
        self.path = str(path)
        self.reason = reason
        self.row = row
        self.column = column
        self.hint = hint
        place = self.path
        if row is not None:
            place += f", row {row}"
        if column is not None:
            place += f", column '{column}'"
        super().__init__(f"{place}: {reason}." + (f" {hint}" if hint else ""))


class NotThisLine(BadLog):
    """A file that holds nothing of this line; of several together it may be left out."""


class MissingColumns(BadLog):
    """A log without columns that the line file names."""


def nearest(name: str, known: Sequence[str], most: int = 3) -> list[str]:
    """The names in `known` most like `name`, best first; letter case and blanks do not count."""
    folded: dict[str, str] = {}
    for candidate in known:
        folded.setdefault(_fold(candidate), candidate)
    close = difflib.get_close_matches(_fold(name), folded, n=most, cutoff=0.5)
    return [folded[key] for key in close]


def missing_columns(path: Path | str, wanted: Sequence[str], known: Sequence[str]) -> MissingColumns:
    """The error for columns the line file names and the log does not have, with the nearest that exist."""
    sentences = []
    for name in wanted[:5]:
        near = nearest(name, known)
        like = f"nearest: {', '.join(repr(n) for n in near)}" if near else "nothing like it in the log"
        sentences.append(f"'{name}' ({like})")
    more = f" and {len(wanted) - 5} more" if len(wanted) > 5 else ""
    shown = ", ".join(repr(name) for name in known[:12]) + (", ..." if len(known) > 12 else "")
    noun = "column is" if len(wanted) == 1 else "columns are"
    return MissingColumns(
        path,
        f"{len(wanted)} {noun} missing: {'; '.join(sentences)}{more}",
        column=wanted[0] if len(wanted) == 1 else None,
        hint=f"Correct the tag in the line file or export the column. Columns in the log: {shown or 'none'}".rstrip(".")
        + ".",
    )


def _fold(name: str) -> str:
    return "".join(name.split()).casefold()
