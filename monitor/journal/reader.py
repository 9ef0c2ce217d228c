"""The reading side of the journal: what the pages, the reports and a restarted live service ask for."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal, TypeVar

import numpy as np

from ingest.block import Block, Note
from monitor.journal import actions as kept_actions
from monitor.journal import lines as kept_lines
from monitor.journal import notes as kept_notes
from monitor.journal import phases as kept_phases
from monitor.journal import place as kept_place
from monitor.journal import records as kept_records
from monitor.journal import used_files as kept_files
from monitor.journal.actions import Action
from monitor.journal.cells import HOUR_NS, hour_of, join, on_grid, shown, stretches
from monitor.journal.engine import open_engine, reading
from monitor.journal.errors import JournalError
from monitor.journal.levels import WIDTHS_S, Levels
from monitor.journal.phases import PhaseRun
from monitor.journal.place import Newest, Resume
from monitor.journal.quantities import Series, as_series, coarse_step
from monitor.journal.readings import QUANTITY, READING, read_levels, read_pieces, stored_channels
from monitor.journal.used_files import UsedFile
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.records import Finding, Record

MOST_VALUES = 50_000_000
"""Most readings one call hands out; longer ranges are for `levels`."""

_Self = TypeVar("_Self", bound="JournalReader")


class JournalReader:
    """Opens the journal at a path or database URL; `create` makes it when it is not there.

    Every method is one transaction and sees one state, whatever is written meanwhile. All times are UTC
    nanoseconds, all ranges [t0, t1). Raises JournalError when it cannot be opened or has no such line.
    """

    def __init__(self, url_or_path: str | Path, *, create: bool = True) -> None:
        self._engine = open_engine(url_or_path, create=create)
        self._lines: dict[tuple[str, str], Line] = {}

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    def __enter__(self: _Self) -> _Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def lines(self) -> list[str]:
        """Every line, by name."""
        with reading(self._engine) as connection:
            return kept_lines.line_names(connection)

    def line(self, name: str) -> Line:
        """The line file as it was registered last."""
        with reading(self._engine) as connection:
            version = kept_lines.line_version(connection, name)
            if (name, version) not in self._lines:
                self._lines[name, version] = kept_lines.read_line(connection, name)
        return self._lines[name, version]

    def recipes(self, name: str) -> list[Recipe]:
        """The recipes of a line, in the order they were given."""
        with reading(self._engine) as connection:
            return kept_lines.read_recipes(connection, name)

    def channels(self, line: str) -> tuple[str, ...]:
        """Keys of the channels that readings are stored of."""
        with reading(self._engine) as connection:
            return stored_channels(connection, line, READING)

    def quantity_names(self, line: str) -> tuple[str, ...]:
        """Names of the quantities that are stored."""
        with reading(self._engine) as connection:
            return stored_channels(connection, line, QUANTITY)

    def blocks(self, line: str, t0: int, t1: int, channels: Sequence[str] | None = None) -> Block:
        """Cells that start in [t0, t1) of the wanted channels (None = all) on one grid; NaN and status 'none'
        where nothing is stored. Notes are those that came with the readings, not those of a schedule file.

        Raises JournalError for a range of more than MOST_VALUES readings.
        """
        with reading(self._engine) as connection:
            step = self._step(connection, line)
            wanted = stored_channels(connection, line, READING) if channels is None else tuple(channels)
            first = on_grid(t0, step)
            n = max(0, -(-(t1 - first) // step))
            _check_size(n * len(wanted))
            pieces = read_pieces(connection, line, READING, first, first + n * step, wanted)
            notes = kept_notes.read_notes(connection, line, first, first + n * step, scheduled=False)
        block = shown(join(pieces, first, step, n, wanted))
        return Block(block.t0, step, block.channels, block.values, block.status, tuple(notes))

    def replay(self, line: str, t0: int | None = None, t1: int | None = None) -> Iterator[Block]:
        """The stored cells again, bit for bit, as Blocks of at most an hour: a gap in what was given is a gap
        between Blocks here too, so that a fold over them ends in the state of the fold that stored them."""
        with reading(self._engine) as connection:
            place = kept_place.read_place(connection, line)
        if place.first_ns is None:
            return
        start = place.first_ns if t0 is None else max(t0, place.first_ns)
        end = place.end_ns if t1 is None else min(t1, place.end_ns)
        for hour in range(hour_of(start), end, HOUR_NS):
            yield from self._stored(line, max(start, hour), min(end, hour + HOUR_NS), place.step_ns)

    def _stored(self, line: str, t0: int, t1: int, step: int) -> list[Block]:
        with reading(self._engine) as connection:
            pieces = read_pieces(connection, line, READING, t0, t1)
            notes = kept_notes.read_notes(connection, line, t0 - HOUR_NS, t1 + HOUR_NS, scheduled=False)
        first, n = on_grid(t0, step), -(-(t1 - on_grid(t0, step)) // step)
        channels = tuple(dict.fromkeys(channel for piece in pieces for channel in piece.channels))
        return [
            Block(
                part.t0,
                step,
                part.channels,
                part.values,
                part.status,
                tuple(note for note in notes if part.t0 <= note.at_ns < part.end),
            )
            for part in stretches(join(pieces, first, step, n, channels))
        ]

    def levels(
        self,
        line: str,
        names: Sequence[str],
        t0: int,
        t1: int,
        width_s: int,
        kind: Literal["reading", "quantity"] = "reading",
    ) -> Levels:
        """Least, greatest and mean value of channels (or quantities) in buckets of 10, 60 or 600 s that cover
        [t0, t1); see `levels.width_for` for the width that fits a chart."""
        if width_s not in WIDTHS_S:
            raise JournalError(f"there is no level of {width_s} s; there are {', '.join(map(str, WIDTHS_S))} s")
        _check_size(len(names) * max(0, t1 - t0) // (width_s * 10**9))
        with reading(self._engine) as connection:
            step = self._step(connection, line)
            step = step if kind == READING else coarse_step(step)
            return read_levels(connection, line, kind, names, t0, t1, width_s, step)

    def quantities(self, line: str, names: Sequence[str], t0: int, t1: int) -> dict[str, Series]:
        """Cells of the coarse grid in [t0, t1) that were given, by quantity; no names = all there are."""
        with reading(self._engine) as connection:
            step = coarse_step(self._step(connection, line))
            first = on_grid(t0, step)
            n = max(0, -(-(t1 - first) // step))
            _check_size(n * max(1, len(names)))
            pieces = read_pieces(connection, line, QUANTITY, first, first + n * step, names or None)
        wanted = tuple(names) or tuple(dict.fromkeys(name for piece in pieces for name in piece.channels))
        return as_series(join(pieces, first, step, n, wanted))

    def phases(self, line: str, t0: int, t1: int) -> tuple[np.ndarray, np.ndarray]:
        """Start of every judged cell, int64 ns, and its phase, int8 index into monitor.phases.PHASES."""
        with reading(self._engine) as connection:
            step = self._step(connection, line)
            _check_size(max(0, t1 - t0) // step)
            return kept_phases.cells_of(kept_phases.read_runs(connection, line, t0, t1), step)

    def phase_runs(self, line: str, t0: int, t1: int) -> list[PhaseRun]:
        """The same as runs of equal phase: cheap for any range."""
        with reading(self._engine) as connection:
            return kept_phases.read_runs(connection, line, t0, t1)

    def records(self, line: str, after_seq: int = 0, t0: int | None = None, t1: int | None = None) -> list[Record]:
        """Records after `after_seq` that were decided in [t0, t1), by seq."""
        with reading(self._engine) as connection:
            return kept_records.read_records(connection, line, after_seq, t0, t1)

    def findings(self, line: str, t0: int | None = None, t1: int | None = None) -> list[Finding]:
        """Findings whose time touches [t0, t1), the last word on each."""
        with reading(self._engine) as connection:
            return kept_records.read_findings(connection, line, t0, t1)

    def notes(self, line: str, t0: int, t1: int) -> list[Note]:
        """What people, the log and the schedule file said in [t0, t1)."""
        with reading(self._engine) as connection:
            return kept_notes.read_notes(connection, line, t0, t1, scheduled=True)

    def actions(self, line: str, finding: str | None = None) -> list[Action]:
        """What people did, oldest first, about one finding or all."""
        with reading(self._engine) as connection:
            return kept_actions.read_actions(connection, line, finding)

    def used_files(self, line: str, t0: int, t1: int) -> list[UsedFile]:
        """Versions of the line and recipe files that judged some of [t0, t1)."""
        with reading(self._engine) as connection:
            return kept_files.read_used(connection, line, t0, t1)

    def span(self, line: str) -> tuple[int, int]:
        """Start of the first and end of the last stored cell; (0, 0) before the first."""
        place = self._place(line)
        return (0, 0) if place.first_ns is None else (place.first_ns, place.end_ns)

    def newest(self, line: str) -> Newest | None:
        """How old the newest reading and the journal itself are; None before the first reading."""
        place = self._place(line)
        return None if place.reading_at_ns is None else Newest(place.reading_at_ns, place.written_at_ns)

    def account(self, line: str) -> dict:
        """The reading account: what was read, mapped, left out and why."""
        return json.loads(self._place(line).account)

    def source(self, line: str) -> str:
        """'finished log', 'live', or '' when nothing was read yet."""
        return self._place(line).source

    def resume(self, line: str) -> Resume:
        """Where a live service goes on."""
        with reading(self._engine) as connection:
            return kept_place.read_resume(connection, line)

    def _place(self, line: str) -> Any:
        with reading(self._engine) as connection:
            return kept_place.read_place(connection, line)

    def _step(self, connection: Any, line: str) -> int:
        step = kept_place.read_place(connection, line).step_ns
        if step is None:
            step = round(kept_lines.read_line(connection, line).line.cadence_s * 1e9)
        return step


def _check_size(values: int) -> None:
    if values > MOST_VALUES:
        raise JournalError(
            f"the range holds {values:,} values, one call gives at most {MOST_VALUES:,}; "
            "ask for fewer channels, a shorter range or a coarser level"
        )
