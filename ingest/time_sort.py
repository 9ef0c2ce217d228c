"""Rows of a long log that stand tag by tag, put in order of time without having them all in memory.

Such a log has all readings of one tag, then all of the next, or does so page by page. The rows of each tag are in
order by themselves, so each tag is judged by a clock of its own before the tags are merged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np
import pyarrow as pa

from ingest.account import ReadingAccount
from ingest.clock import LATENESS_NS, LOOK_AHEAD_ROWS, Clock
from ingest.raw_rows import RawRows
from ingest.row_judge import Stamped
from ingest.spill import Spill, plain_types
from ingest.time_stamps import as_text

SHARE = 0.1
"""Share of rows that must be behind rows of other tags: with two tags, page by page, it is a half."""
RUN_ROWS = 1_000_000
"""Rows sorted in memory at a time."""
PART_ROWS = 16_384
"""Rows of each sorted run that are in memory while runs are merged."""
_OUT_ROWS = 131_072
_NS, _NUMBER = " ns", " row number"


def sorted_by_time(
    stamped: Iterable[Stamped],
    tag_column: str,
    clock: Callable[[ReadingAccount], Clock],
    text_columns: tuple[str, ...],
    account: ReadingAccount,
) -> Iterator[Stamped]:
    """The same rows in order of time, all stamps UTC; rows of one stamp keep the order of the log.

    clock: makes a clock for a tag; what it does not accept is set aside in the account. text_columns: of the time.
    Memory: RUN_ROWS rows, then PART_ROWS for each run.
    """
    sorter: SortedRuns | None = None
    file = ""
    for rows, utc in _judged(stamped, tag_column, clock, text_columns, account):
        file = rows.file
        sorter = sorter or SortedRuns(file)
        sorter.add(rows, utc)
    if sorter is None:
        return
    for table in sorter.merged():
        columns = {name: table.column(name) for name in table.column_names if name not in (_NS, _NUMBER)}
        rows = RawRows(file, table.column(_NUMBER).to_numpy(), columns)
        yield Stamped(rows, table.column(_NS).to_numpy(), np.ones(len(table), bool))


def _judged(
    stamped: Iterable[Stamped],
    tag_column: str,
    clock: Callable[[ReadingAccount], Clock],
    text_columns: tuple[str, ...],
    account: ReadingAccount,
) -> Iterator[tuple[RawRows, np.ndarray]]:
    """Rows with their UTC stamps, tag by tag. The last rows of a tag wait for the next ones: whether their stamps
    are right shows there. Each tag has an account of its own until the end, so that pieces do not show."""
    clocks: dict[str, Clock] = {}
    accounts: dict[str, ReadingAccount] = {}
    waiting: dict[str, Stamped] = {}
    for piece in stamped:
        encoded = as_text(piece.rows.columns[tag_column]).combine_chunks().dictionary_encode()
        codes = encoded.indices.to_numpy()
        for code, tag in enumerate(encoded.dictionary.to_pylist()):
            if tag not in clocks:
                accounts[tag] = ReadingAccount()
                clocks[tag] = clock(accounts[tag])
            mine = codes == code
            now = Stamped(piece.rows.where(mine), piece.ns[mine], piece.zoned[mine])
            if tag in waiting:
                now = _joined(waiting[tag], now)
            ready = max(0, len(now.ns) - LOOK_AHEAD_ROWS)
            waiting[tag] = _part(now, slice(ready, None))
            if ready:
                yield from _accepted(clocks[tag], _part(now, slice(0, ready)), now.ns[ready:], text_columns)
    for tag, last in waiting.items():
        yield from _accepted(clocks[tag], last, np.zeros(0, np.int64), text_columns)
        clocks[tag].close()
        account.absorb(accounts[tag])
    for sentence in next((part.assumptions for part in accounts.values() if part.assumptions), []):
        account.assume(sentence)


def _accepted(
    clock: Clock, rows: Stamped, ahead: np.ndarray, text_columns: tuple[str, ...]
) -> Iterator[tuple[RawRows, np.ndarray]]:
    raw = rows.rows
    utc, keep = clock.judge(raw.file, raw.numbers, rows.ns, rows.zoned, ahead, lambda i: raw.text_at(text_columns, i))
    if keep.any():
        yield raw.where(keep), utc[keep]


def _part(rows: Stamped, which: slice) -> Stamped:
    length = len(rows.ns)
    start, stop, _ = which.indices(length)
    columns = {name: column.slice(start, stop - start) for name, column in rows.rows.columns.items()}
    return Stamped(RawRows(rows.rows.file, rows.rows.numbers[which], columns), rows.ns[which], rows.zoned[which])


def _joined(one: Stamped, other: Stamped) -> Stamped:
    columns = {
        name: pa.chunked_array([*column.chunks, *other.rows.columns[name].chunks])
        for name, column in one.rows.columns.items()
    }
    numbers = np.concatenate((one.rows.numbers, other.rows.numbers))
    return Stamped(
        RawRows(one.rows.file, numbers, columns),
        np.concatenate((one.ns, other.ns)),
        np.concatenate((one.zoned, other.zoned)),
    )


class SortedRuns:
    """Sorted runs of rows on the disk, merged by stamp and, within a stamp, by place in the log."""

    def __init__(self, name: str) -> None:
        self._spill = Spill(name)
        self._runs: list[list[int]] = []
        self._waiting: list[pa.Table] = []
        self._count = 0

    def add(self, rows: RawRows, utc: np.ndarray) -> None:
        """Takes rows in."""
        table = pa.table({**rows.columns, _NS: pa.array(utc), _NUMBER: pa.array(rows.numbers)})
        self._waiting.append(plain_types(table))
        self._count += len(table)
        if self._count >= RUN_ROWS:
            self._write_run()

    def merged(self) -> Iterator[pa.Table]:
        """All rows in order."""
        if not self._runs:  # a short log needs no disk
            yield from _cut(_sorted(self._waiting)) if self._waiting else ()
            return
        self._write_run()
        parts = [list(reversed(run)) for run in self._runs]
        tables = [self._spill.read(run.pop()) for run in parts]
        out: list[pa.Table] = []
        count = 0
        while tables:
            # Up to the last stamp of the run that ends first, all rows are in memory.
            bounds = [
                int(table.column(_NS)[-1].as_py()) if run else None for table, run in zip(tables, parts, strict=True)
            ]
            least = min((bound for bound in bounds if bound is not None), default=None)
            ready = []
            for i, table in enumerate(tables):
                cut = len(table) if least is None else int(np.searchsorted(table.column(_NS).to_numpy(), least))
                ready.append(table.slice(0, cut))
                tables[i] = table.slice(cut)
                if bounds[i] is not None and bounds[i] == least:
                    tables[i] = pa.concat_tables([tables[i], self._spill.read(parts[i].pop())])
            some = [table for table in ready if len(table)]
            if some:
                out.append(_sorted(some))
                count += len(out[-1])
            if count >= _OUT_ROWS:
                yield pa.concat_tables(out).combine_chunks()
                out, count = [], 0
            left = [i for i, table in enumerate(tables) if len(table) or parts[i]]
            tables, parts = [tables[i] for i in left], [parts[i] for i in left]
        if out:
            yield pa.concat_tables(out).combine_chunks()

    def in_order(self) -> Iterator[tuple[np.ndarray, pa.Table]]:
        """The same with their numbers apart; as often as it is asked for."""
        for table in self.merged():
            yield table.column(_NUMBER).to_numpy(), table.drop_columns([_NS, _NUMBER])

    def _write_run(self) -> None:
        if self._waiting:
            table = _sorted(self._waiting)
            self._runs.append([self._spill.write(table.slice(i, PART_ROWS)) for i in range(0, len(table), PART_ROWS)])
            self._waiting, self._count = [], 0


def _sorted(tables: list[pa.Table]) -> pa.Table:
    table = pa.concat_tables(tables).combine_chunks()
    order = np.lexsort((table.column(_NUMBER).to_numpy(), table.column(_NS).to_numpy()))
    return table if (np.diff(order) == 1).all() else table.take(pa.array(order))


def _cut(table: pa.Table) -> Iterator[pa.Table]:
    for i in range(0, len(table), _OUT_ROWS):
        yield table.slice(i, _OUT_ROWS)


def stands_tag_by_tag(pieces: Iterable[tuple[np.ndarray, np.ndarray]]) -> bool:
    """Whether rows step back in time as a whole and not within their tags. Stops as soon as that is plain.

    pieces: stamps int64 and tag codes of rows in the order of the log, one piece after the other.
    """
    newest, rows, own_back, other_back = None, 0, 0, 0
    newest_of = np.zeros(0, np.int64)
    never = np.iinfo(np.int64).min // 2
    for ns, codes in pieces:
        if not len(ns):
            continue
        if len(newest_of) <= codes.max():
            newest_of = np.append(newest_of, np.full(codes.max() + 1 - len(newest_of), never))
        start = ns[0] if newest is None else newest
        before = np.concatenate(([start], np.maximum(np.maximum.accumulate(ns), start)[:-1]))
        back = ns < before - LATENESS_NS
        order = np.argsort(codes, kind="stable")
        for code in np.unique(codes):
            mine = order[codes[order] == code]
            own = np.concatenate(([newest_of[code]], ns[mine]))
            own = np.maximum.accumulate(own)
            own_late = back[mine] & (ns[mine] < own[:-1] - LATENESS_NS)
            own_back += int(own_late.sum())
            other_back += int((back[mine] & ~own_late).sum())
            newest_of[code] = own[-1]
        newest = int(max(start, ns.max()))
        rows += len(ns)
        if other_back > max(1000, SHARE * rows, 10 * own_back):
            return True
    return other_back > max(SHARE * rows, own_back)
