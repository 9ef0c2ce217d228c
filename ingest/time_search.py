"""Finds by looking which columns of a log hold the time and how it is written; every choice is said."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pyarrow as pa

from ingest.account import LIKELY, SURE, ReadingAccount
from ingest.day_of_log import day_of_log
from ingest.day_or_month import decide_order
from ingest.errors import BadLog, missing_columns
from ingest.mapping import LogMapping
from ingest.number_text import NO_READING
from ingest.raw_rows import Log, Seen, side_by_side
from ingest.stamp_text import (
    COMPACT,
    DAY_FIRST,
    FORMS,
    MONTH_FIRST,
    StampForm,
    decode,
    form_of_format,
    is_clock_only,
    is_compact_clock,
    is_compact_date,
    is_date_only,
)
from ingest.time_stamps import TimeReader, epoch_of
from ingest.zone_in_name import ahead_of_utc_s, tells_zone

_TELLING = re.compile(r"time|stamp|date|datum|zeit|fecha|hora|heure|\bts\b|^t$|epoch", re.IGNORECASE)
_KEYS = (
    "Give time_format in [log] of the line file, such as time_format = '%d/%m/%y %H.%M.%S', and time_columns = "
    "['Date', 'Time'], or the one column, where it is not found."
)
_FIRST_DAY, _LAST_DAY = 29_221, 73_050
"""1980 and 2100 in days since 1900."""
_MILLISECONDS = re.compile(
    r"ms|msec|milli_?s\w*|millis|millisek\w*|milisegundos?|millisecondi?|millisecondes?", re.IGNORECASE
)
_RUNNING = re.compile(r"elaps|durat|run.?time|dauer|laufzeit|transcurr|trascors|dur[ée]e|verstreken", re.IGNORECASE)
"""Names of columns that count from a start."""
_LOOK_AT = 60
"""Texts of a column that are looked at to tell whether it holds times."""


def find_times(logs: Sequence[Log], mapping: LogMapping, account: ReadingAccount) -> list[TimeReader]:
    """A reader of the stamps of every file of a log.

    Raises BadLog where there is no readable time, or where day and month cannot be told apart.
    """
    readers: list[TimeReader | None] = []
    undecided: list[int] = []
    for log in logs:
        reader = _with_named_zone(log, _find(log, mapping, account), mapping, account)
        readers.append(reader)
        if reader is not None and reader.form is DAY_FIRST and not mapping.time_format:
            undecided.append(len(readers) - 1)
    decide_order(logs, readers, undecided, account)
    return [reader for reader in readers if reader is not None]


def _with_named_zone(log: Log, reader: TimeReader, mapping: LogMapping, account: ReadingAccount) -> TimeReader:
    """A clock of which the file says that it is not the local one: in a name, below it, or above the table."""
    units = [log.units.get(name, "") for name in reader.columns]
    ahead_s, where = ahead_of_utc_s([*reader.columns, *units]), "its name says"
    if ahead_s is None:
        ahead_s, where = (
            ahead_of_utc_s([line for line in log.preamble if tells_zone(line)]),
            "a line above the table says",
        )
    if ahead_s is None or reader.epoch is not None:
        return reader
    zone = "UTC" if not ahead_s else f"UTC{ahead_s / 3600:+g} h"
    if mapping.time_zone != "UTC" or ahead_s:
        named = " ".join(f"'{name}'" for name in reader.columns)
        account.assume(f"{log.path}: stamps of column {named} are {zone}, as {where}", SURE)
    return replace(reader, ahead_s=ahead_s)


def _find(log: Log, mapping: LogMapping, account: ReadingAccount) -> TimeReader:
    columns = mapping.time_columns or _columns_by_looking(log, mapping, account)
    missing = [name for name in columns if name not in log.names]
    if missing:
        raise missing_columns(log.path, missing, log.names)
    if len(columns) == 1 and columns[0] in log.stamp_columns:
        return TimeReader(columns)
    kind = log.head().columns[columns[0]].type
    if len(columns) == 1 and (pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind)):
        numbers = log.head().columns[columns[0]].cast(pa.float64(), safe=False).to_numpy()
        return _epoch_reader(log, columns, numbers, account)
    seen = seen_together(log, columns)
    if not seen:
        raise BadLog(log.path, "there is no readable time: the column is empty", column=columns[0])
    if mapping.time_format:
        return TimeReader(columns, _given_form(log, mapping.time_format, seen, columns))
    form = _form_of([one.text for one in seen])
    if form is not None:
        return TimeReader(columns, form)
    if _most([one.text for one in seen], is_clock_only):
        return TimeReader(columns, first_day=day_of_log(log, columns[0], account).isoformat())
    numbers = np.array([_float(one.text) for one in seen])
    if np.isfinite(numbers).mean() > 0.5:
        return _epoch_reader(log, columns, numbers, account)
    raise BadLog(
        log.path,
        f"there is no readable time: '{seen[0].text[:40]}' is no date and time in a known form",
        row=log.row_of(seen[0]),
        column=columns[0],
        hint=_KEYS,
    )


def seen_together(log: Log, columns: tuple[str, ...]) -> list[Seen]:
    """Texts of one column, or of date and time joined, from all over the file; empty ones left out."""
    together = []
    for parts in side_by_side(log, columns):
        text = " ".join(part.text.strip() for part in parts).strip()
        if text.casefold() not in NO_READING:
            together.append(Seen(text, parts[0].row, parts[0].offset))
    return together


def _form_of(texts: list[str]) -> StampForm | None:
    """The form that most of the texts have. DAY_FIRST also stands for dates that may be month first."""
    array = pa.array(texts, pa.string())
    fits = {form: decode(array, form)[1] for form in FORMS}
    fits[DAY_FIRST] = fits[DAY_FIRST] | fits.pop(MONTH_FIRST)
    form = max(fits, key=lambda one: int(fits[one].sum()))
    return form if fits[form].mean() > 0.5 else None


def _given_form(log: Log, text: str, seen: list[Seen], columns: tuple[str, ...]) -> StampForm:
    form = _format_understood(log, text)
    if not decode(pa.array([one.text for one in seen]), form)[1].any():
        raise BadLog(
            log.path,
            f"there is no readable time: '{seen[0].text[:40]}' is not written like time_format '{text}'",
            row=log.row_of(seen[0]),
            column=columns[0],
            hint="Correct time_format in [log] of the line file, or leave it out to have it found.",
        )
    return form


def _format_understood(log: Log, text: str) -> StampForm:
    try:
        return form_of_format(text)
    except ValueError as error:
        raise BadLog(
            log.path,
            f"time_format '{text}' of the line file cannot be used: {error}",
            hint="Write it like '%d.%m.%Y %H:%M:%S'.",
        ) from None


def _epoch_reader(log: Log, columns: tuple[str, ...], numbers: np.ndarray, account: ReadingAccount) -> TimeReader:
    epoch = epoch_of(numbers)
    if epoch is not None:
        return TimeReader(columns, epoch=epoch)
    if _are_days(numbers):
        account.assume(
            f"{log.path}: '{columns[0]}' holds day numbers of a spreadsheet, taken as counted from 1900, local time"
        )
        return TimeReader(columns, day_numbers=True)
    known = numbers[np.isfinite(numbers)]
    shown = f"{known[0]:.15g}" if len(known) else "empty"
    hint = "Export date and time as text such as 2026-03-06 10:52:30, or as seconds since 1970."
    if len(known) and _FIRST_DAY < np.median(known) < _LAST_DAY:
        hint = "It looks like the day numbers of a spreadsheet: show the column as date and time and export again."
    raise BadLog(
        log.path,
        f"there is no readable time: the number {shown} does not count seconds since 1970",
        column=columns[0],
        hint=hint,
    )


def _are_days(numbers: np.ndarray) -> bool:
    """Whether numbers are those of days since 1900 with the time of day behind the point, one after the other."""
    known = numbers[np.isfinite(numbers)]
    if len(known) < 2 or not (known.min() > _FIRST_DAY and known.max() < _LAST_DAY):
        return False
    steps, tenths = np.diff(known), known * 1e4
    finer = np.abs(tenths - np.round(tenths)).max() > 1e-3  # with four digits behind the point a step is nine seconds
    return bool(finer and max((steps >= 0).mean(), (steps <= 0).mean()) > 0.9)


def _columns_by_looking(log: Log, mapping: LogMapping, account: ReadingAccount) -> tuple[str, ...]:
    """The time column, or date and time columns, of a log whose line file does not name them."""
    taken = {source.tag for source in mapping.channels} if mapping.layout == "wide" else set()
    taken |= {mapping.tag_column, mapping.value_column, mapping.quality_column, mapping.lot_column}
    taken |= {mapping.recipe_column, mapping.line_column, ""}
    free = [name for name in dict.fromkeys(log.names) if name not in taken]
    free.sort(key=lambda name: not _TELLING.search(name))  # stable: telling names first, then from the left
    texts = {name: [one.text for one in log.seen(name)[:_LOOK_AT] if one.text.strip()] for name in free}
    if mapping.time_format and not any(name in log.stamp_columns for name in free):
        return _columns_written_so(log, mapping.time_format, free, texts, account)
    stamps = [name for name in free if name in log.stamp_columns or _hold_stamps(texts[name])]
    if not stamps:
        dates = [name for name in free if _most(texts[name], is_date_only)]
        dates = dates or [name for name in free if _TELLING.search(name) and _most(texts[name], is_compact_date)]
        clocks = [name for name in free if _most(texts[name], is_clock_only)]
        if dates and not clocks:
            clocks = [name for name in free if _TELLING.search(name) and _most(texts[name], is_compact_clock)]
        # With points between, '10.11.12' can be both; that of a date stays for the day.
        both = [name for name in dates if name in clocks]
        dates.sort(key=lambda name: (name in both, len(set(texts[name]))))
        clocks = [name for name in clocks if name not in dates[:1]]
        if dates and clocks:
            account.assume(f"{log.path}: date and time are taken from columns '{dates[0]}' and '{clocks[0]}'")
            return _with_milliseconds(log, (dates[0], clocks[0]), free, texts, account)
        stamps = [name for name in free if _TELLING.search(name) and _counts_from_1970(texts[name])]
        stamps = stamps or [name for name in free if _TELLING.search(name) and _are_days(_floats(texts[name]))]
        if not stamps and clocks:
            return _of_time_of_day(log, clocks, free, texts, account)
    if not stamps:
        shown = "; ".join(f"'{name}' starts with '{(texts[name] or [''])[0][:30]}'" for name in free[:4])
        raise BadLog(
            log.path,
            "there is no readable time: no column holds dates with times of day" + (f" ({shown})" if shown else ""),
            hint=f"Export a time column, or say how it is written. {_KEYS}",
        )
    stamps.sort(key=lambda name: ahead_of_utc_s([name]) is None)  # UTC tells the repeated hour apart
    others = f" (it could also be {', '.join(repr(name) for name in stamps[1:4])})" if stamps[1:] else ""
    account.assume(f"{log.path}: time is taken from column '{stamps[0]}'{others}", LIKELY if others else SURE)
    return _with_milliseconds(log, (stamps[0],), free, texts, account)


def _of_time_of_day(
    log: Log, clocks: Sequence[str], free: Sequence[str], texts: Mapping[str, list[str]], account: ReadingAccount
) -> tuple[str, ...]:
    running = [name for name in clocks if _RUNNING.search(name)]
    clocks = [name for name in clocks if name not in running]
    if not clocks:
        raise BadLog(
            log.path,
            f"column '{running[0]}' seems to count from a start ('{texts[running[0]][0][:30]}'), and no column holds "
            "the date and the time of day",
            column=running[0],
            hint="Export date and time of every row.",
        )
    account.assume(f"{log.path}: time is taken from column '{clocks[0]}'", LIKELY)
    return _with_milliseconds(log, (clocks[0],), free, texts, account)


def _with_milliseconds(
    log: Log, columns: tuple[str, ...], free: Sequence[str], texts: Mapping[str, list[str]], account: ReadingAccount
) -> tuple[str, ...]:
    """The columns, and one with the milliseconds where there is one beside stamps of whole seconds."""
    if log.stamp_columns or not all(re.search(r":\d\d$", text.strip()) for text in texts[columns[-1]]):
        return columns
    for name in free:
        some = [text.strip() for text in texts[name]]
        if _MILLISECONDS.fullmatch(name.strip(" []()")) and some and all(re.fullmatch(r"\d{1,3}", one) for one in some):
            account.assume(f"{log.path}: milliseconds are taken from column '{name}'", LIKELY)
            return (*columns, name)
    return columns


def _columns_written_so(
    log: Log, text: str, free: Sequence[str], texts: Mapping[str, list[str]], account: ReadingAccount
) -> tuple[str, ...]:
    """The column, or two side by side, whose texts are written like `text`, the time_format of the line file."""
    form = _format_understood(log, text)

    def written_so(together: list[str]) -> bool:
        return bool(together) and decode(pa.array(together, pa.string()), form)[1].mean() > 0.5

    found: list[tuple[str, ...]] = [(name,) for name in free if written_so(texts[name])]
    if not found:
        filled = [name for name in dict.fromkeys(log.names) if name in free and texts[name]]
        pairs = [pair for one in itertools.pairwise(filled) for pair in (one, one[::-1])]
        found = [
            pair for pair in pairs
            if written_so([f"{a} {b}" for a, b in zip(*(texts[name] for name in pair), strict=False)])
        ]  # fmt: skip
    if not found:
        shown = "; ".join(f"'{name}' starts with '{(texts[name] or [''])[0][:30]}'" for name in free[:4])
        raise BadLog(
            log.path,
            f"there is no readable time: no column is written like time_format '{text}'"
            + (f" ({shown})" if shown else ""),
            hint="Correct time_format in [log] of the line file, or leave it out to have it found; time_columns = "
            "['Date', 'Time'] names the columns.",
        )
    named = "' and '".join(found[0])
    account.assume(f"{log.path}: time is taken from '{named}', written like time_format", SURE)
    return found[0]


def _hold_stamps(texts: list[str]) -> bool:
    if not texts or _form_of(texts) is None:
        return False
    return not _most(texts, is_date_only) and not all(text.strip().isdigit() for text in texts)


def _counts_from_1970(texts: list[str]) -> bool:
    if texts and _form_of(texts) is COMPACT:
        return True
    numbers = _floats(texts)
    return len(texts) > 0 and bool(np.isfinite(numbers).mean() > 0.5) and epoch_of(numbers) is not None


def _most(texts: list[str], test: object) -> bool:
    return bool(texts) and sum(map(test, texts)) > 0.5 * len(texts)  # type: ignore[arg-type]


def _floats(texts: list[str]) -> np.ndarray:
    return np.array([_float(text) for text in texts], float)


def _float(text: str) -> float:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return float("nan")
