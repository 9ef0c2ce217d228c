"""Some stretches of rows from all over a log, as numbers: enough to see how tags behave, however long the log is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.account import ReadingAccount
from ingest.arrow_compute import pc
from ingest.block import FRESH, Block
from ingest.cell_units import bare_numbers
from ingest.csv_block import BlockParser
from ingest.csv_log import CsvLog
from ingest.errors import BadLog
from ingest.head_again import header_pattern
from ingest.number_text import read_numbers
from ingest.parquet_log import ParquetLog
from ingest.propose.heartbeat import NO_HEARTBEAT, Heartbeat, Steps, heartbeat_of, steps_of
from ingest.propose.opened import Opened
from ingest.raw_rows import RawRows
from ingest.text_file import line_blocks, line_count
from ingest.time_stamps import as_text

MOST_ROWS = 20_000
"""Rows of a wide log that are looked at; of a packed one, whose length is not known before, up to twice as many."""
MOST_READINGS = 400_000
"""Rows of a long log, which hold one reading each."""
STRETCHES = 10
_MOST_CELLS = 4_000_000
_FEWEST_STEPS = 8
_MOST_TEXT = 512 << 20
"""Bytes of unpacked text that are run through to reach the later parts of a packed log."""


@dataclass(frozen=True)
class Sample:
    """Rows of a log in order of time.

    tags: m of them. seconds: float64 [n], since 1970 on the log's own clock. part: int64 [n], rows with the same
    number stand together in the log. values: float64 [m, n], NaN = no reading.
    whole: no row of the log was left out.
    apart_s: float64 [m], seconds that the readings of a tag are seldom further apart than (99 of 100 steps).
    uneven: float64 [m], share of the steps from reading to reading that are more than a fifth off the tag's usual one;
    NaN of few readings.
    heartbeat: how often a reading is stored again that did not change.
    """

    tags: tuple[str, ...]
    seconds: np.ndarray
    part: np.ndarray
    values: np.ndarray
    whole: bool
    apart_s: np.ndarray
    uneven: np.ndarray
    heartbeat: Heartbeat = NO_HEARTBEAT

    @property
    def cadence_s(self) -> float:
        """Usual step between stamps, 0 where there is none."""
        steps = np.diff(self.seconds)[np.diff(self.part) == 0]
        steps = steps[steps > 1e-6]
        return float(np.median(steps)) if len(steps) else 0.0

    def of(self, tags: Sequence[str]) -> Sample:
        """The same rows, only these tags."""
        places = [self.tags.index(tag) for tag in tags]
        apart, uneven = self.apart_s[places], self.uneven[places]
        values = self.values[places]
        return Sample(tuple(tags), self.seconds, self.part, values, self.whole, apart, uneven, self.heartbeat)


def take_sample(opened: Sequence[Opened], line_value: str = "") -> Sample:
    """Rows of all files. line_value: only those of one line, where a column says the line. Raises BadLog."""
    share = max(1, STRETCHES // len(opened))
    parts: list[_Part] = []
    whole = True
    for one in opened:
        pieces, complete = _pieces(one, share, len(opened))
        whole &= complete
        for rows in pieces:
            rows = _of_line(rows, one.line_column, line_value)
            if len(rows.numbers):
                part = _long(one, rows) if one.layout == "long" else _wide(one, rows)
                if len(part.seconds):
                    parts.append(part)
    if not parts:
        raise BadLog(opened[0].log.path, "holds no row with a readable time", hint="Check the export.")
    return _joined(parts, whole)


def stretches_of(cells: int, channels: int) -> tuple[list[int], int]:
    """First cells of the stretches that are looked at of so many cells, and how long each is."""
    most = max(200, min(MOST_ROWS, _MOST_CELLS // max(1, channels)))
    if cells <= most:
        return [0], cells
    size = most // STRETCHES
    return np.linspace(0, cells - size, STRETCHES).astype(int).tolist(), size


def sample_of_cells(stretches: Iterable[Sequence[Block]], tags: Mapping[str, str]) -> Sample | None:
    """The same of cells that are kept already, by when readings came into them; None where none did.

    stretches: contiguous Blocks each. tags: of the log, by channel.
    """
    parts = []
    for blocks in stretches:
        for channels in dict.fromkeys(block.channels for block in blocks):
            some = [block for block in blocks if block.channels == channels]
            fresh = np.concatenate([(block.status & FRESH) > 0 for block in some], axis=1)
            values = np.where(fresh, np.concatenate([block.values for block in some], axis=1), np.nan)
            came = np.isfinite(values).any(axis=0)
            if came.any():
                seconds = np.concatenate([block.times() for block in some])[came] / 1e9
                values = np.ascontiguousarray(values[:, came])
                names = tuple(tags[channel] for channel in channels)
                parts.append(
                    _Part(names, seconds, values, *_apart(seconds, values), steps_of(seconds, values))
                )  # fmt: skip
    return _joined(parts, False) if parts else None


def _joined(parts: Sequence[_Part], whole: bool) -> Sample:
    tags = tuple(dict.fromkeys(tag for part in parts for tag in part.names))
    place = {tag: i for i, tag in enumerate(tags)}
    values = np.full((len(tags), sum(len(part.seconds) for part in parts)), np.nan)
    apart, uneven = np.zeros(len(tags)), np.full(len(tags), np.nan)
    steps = dict.fromkeys(tags, Steps())
    start = 0
    for part in parts:
        for name, some in zip(part.names, part.steps, strict=True):
            steps[name] = steps[name].joined(some)
        rows = [place[name] for name in part.names]
        values[rows, start : start + len(part.seconds)] = part.values
        apart[rows] = np.maximum(apart[rows], part.apart_s)
        uneven[rows] = np.fmax(uneven[rows], part.uneven)
        start += len(part.seconds)
    seconds = np.concatenate([part.seconds for part in parts])
    number = np.repeat(np.arange(len(parts)), [len(part.seconds) for part in parts])
    heartbeat = heartbeat_of(steps, apart.tolist(), uneven.tolist())
    return Sample(tags, seconds, number, values, whole, apart, uneven, heartbeat)


@dataclass(frozen=True)
class _Part:
    """Rows that stand together: names [m], seconds [n], values [m, n], apart_s [m], uneven [m], steps [m]."""

    names: tuple[str, ...]
    seconds: np.ndarray
    values: np.ndarray
    apart_s: np.ndarray
    uneven: np.ndarray
    steps: list[Steps]


def _apart(seconds: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Seconds between readings that 99 of 100 steps do not exceed, and the share of uneven steps, for every row."""
    apart, uneven = np.zeros(len(values)), np.full(len(values), np.nan)
    for i, row in enumerate(values):
        steps = np.diff(seconds[np.isfinite(row)])
        if len(steps):
            apart[i] = np.percentile(steps, 99)
        if len(steps) >= _FEWEST_STEPS:
            usual = np.median(steps)
            uneven[i] = np.mean(np.abs(steps - usual) > 0.2 * usual)
    return apart, uneven


