"""Rows of a log to readings of one line: which rows belong to it, when they were, what they say."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from ingest import account as reasons
from ingest.account import ReadingAccount
from ingest.arrow_compute import pc
from ingest.block import BAD, NONE
from ingest.cell_units import NO_UNITS, CellUnits
from ingest.channel_values import ChannelValues
from ingest.clock import Clock
from ingest.day_of_log import say_new_day
from ingest.mapping import LogMapping
from ingest.note_texts import NoteTexts
from ingest.number_text import Decimal, plain_numbers
from ingest.quality import read_quality
from ingest.raw_rows import RawRows
from ingest.readings import LongReadings, Places, WideReadings
from ingest.time_stamps import EARLIEST_NS, LATEST_NS, TimeReader, as_text
from ingest.wide_quality import WideQuality

_REMEMBERED = 200


@dataclass(frozen=True)
class Stamped:
    """Rows of the line that have a readable stamp: nanoseconds, UTC where `zoned`, else of the local clock."""

    rows: RawRows
    ns: np.ndarray
    zoned: np.ndarray


class RowJudge:
    """Judges the rows of one file after the other; what it takes and sets aside goes to the account.

    lines_seen, tags_seen: some of the names met in the line and tag column, for messages.
    """

    def __init__(
        self,
        mapping: LogMapping,
        channels: tuple[ChannelValues, ...],
        clock: Clock,
        notes: NoteTexts,
        account: ReadingAccount,
    ) -> None:
        self._mapping, self._channels, self._clock, self._account = mapping, channels, clock, account
        self._notes = notes
        self.lines_seen: set[str] = set()
        self.tags_seen: set[str] = set()
        self.with_reading = np.zeros(len(channels), bool)

    def stamped(self, raw: Iterable[RawRows], times: TimeReader) -> Iterator[Stamped]:
        """The rows of the line with their stamps; never empty."""
        for rows, (ns, ok, zoned) in times.in_order(self._mine(raw), self._say_new_day):
            self._aside(rows, ~ok, reasons.NO_TIME, lambda i, r=rows: r.text_at(times.columns, i))
            strange = ok & ((ns < EARLIEST_NS) | (ns >= LATEST_NS))
            self._aside(rows, strange, reasons.STRANGE_YEAR, lambda i, r=rows: r.text_at(times.columns, i))
            ok &= ~strange
            if ok.any():
                yield Stamped(rows.where(ok), ns[ok], zoned[ok])

    def _mine(self, raw: Iterable[RawRows]) -> Iterator[RawRows]:
        for rows in raw:
            for reject in rows.rejects:
                self._account.put_aside(reject.file, reject.reason, [reject.row], [reject.text])
            rows = self._of_line(rows)
            if len(rows.numbers):
                yield rows

    def _say_new_day(self, rows: RawRows, index: int, before_ns: int, now_ns: int) -> None:
        say_new_day(rows, index, before_ns, now_ns, self._mapping, self._account)

    def readings(
        self,
        stamped: Stamped,
        ahead: np.ndarray,
        times: TimeReader,
        file: int,
        decimal: Callable[[str], Decimal],
        scheme: str,
        beside: WideQuality | None = None,
        units: CellUnits = NO_UNITS,
    ) -> WideReadings | LongReadings | None:
        """What stamped rows say; None if nothing is left of them.

        ahead: stamps of the rows after them. units: by column, those that stand in its cells.
        """
        rows = stamped.rows
        utc, keep = self._clock.judge(
            rows.file, rows.numbers, stamped.ns, stamped.zoned, ahead, lambda i: rows.text_at(times.columns, i)
        )
        if not keep.any():
            return None
        rows, utc = rows.where(keep), utc[keep]
        texts = self._notes.codes(rows)
        places = Places(utc, rows.numbers, np.full(len(utc), file, np.int32), texts)
        if self._mapping.layout == "wide":
            found, silent = self._wide(rows, places, decimal, beside, units)
        else:
            found, silent = self._long(rows, places, decimal, scheme, units)
        self._aside(rows, silent, reasons.NO_VALUE, lambda i: rows.text_at(times.columns, i))
        self._account.accept(len(silent) - int(silent.sum()))
        return found if len(found) else None

    def _of_line(self, rows: RawRows) -> RawRows:
        """Only the rows of this line and, in the long layout, of tags that are mapped."""
        mapping = self._mapping
        if mapping.line_column:
            names = as_text(rows.columns[mapping.line_column])
            mine = _bools(pc.equal(names, mapping.line_value.strip()))
            if not mine.all():
                _remember(self.lines_seen, names)
                self._aside(rows, ~mine, reasons.ANOTHER_LINE, lambda _: "")
                rows = rows.where(mine)
        if mapping.layout == "long":
            names = as_text(rows.columns[mapping.tag_column])
            mapped = _bools(pc.is_in(names, value_set=pa.array({c.source.tag for c in self._channels})))
            if not mapped.all():
                _remember(self.tags_seen, names)
                self._aside(rows, ~mapped, reasons.TAG_NOT_MAPPED, lambda _: "")
                rows = rows.where(mapped)
        return rows

    def _wide(
        self,
        rows: RawRows,
        places: Places,
        decimal: Callable[[str], Decimal],
        beside: WideQuality | None,
        units: CellUnits,
    ) -> tuple[WideReadings, np.ndarray]:
        count = len(rows.numbers)
        values = np.empty((len(self._channels), count))
        quality: np.ndarray | None = None
        failed = np.zeros(count, bool)
        complete = True
        for i, channel in enumerate(self._channels):
            tag = channel.source.tag
            if tag not in rows.columns:  # in a file beside this one
                values[i], complete = np.nan, False
                continue
            alone = tag not in units and (beside is None or tag not in beside.columns)
            if alone and channel.all_plain(rows.columns[tag], values[i]):
                self.with_reading[i] = True
                continue
            complete = False
            numbers, unreadable = channel.numbers(rows.columns[tag], decimal(tag), units.get(tag, ()))
            numbers = self._without_sentinels(channel, numbers)
            values[i] = channel.in_unit(numbers)
            if beside is not None and tag in beside.columns:
                given = self._quality_beside(rows, beside.columns[tag], beside.scheme)
                if given.any():
                    quality = np.zeros(values.shape, np.uint8) if quality is None else quality
                    quality[i] = given
            bad = channel.out_of_range(values[i])
            if bad is not None:
                quality = np.zeros(values.shape, np.uint8) if quality is None else quality
                quality[i, bad] = BAD
                self._account.out_of_range(tag, int(bad.sum()))
            missing = int(np.isnan(numbers).sum())
            if unreadable is not None:
                failed |= unreadable
                self._unreadable(rows, tag, tag, unreadable)
                missing -= int(unreadable.sum())
            self._account.missing(tag, missing)
            self.with_reading[i] |= missing + (0 if unreadable is None else int(unreadable.sum())) < count
        found = WideReadings(places, values, quality, complete)
        if not failed.any():
            return found, failed
        silent = failed & np.isnan(values).all(axis=0)
        return found.take(np.flatnonzero(~silent)), silent

    def _quality_beside(self, rows: RawRows, column: str, scheme: str) -> np.ndarray:
        given, strange = read_quality(rows.columns[column], scheme)
        if strange.any():
            self._unreadable(rows, column, column, strange)
        return given

    def _long(
        self, rows: RawRows, places: Places, decimal: Callable[[str], Decimal], scheme: str, units: CellUnits
    ) -> tuple[LongReadings, np.ndarray]:
        mapping = self._mapping
        count = len(rows.numbers)
        encoded = as_text(rows.columns[mapping.tag_column]).combine_chunks().dictionary_encode()
        codes = encoded.indices.to_numpy()
        if len(encoded.dictionary) < 1 << 15:
            codes = codes.astype(np.int16)  # which numpy sorts by radix
        by_tag = np.argsort(codes, kind="stable")
        bounds = np.searchsorted(codes[by_tag], np.arange(len(encoded.dictionary) + 1))
        code_of = {tag: code for code, tag in enumerate(encoded.dictionary.to_pylist())}
        given = np.zeros(count, np.uint8)
        if mapping.quality_column:
            given, strange = read_quality(rows.columns[mapping.quality_column], scheme)
            if strange.any():
                self._unreadable(rows, mapping.quality_column, mapping.quality_column, strange)
        column, mark = rows.columns[mapping.value_column], decimal(mapping.value_column)
        given_units = units.get(mapping.value_column, ())
        plain = plain_numbers(column, mark) if pa.types.is_string(column.type) and not given_units else None
        silent = np.zeros(count, bool)
        parts: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]] = []
        for i, channel in enumerate(self._channels):
            code = code_of.get(channel.source.tag)
            if code is None:
                continue
            mine = by_tag[bounds[code] : bounds[code + 1]]
            if plain is None:
                numbers, unreadable = channel.numbers(column.take(pa.array(mine)), mark, given_units)
            else:
                numbers, unreadable = channel.without_missing(plain[mine]), None
            numbers = self._without_sentinels(channel, numbers)
            values, quality = channel.in_unit(numbers), given[mine].copy()
            bad = channel.out_of_range(values)
            if bad is not None:
                quality[bad] = BAD
                self._account.out_of_range(channel.source.tag, int(bad.sum()))
            none = np.isnan(values)
            quality[none & (quality != BAD)] = NONE
            missing = int(none.sum())
            if unreadable is not None:
                which = np.zeros(count, bool)
                which[mine[unreadable]] = True
                silent |= which
                missing -= int(unreadable.sum())
                self._unreadable(rows, channel.source.tag, mapping.value_column, which)
            self._account.missing(channel.source.tag, missing)
            self.with_reading[i] |= not none.all()
            parts.append((mine, np.full(len(mine), i, np.int16), values, quality))
        if not silent.any() and sum(len(part[0]) for part in parts) == count and len(parts) == len(code_of):
            return _scattered(places, parts), silent
        row, channels, values, quality = (np.concatenate(part) for part in zip(*parts, strict=True))
        keep = np.flatnonzero(~silent[row])
        keep = keep[np.argsort(row[keep], kind="stable")]
        return LongReadings(places.take(row[keep]), channels[keep], values[keep], quality[keep]), silent

    def _without_sentinels(self, channel: ChannelValues, numbers: np.ndarray) -> np.ndarray:
        numbers, taken = channel.without_sentinels(numbers)
        for number, count in taken.items():
            self._account.sentinel(channel.source.tag, number, count)
        return numbers

    def _unreadable(self, rows: RawRows, tag: str, column: str, which: np.ndarray) -> None:
        first = int(np.argmax(which))
        row, text = int(rows.numbers[first]), rows.text_at((column,), first)
        self._account.unreadable(tag, int(which.sum()), rows.file, row, text)

    def _aside(self, rows: RawRows, which: np.ndarray, reason: str, text: Callable[[int], str]) -> None:
        if which.any():
            places = np.flatnonzero(which)
            texts = [text(int(i)) for i in places[: reasons.LISTED_PER_REASON]]
            self._account.put_aside(rows.file, reason, rows.numbers[places], texts)


def _scattered(places: Places, parts: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]) -> LongReadings:
    """Parts that have every row of a stretch once, in the order of its rows."""
    count = len(places.at_ns)
    channels, values, quality = np.empty(count, np.int16), np.empty(count), np.empty(count, np.uint8)
    for mine, channel, value, code in parts:
        channels[mine], values[mine], quality[mine] = channel, value, code
    return LongReadings(places, channels, values, quality)


def _remember(names: set[str], column: pa.ChunkedArray) -> None:
    """Keeps some of the names in a column for a later message."""
    if len(names) < _REMEMBERED:
        names.update(name for name in column.unique().to_pylist()[:_REMEMBERED] if name)


def _bools(array: pa.ChunkedArray) -> np.ndarray:
    return np.asarray(array.to_numpy()).astype(bool)
