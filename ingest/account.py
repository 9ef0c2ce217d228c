"""What became of every row of a log: rows read = rows accepted + rows set aside, with reasons and places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from ingest.written_number import written_number

LISTED_PER_REASON = 20
"""Rows listed one by one for each reason; beyond that they are only counted."""
LISTED_PLACES = 1000
"""Gaps and clock steps listed one by one; beyond that they are only counted."""

# Reasons for which a row is set aside.
ANOTHER_LINE = "belongs to another line"
TAG_NOT_MAPPED = "tag is not in the line file"
WRONG_COLUMNS = "wrong number of columns"
OPEN_QUOTE = "quotation mark is never closed"
CUT_OFF = "row is cut off at the end of the file"
HEADER_AGAIN = "header row stands here again"
NO_TIME = "no readable time"
NO_SUCH_TIME = "local time that does not exist (clock change)"
STRANGE_YEAR = "stamp is outside 1980 to 2100"
LONE_STAMP = "stamp is far ahead of its neighbours"
BACKWARDS = "clock runs backwards"
OVERLAP = "overlaps an earlier file"
NO_VALUE = "no value can be read"

# How sure an assumption or a notice is.
SURE = "sure"
LIKELY = "likely"
GUESS = "a guess"

EXPECTED_REASONS = frozenset({ANOTHER_LINE, TAG_NOT_MAPPED})
"""Reasons that are no fault of the log: such rows are counted and not listed."""


@dataclass(frozen=True)
class SetAside:
    """One row that was not accepted."""

    file: str
    row: int
    reason: str
    text: str = ""


@dataclass(frozen=True)
class Unreadable:
    """Values of one tag that are no numbers: how many, and where the first one stands."""

    count: int
    file: str
    row: int
    text: str


@dataclass(frozen=True)
class Gap:
    """A time without rows, UTC nanoseconds. row: the row that ended it. filled: cells stand for it."""

    file: str
    row: int
    from_ns: int
    to_ns: int
    filled: bool


@dataclass(frozen=True)
class ClockStep:
    """The clock of the log stepped back, UTC nanoseconds. rows: rows set aside until it caught up."""

    file: str
    row: int
    from_ns: int
    to_ns: int
    rows: int

    @property
    def back_s(self) -> float:
        """How far back, seconds."""
        return (self.from_ns - self.to_ns) / 1e9


@dataclass
class FileRead:
    """One file of the log, as it was found and read; `rows == rows_accepted + rows set aside` at the end of the log.

    set_aside_by_reason: rows set aside. duplicates: accepted rows whose stamp (and tag, in the long layout) an earlier
    row had. gaps: times without rows that a row of this file ended.
    """

    path: str
    kind: str
    found: dict[str, str] = field(default_factory=dict)
    rows: int = 0
    first_ns: int | None = None
    last_ns: int | None = None
    rows_accepted: int = 0
    set_aside_by_reason: dict[str, int] = field(default_factory=dict)
    duplicates: int = 0
    gaps: int = 0


@dataclass
class ReadingAccount:
    """Fills while a log is read; `rows_read == rows_accepted + rows_set_aside` at every moment.

    set_aside: the first LISTED_PER_REASON rows of every reason that is a fault.
    set_aside_by_reason: every row set aside, counted.
    values_unreadable: by tag; the rows themselves may have been accepted for their other values.
    values_missing: by tag, values that say 'no reading'.
    out_of_order: accepted rows that stood up to 10 s behind an earlier row and were sorted in.
    duplicates: rows whose stamp (and tag, in the long layout) an earlier row already had.
    values_sentinel: by tag, numbers that no such sensor can show and that stand for 'no reading', as 'number': count;
        they are among values_missing.
    values_out_of_range: by tag, values that the sensor cannot show after the line file; they are 'bad'.
    silent_tags: mapped tags without one reading.
    assumptions: sentences about what the log does not say and had to be decided.
    noticed: sentences about what was seen in the readings; nothing was changed because of it.
    how_sure: by sentence of `assumptions` and `noticed`, SURE, LIKELY or GUESS.
    conversions: by tag, the unit in the log and the unit inside.
    characters: by tag, how it is logged, see `ingest.channel_character`.
    """

    files: list[FileRead] = field(default_factory=list)
    rows_accepted: int = 0
    set_aside: list[SetAside] = field(default_factory=list)
    set_aside_by_reason: dict[str, int] = field(default_factory=dict)
    values_unreadable: dict[str, Unreadable] = field(default_factory=dict)
    values_missing: dict[str, int] = field(default_factory=dict)
    values_sentinel: dict[str, dict[str, int]] = field(default_factory=dict)
    values_out_of_range: dict[str, int] = field(default_factory=dict)
    out_of_order: int = 0
    duplicates: int = 0
    gaps: list[Gap] = field(default_factory=list)
    gap_count: int = 0
    gap_s: float = 0.0
    clock_steps: list[ClockStep] = field(default_factory=list)
    clock_step_count: int = 0
    silent_tags: list[str] = field(default_factory=list)
    assumptions: list[str] = field(default_factory=list)
    noticed: list[str] = field(default_factory=list)
    how_sure: dict[str, str] = field(default_factory=dict)
    conversions: dict[str, str] = field(default_factory=dict)
    characters: dict[str, dict[str, Any]] = field(default_factory=dict)
    aside_of: dict[str, dict[str, int]] = field(default_factory=dict)
    """By file and reason, rows set aside; goes to `files` when the log is at its end. So do gaps_of."""
    gaps_of: dict[str, int] = field(default_factory=dict)
    rows_read: int = 0

    @property
    def rows_set_aside(self) -> int:
        """All rows set aside."""
        return sum(self.set_aside_by_reason.values())

    def accept(self, rows: int) -> None:
        """`rows` rows were read and taken."""
        self.rows_read += rows
        self.rows_accepted += rows

    def put_aside(self, file: str, reason: str, rows: Sequence[int] | np.ndarray, texts: Sequence[str] = ()) -> None:
        """Rows that were read and not taken.

        rows: their numbers in the file, rising. texts: what stood there; only the first ones are looked at.
        """
        if not len(rows):
            return
        before = self.set_aside_by_reason.get(reason, 0)
        self.rows_read += len(rows)
        self.set_aside_by_reason[reason] = before + len(rows)
        self._of_file(file, reason, len(rows))
        if reason in EXPECTED_REASONS:
            return
        for i in range(min(len(rows), max(0, LISTED_PER_REASON - before))):
            text = str(texts[i])[:80] if i < len(texts) else ""
            self.set_aside.append(SetAside(file, int(rows[i]), reason, text))

    def part(self) -> ReadingAccount:
        """An empty account for a part of the rows, to be absorbed later."""
        return ReadingAccount()

    def absorb(self, part: ReadingAccount) -> None:
        """Adds the rows that another account set aside, its repeats, late rows and clock steps."""
        for reason, count in part.set_aside_by_reason.items():
            before = self.set_aside_by_reason.get(reason, 0)
            listed = [one for one in part.set_aside if one.reason == reason]
            self.set_aside += listed[: max(0, LISTED_PER_REASON - before)]
            self.set_aside_by_reason[reason] = before + count
            self.rows_read += count
        for file, counts in part.aside_of.items():
            for reason, count in counts.items():
                self._of_file(file, reason, count)
        self.out_of_order += part.out_of_order
        self.duplicates += part.duplicates
        for step in part.clock_steps:
            self.add_clock_step(step)
        self.clock_step_count += part.clock_step_count - len(part.clock_steps)

    def unreadable(self, tag: str, count: int, file: str, row: int, text: str) -> None:
        """`count` more values of a tag are no numbers; the first of them stands at `row`."""
        known = self.values_unreadable.get(tag)
        if known is None:
            self.values_unreadable[tag] = Unreadable(count, file, row, text[:80])
        else:
            self.values_unreadable[tag] = Unreadable(known.count + count, known.file, known.row, known.text)

    def missing(self, tag: str, count: int) -> None:
        """`count` more values of a tag say 'no reading'."""
        if count:
            self.values_missing[tag] = self.values_missing.get(tag, 0) + count

    def sentinel(self, tag: str, number: float, count: int) -> None:
        """`count` more values of a tag are a number that stands for 'no reading'."""
        known = self.values_sentinel.setdefault(tag, {})
        written = written_number(number)
        known[written] = known.get(written, 0) + count

    def out_of_range(self, tag: str, count: int) -> None:
        """`count` more values of a tag are none that its sensor can show."""
        if count:
            self.values_out_of_range[tag] = self.values_out_of_range.get(tag, 0) + count

    def add_gap(self, gap: Gap) -> None:
        """A time without rows."""
        self.gap_count += 1
        self.gaps_of[gap.file] = self.gaps_of.get(gap.file, 0) + 1
        self.gap_s += (gap.to_ns - gap.from_ns) / 1e9
        if len(self.gaps) < LISTED_PLACES:
            self.gaps.append(gap)

    def add_clock_step(self, step: ClockStep) -> None:
        """The clock stepped back."""
        self.clock_step_count += 1
        if len(self.clock_steps) < LISTED_PLACES:
            self.clock_steps.append(step)

    def assume(self, sentence: str, how_sure: str = LIKELY) -> None:
        """Something the log does not say was decided; the same sentence is kept once."""
        if sentence not in self.assumptions:
            self.assumptions.append(sentence)
            self.how_sure[sentence] = how_sure

    def notice(self, sentence: str, how_sure: str) -> None:
        """Something was seen in the readings and a person should know; nothing was changed because of it."""
        if sentence not in self.noticed:
            self.noticed.append(sentence)
            self.how_sure[sentence] = how_sure

    def settle_files(self) -> None:
        """Gives every file its part of the counts; to be called when the log is at its end."""
        paths = [entry.path for entry in self.files]
        for entry in self.files:
            if paths.count(entry.path) > 1:  # one file given twice: its counts cannot be told apart
                continue
            entry.set_aside_by_reason = dict(self.aside_of.get(entry.path, {}))
            entry.rows_accepted = entry.rows - sum(entry.set_aside_by_reason.values())
            entry.gaps = self.gaps_of.get(entry.path, 0)

    def _of_file(self, file: str, reason: str, count: int) -> None:
        known = self.aside_of.setdefault(file, {})
        known[reason] = known.get(reason, 0) + count

    def as_dict(self) -> dict[str, Any]:
        """Plain types for JSON, rows set aside in the order of the files."""
        order = {entry.path: i for i, entry in enumerate(self.files)}
        data = asdict(self)
        del data["aside_of"], data["gaps_of"]  # they stand with the files
        data["rows_set_aside"] = self.rows_set_aside
        listed = sorted(self.set_aside, key=lambda one: (order.get(one.file, -1), one.row, one.reason))
        data["set_aside"] = [asdict(one) for one in listed]
        return data