def _wide(one: Opened, rows: RawRows) -> _Part:
    names = tuple(name for name in one.names if name in one.numeric)
    seconds, ok = _seconds(one, rows)
    rows = rows.where(ok)
    numbers = np.vstack([_numbers(one, rows, name) for name in names]) if names else np.zeros((0, int(ok.sum())))
    order = np.argsort(seconds[ok], kind="stable")
    seconds, numbers = seconds[ok][order], numbers[:, order]
    return _Part(names, seconds, numbers, *_apart(seconds, numbers), steps_of(seconds, numbers))


def _long(one: Opened, rows: RawRows) -> _Part:
    """One row a stamp; a reading stands until the next of its tag, as such logs are often stored on change."""
    seconds, ok = _seconds(one, rows)
    rows, seconds = rows.where(ok), seconds[ok]
    tags = np.array(as_text(rows.columns[one.tag_column]).to_pylist(), dtype=object)
    numbers = _numbers(one, rows, one.value_column)
    names = tuple(tag for tag in dict.fromkeys(tags.tolist()) if tag)
    stamps, at = np.unique(seconds, return_inverse=True)
    row_of = {name: i for i, name in enumerate(names)}
    known = np.array([row_of.get(tag, -1) for tag in tags])
    values = np.full((len(names), len(stamps)), np.nan)
    keep = known >= 0
    values[known[keep], at[keep]] = numbers[keep]
    last = np.maximum.accumulate(np.where(np.isfinite(values), np.arange(len(stamps)), -1), axis=1)
    held = np.take_along_axis(values, np.maximum(last, 0), axis=1)
    held = np.where(last >= 0, held, np.nan)
    return _Part(names, stamps, held, *_apart(stamps, values), steps_of(stamps, values))


