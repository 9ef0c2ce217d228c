"""Finds by looking which columns of a log hold the time and how it is written; every choice is said."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence

import numpy as np
import pyarrow as pa

from ingest.account import LIKELY, SURE, ReadingAccount
from ingest.day_or_month import decide_order
from ingest.errors import BadLog, missing_columns
from ingest.mapping import LogMapping
from ingest.number_text import NO_READING
from ingest.raw_rows import Log, Seen
from ingest.stamp_text import (
    COMPACT,
    DAY_FIRST,
    MONTH_FIRST,
    MONTH_NAMED,
    YEAR_FIRST,
    StampForm,
    decode,
    form_of_format,
    is_clock_only,
    is_date_only,
)
from ingest.time_stamps import TimeReader, epoch_unit

_TELLING = re.compile(r"time|stamp|date|datum|zeit|fecha|hora|heure|\bts\b|^t$|epoch", re.IGNORECASE)
_KEYS = (
    "Give time_format in [log] of the line file, such as time_format = '%d/%m/%y %H.%M.%S', and time_columns = "
    "['Date', 'Time'], or the one column, where it is not found."
)
_LOOK_AT = 60
"""Texts of a column that are looked at to tell whether it holds times."""


def find_times(logs: Sequence[Log], mapping: LogMapping, account: ReadingAccount) -> list[TimeReader]:
    """A reader of the stamps of every file of a log.

    Raises BadLog where there is no readable time, or where day and month cannot be told apart.
    """
    readers: list[TimeReader | None] = []
    undecided: list[int] = []
    for log in logs:
        reader = _find(log, mapping, account)
        readers.append(reader)
        if reader is not None and reader.form is DAY_FIRST and not mapping.time_format:
            undecided.append(len(readers) - 1)
    decide_order(logs, readers, undecided, account)
    return [reader for reader in readers if reader is not None]


def _find(log: Log, mapping: LogMapping, account: ReadingAccount) -> TimeReader:
    columns = mapping.time_columns or _columns_by_looking(log, mapping, account)
    missing = [name for name in columns if name not in log.names]
    if missing:
        raise missing_columns(log.path, missing, log.names)
    if len(columns) == 1 and columns[0] in log.stamp_columns:
        return TimeReader(columns)
    kind = log.head().columns[columns[0]].type
    if len(columns) == 1 and (pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind)):
        return _epoch_reader(log, columns, log.head().columns[columns[0]].cast(pa.float64()).to_numpy())
    seen = seen_together(log, columns)
    if not seen:
        raise BadLog(log.path, "there is no readable time: the column is empty", column=columns[0])
    if mapping.time_format:
        return TimeReader(columns, _given_form(log, mapping.time_format, seen, columns))
    form = _form_of([one.text for one in seen])
    if form is not None:
        return TimeReader(columns, form)
    numbers = np.array([_float(one.text) for one in seen])
    if np.isfinite(numbers).mean() > 0.5:
        return _epoch_reader(log, columns, numbers)
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
    for parts in zip(*(log.seen(name) for name in columns), strict=True):
        text = " ".join(part.text.strip() for part in parts).strip()
        if text.casefold() not in NO_READING:
            together.append(Seen(text, parts[0].row, parts[0].offset))
    return together


def _form_of(texts: list[str]) -> StampForm | None:
    """The form that most of the texts have. DAY_FIRST also stands for dates that may be month first."""
    array = pa.array(texts, pa.string())
    fits = {form: decode(array, form)[1] for form in (YEAR_FIRST, DAY_FIRST, MONTH_FIRST, MONTH_NAMED, COMPACT)}
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


def _epoch_reader(log: Log, columns: tuple[str, ...], numbers: np.ndarray) -> TimeReader:
    per_s = epoch_unit(numbers)
    if per_s:
        return TimeReader(columns, epoch_per_s=per_s)
    known = numbers[np.isfinite(numbers)]
    shown = f"{known[0]:.15g}" if len(known) else "empty"
    hint = "Export date and time as text such as 2026-03-06 10:52:30, or as seconds since 1970."
    if len(known) and 29_000 < np.median(known) < 74_000:  # 1980 to 2100 counted in days since 1900
        hint = "It looks like the day numbers of a spreadsheet: show the column as date and time and export again."
    raise BadLog(
        log.path,
        f"there is no readable time: the number {shown} does not count seconds since 1970",
        column=columns[0],
        hint=hint,
    )


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
        clocks = [name for name in free if _most(texts[name], is_clock_only)]
        # With points between, '10.11.12' can be both; that of a date stays for the day.
        both = [name for name in dates if name in clocks]
        dates.sort(key=lambda name: (name in both, len(set(texts[name]))))
        clocks = [name for name in clocks if name not in dates[:1]]
        if dates and clocks:
            account.assume(f"{log.path}: date and time are taken from columns '{dates[0]}' and '{clocks[0]}'")
            return dates[0], clocks[0]
        stamps = [name for name in free if _TELLING.search(name) and _counts_from_1970(texts[name])]
    if not stamps:
        shown = "; ".join(f"'{name}' starts with '{(texts[name] or [''])[0][:30]}'" for name in free[:4])
        raise BadLog(
            log.path,
            "there is no readable time: no column holds dates with times of day" + (f" ({shown})" if shown else ""),
            hint=f"Export a time column, or say how it is written. {_KEYS}",
        )
    others = f" (it could also be {', '.join(repr(name) for name in stamps[1:4])})" if stamps[1:] else ""
    account.assume(f"{log.path}: time is taken from column '{stamps[0]}'{others}", LIKELY if others else SURE)
    return (stamps[0],)


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
    numbers = np.array([_float(text) for text in texts])
    return len(texts) > 0 and bool(np.isfinite(numbers).mean() > 0.5) and epoch_unit(numbers) > 0


def _most(texts: list[str], test: object) -> bool:
    return bool(texts) and sum(map(test, texts)) > 0.5 * len(texts)  # type: ignore[arg-type]


def _float(text: str) -> float:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return float("nan")
