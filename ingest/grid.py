"""Readings into cells on the absolute grid, cells into Blocks; carries what is held from one Block to the next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ingest.block import BAD, FRESH, GOOD, NONE, QUALITY_MASK, Block, Note
from ingest.cell_rule import reduce_to_cells
from ingest.mapping import ChannelSource
from ingest.readings import LongReadings, WideReadings

SECOND = 1_000_000_000
LONGEST_FILL_NS = 6 * 3600 * SECOND
"""A longer time without rows is not filled with empty cells: the next Block starts after it."""

_ENDED = NONE | FRESH
"""Inside this module: a report came and said that there is no value; what was held is held no longer."""


class Grid:
    """Collects sorted readings and gives Blocks of at most `block_ns`, cut at its whole multiples.

    Wants readings in whole cells: no later call may bring a reading of a cell that an earlier call had.
    A reading stands for the cells that start up to its `hold_s` after the start of its own cell.
    """

    def __init__(self, channels: Sequence[ChannelSource], step_ns: int, block_ns: int) -> None:
        self._rules = tuple(source.cell for source in channels)
        self._keys = tuple(source.key for source in channels)
        self._step, self._block = step_ns, block_ns
        self._hold = np.array([round(min(source.hold_s, 1e9) * SECOND) // step_ns for source in channels], np.int64)
        count = len(channels)
        # The last cell of every channel that had a reading, and what it held.
        self._held_cell = np.full(count, np.iinfo(np.int64).min // 2)
        self._held_value = np.full(count, np.nan)
        self._held_quality = np.full(count, NONE, np.uint8)
        self._first = self._cut = self._last = 0
        self._values: np.ndarray | None = None
        self._status = np.zeros((0, 0), np.uint8)
        self._set = 0  # cells of the open Block that are written, from its first
        self._all_fresh = True  # with a good reading of every channel that came in the cell
        self._notes: list[Note] = []

    def add(self, rows: WideReadings | LongReadings, notes: Sequence[Note] = ()) -> Iterator[Block]:
        """Takes readings and the notes of the same time; gives the Blocks that are complete."""
        self._notes.extend(notes)
        cells = rows.places.at_ns // self._step
        leaps = np.flatnonzero(np.diff(cells) * self._step > LONGEST_FILL_NS) + 1
        start = 0
        while start < len(cells):
            cell = int(cells[start])
            if self._values is not None:
                if (cell - self._last) * self._step > LONGEST_FILL_NS:
                    yield self._emit(self._last + 1)
                elif cell >= self._cut:
                    cut = self._cut
                    yield self._emit(cut)
                    self._open(cut)
                    continue
            if self._values is None:
                self._open(cell)
            stop = int(np.searchsorted(cells, self._cut))
            leap = leaps[np.searchsorted(leaps, start, side="right") :]
            if len(leap):
                stop = min(stop, int(leap[0]))
            self._scatter(rows.take(slice(start, stop)), cells[start:stop] - self._first)
            self._last = int(cells[stop - 1])
            start = stop

    def close(self) -> Iterator[Block]:
        """The last Block, up to the last cell with a row."""
        if self._values is not None:
            yield self._emit(self._last + 1)

    def _open(self, cell: int) -> None:
        self._first = cell
        multiple = (cell * self._step // self._block + 1) * self._block
        self._cut = -(-multiple // self._step)
        shape = (len(self._keys), self._cut - cell)
        self._values, self._status = np.empty(shape), np.empty(shape, np.uint8)
        self._set = 0
        self._all_fresh = True

    def _leave_empty(self, end: int) -> None:
        """Cells of the open Block up to `end` to which nothing came."""
        assert self._values is not None
        if end > self._set:
            self._values[:, self._set : end], self._status[:, self._set : end] = np.nan, NONE
            self._set, self._all_fresh = end, False

    def _scatter(self, rows: WideReadings | LongReadings, cells: np.ndarray) -> None:
        """Puts readings into the cells of the open Block; `cells` counts from its first."""
        assert self._values is not None
        first, end = int(cells[0]), int(cells[-1]) + 1
        rising = isinstance(rows, WideReadings) and bool((cells[1:] > cells[:-1]).all())
        gapless = rising and end - first == len(cells)
        self._leave_empty(first if gapless else end)
        self._set = max(self._set, end)
        if isinstance(rows, LongReadings):
            self._all_fresh = False
            self._scatter_long(rows, cells)
        elif gapless and rows.complete:
            self._values[:, first:end] = rows.values
            self._status[:, first:end] = FRESH
        elif rising:
            self._all_fresh = False
            where = slice(first, end) if gapless else cells
            self._values[:, where] = rows.values
            quality = np.uint8(FRESH) if rows.quality is None else rows.quality | FRESH
            none = np.uint8(NONE)
            if rows.quality is not None:  # a bad reading without a value ends the hold of the one before
                none = np.where(rows.quality == BAD, np.uint8(_ENDED), none)
            self._status[:, where] = np.where(np.isnan(rows.values), none, quality)
        else:
            self._all_fresh = False
            for i, rule in enumerate(self._rules):
                said = ~np.isnan(rows.values[i])
                if rows.quality is not None:
                    said |= rows.quality[i] == BAD
                there = np.flatnonzero(said)
                quality = np.zeros(len(there), np.uint8) if rows.quality is None else rows.quality[i, there]
                self._put(i, rule, cells[there], rows.values[i, there], quality)

    def _scatter_long(self, rows: LongReadings, cells: np.ndarray) -> None:
        order = np.argsort(rows.channels, kind="stable")
        bounds = np.searchsorted(rows.channels[order], np.arange(len(self._keys) + 1))
        for i, rule in enumerate(self._rules):
            mine = order[bounds[i] : bounds[i + 1]]
            mine = mine[rows.quality[mine] != NONE]
            if len(mine):
                self._put(i, rule, cells[mine], rows.values[mine], rows.quality[mine])

    def _put(self, channel: int, rule: str, cells: np.ndarray, values: np.ndarray, quality: np.ndarray) -> None:
        assert self._values is not None
        if not len(cells):
            return
        at, value, worst = reduce_to_cells(rule, cells, values, quality)
        self._values[channel, at] = value
        self._status[channel, at] = np.where(np.isnan(value), np.uint8(_ENDED), worst | FRESH)

    def _emit(self, end: int) -> Block:
        """The open Block up to the cell `end`, with what is held filled in."""
        assert self._values is not None
        count = end - self._first
        self._leave_empty(count)
        values, status = self._values, self._status
        if count < values.shape[1]:
            values, status = np.ascontiguousarray(values[:, :count]), np.ascontiguousarray(status[:, :count])
        if self._all_fresh:  # nothing to be held in it, and its last cell is what is held from now on
            self._held_cell[:], self._held_value[:], self._held_quality[:] = end - 1, values[:, -1], GOOD
        else:
            self._hold_over(values, status)
        notes = tuple(note for note in self._notes if note.at_ns < end * self._step)
        self._notes = self._notes[len(notes) :]
        block = Block(self._first * self._step, self._step, self._keys, values, status, notes)
        self._values = None
        return block

    def _hold_over(self, values: np.ndarray, status: np.ndarray) -> None:
        """Fills cells without a reading with the last value while it holds, in place."""
        count = values.shape[1]
        fresh = (status & FRESH) != 0
        partial = np.flatnonzero(~fresh.all(axis=1))
        if len(partial):
            places = np.arange(count)
            last = np.maximum.accumulate(np.where(fresh[partial], places, -1), axis=1)
            inside = last >= 0
            age = np.where(inside, places - last, self._first + places - self._held_cell[partial, None])
            source = np.maximum(last, 0)
            value = np.where(
                inside, np.take_along_axis(values[partial], source, axis=1), self._held_value[partial, None]
            )
            quality = np.where(
                inside,
                np.take_along_axis(status[partial], source, axis=1) & QUALITY_MASK,
                self._held_quality[partial, None],
            )
            held = ~fresh[partial] & (age <= self._hold[partial, None]) & ~np.isnan(value)
            values[partial] = np.where(held, value, values[partial])
            status[partial] = np.where(held, quality.astype(np.uint8), status[partial])
        newest = count - 1 - np.argmax(fresh[:, ::-1], axis=1)
        some = np.flatnonzero(fresh.any(axis=1))
        self._held_cell[some] = self._first + newest[some]
        self._held_value[some] = values[some, newest[some]]
        self._held_quality[some] = status[some, newest[some]] & QUALITY_MASK
        status[status == _ENDED] = NONE