def _seconds(one: Opened, rows: RawRows) -> tuple[np.ndarray, np.ndarray]:
    ns, ok, _ = one.times.read(rows)
    return ns / 1e9, ok


def _numbers(one: Opened, rows: RawRows, name: str) -> np.ndarray:
    column = rows.columns[name]
    if pa.types.is_boolean(column.type):
        column = column.cast(pa.int8())
    if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
        texts, mark = column.cast(pa.string()), one.log.decimal(name)
        numbers, unreadable = read_numbers(texts, mark, frozenset(), switch=True)
        if unreadable.any():
            numbers[unreadable] = bare_numbers(texts.filter(pa.array(unreadable)), mark)
        return numbers
    try:
        return pc.fill_null(column.cast(pa.float64(), safe=False), np.nan).to_numpy().astype(np.float64)
    except pa.ArrowException:
        return np.full(len(column), np.nan)


def _of_line(rows: RawRows, column: str, value: str) -> RawRows:
    if not (column and value):
        return rows
    return rows.where(np.asarray(pc.equal(as_text(rows.columns[column]), value).to_numpy()).astype(bool))


def _wanted(one: Opened) -> tuple[str, ...]:
    names = [*one.times.columns, *(name for name in one.names if name in one.numeric)]
    if one.layout == "long":
        names = [*one.times.columns, one.tag_column, one.value_column]
    return tuple(dict.fromkeys([*names, *([one.line_column] if one.line_column else [])]))


def _most_rows(one: Opened, files: int) -> int:
    rows = MOST_READINGS if one.layout == "long" else min(MOST_ROWS, _MOST_CELLS // max(1, len(one.names)))
    return max(200, rows // files)


def _pieces(one: Opened, stretches: int, files: int) -> tuple[list[RawRows], bool]:
    most = _most_rows(one, files)
    if isinstance(one.log, ParquetLog):
        return _parquet_pieces(one, most, stretches)
    return _text_pieces(one, one.log, most, stretches)


def _parquet_pieces(one: Opened, most: int, stretches: int) -> tuple[list[RawRows], bool]:
    names = _wanted(one)
    pieces = []
    with pq.ParquetFile(one.file.on_disk) as parquet:
        total = parquet.metadata.num_rows
        in_file = [name for name in names if name in parquet.schema_arrow.names]
        size = max(1, most // stretches)
        starts = [0] if total <= most else np.linspace(0, total - size, stretches).astype(int).tolist()
        length = total if total <= most else size
        ends = np.concatenate(([0], [parquet.metadata.row_group(i).num_rows for i in range(parquet.num_row_groups)]))
        firsts = np.add.accumulate(ends)
        for start in starts:
            group = int(np.searchsorted(firsts, start, side="right")) - 1
            groups = list(range(group, int(np.searchsorted(firsts, start + length, side="left"))))
            skip, got = start - int(firsts[group]), list[pa.Table]()
            left = length
            for batch in parquet.iter_batches(8192, row_groups=groups, columns=in_file):
                table = pa.table(batch)
                if skip >= len(table):
                    skip -= len(table)
                    continue
                table = table.slice(skip, left)
                skip, left = 0, left - len(table)
                got.append(table)
                if left <= 0:
                    break
            if got:
                table = pa.concat_tables(got)
                numbers = np.arange(start + 1, start + 1 + len(table), dtype=np.int64)
                columns = {name: table.column(name) for name in in_file}
                for name in set(names) - set(in_file):
                    columns[name] = pa.chunked_array([pa.repeat(one.file.constants.get(name, ""), len(table))])
                pieces.append(RawRows(one.log.path, numbers, columns))
    return pieces, total <= most


def _text_pieces(one: Opened, log: CsvLog, most: int, stretches: int) -> tuple[list[RawRows], bool]:
    names = _wanted(one)
    wanted_bytes = int(most * one.row_bytes)
    account = ReadingAccount()
    decimals = {name: log.decimal(name) for name in one.numeric}
    common = "," if sum(mark == "," for mark in decimals.values()) > len(decimals) / 2 else "."
    odd = {name for name, mark in decimals.items() if (mark or ".") != common}
    parser = BlockParser(log.path, log.dialect, common, odd, (), account)
    numeric = frozenset({one.value_column}) if one.layout == "long" else one.numeric
    blocks, whole = _blocks(one, log, wanted_bytes, stretches)
    again = header_pattern(log.names[:1], log.dialect.delimiter)
    if whole and any(again.search(block) for block in blocks):
        return list(log.rows(names, numeric & frozenset(names))), whole  # a header row, perhaps of other columns
    pieces = []
    for block in blocks:
        lines = line_count(block)
        if lines:
            parsed = parser.parse(block, 1, lines, names, numeric & frozenset(names))
            if parsed.columns:
                pieces.append(RawRows(log.path, parsed.numbers, parsed.columns))
    return pieces, whole


def _blocks(one: Opened, log: CsvLog, wanted_bytes: int, stretches: int) -> tuple[list[bytes], bool]:
    """Blocks of whole lines in UTF-8, and whether they are the whole log."""
    size = max(4096, wanted_bytes // stretches)
    if log.form.plain and log.size_bytes > wanted_bytes:
        return list(_sought(one, log, size, stretches)), False
    kept: list[bytes] = []
    stride, total = 1, 0
    small = log.form.plain or log.size_bytes < wanted_bytes // 20
    block_bytes = max(wanted_bytes, 1 << 22) if small else size
    for number, (block, lines, _) in enumerate(line_blocks(one.file, log.form, block_bytes, lambda _: None)):
        skip = log.dialect.first_row - 1 if number == 0 else 0
        total += len(block)
        if number % stride == 0:
            block = block.split(b"\n", skip)[-1] if skip and lines >= skip else block
            kept.append(block if block.endswith(b"\n") else block + b"\n")
        if not small and len(kept) > 2 * stretches:
            kept, stride = kept[::2], stride * 2
        if total > _MOST_TEXT:
            break
    joined = stride == 1 and total <= _MOST_TEXT
    return ([b"".join(kept)] if joined else kept), joined


def _sought(one: Opened, log: CsvLog, size: int, stretches: int) -> Iterator[bytes]:
    """Stretches of a plain file, the first from its first row on."""
    with one.file.on_disk.open("rb") as raw:
        for number, offset in enumerate(np.linspace(0, log.size_bytes - size, stretches).astype(int)):
            raw.seek(int(offset))
            data = raw.read(size)
            if number:
                data = data[data.find(b"\n") + 1 :]
            else:
                data = data.split(b"\n", log.dialect.first_row - 1)[-1]
            data = data[: data.rfind(b"\n") + 1]
            if log.form.encoding != "utf-8":
                data = data.decode(log.form.encoding, errors="replace").encode()
            yield data
