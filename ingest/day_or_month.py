"""Tells whether dates such as 03/04/2026 are day first or month first, from the log itself."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pyarrow as pa

from ingest.account import GUESS, LIKELY, SURE, ReadingAccount
from ingest.errors import BadLog
from ingest.raw_rows import Log, Seen
from ingest.stamp_text import DAY_FIRST, MONTH_FIRST, SECOND, StampForm, decode
from ingest.time_stamps import TimeReader, joined

_WORDS = {DAY_FIRST: "day first", MONTH_FIRST: "month first"}
_OTHER = {DAY_FIRST: MONTH_FIRST, MONTH_FIRST: DAY_FIRST}
_HALF_DAY_MARK = re.compile(r"(?<![a-z])[ap]\.?[ \u00a0\u202f]?m\.?(?![a-z])", re.IGNORECASE)


def decide_order(
    logs: Sequence[Log], readers: list[TimeReader | None], which: Sequence[int], account: ReadingAccount
) -> None:
    """Settles the order of day and month for the files `which`, in place; a file that leaves it open takes the
    order of the other files. Raises BadLog where no file settles it."""
    open_: list[tuple[int, Seen]] = []
    decided: StampForm | None = None
    for index in which:
        reader, log = readers[index], logs[index]
        assert reader is not None
        form, seen = _decide(log, reader, account)
        if form is None:
            open_.append((index, seen))
        else:
            decided = form
            readers[index] = replace(reader, form=form)
    for index, seen in open_:
        log, reader = logs[index], readers[index]
        assert reader is not None
        if decided is None:
            day, month = re.findall(r"\d+", seen.text)[:2]
            raise BadLog(
                log.path,
                f"'{seen.text}' may be day {int(day)} of month {int(month)} or the other way round, and no row of "
                "the log settles it",
                row=log.row_of(seen),
                column=reader.columns[0],
                hint=f"Give time_format in [log] of the line file: '{written_like(seen.text, 'd')}' where the day "
                f"comes first, '{written_like(seen.text, 'm')}' where the month does.",
            )
        readers[index] = replace(reader, form=decided)
        account.assume(f"{log.path}: dates are {_WORDS[decided]}, as in the other files")


def written_like(text: str, first: str) -> str:
    """The strptime format of a numeric date and time, with day ('d') or month ('m') first."""
    marks = [*(f"%{first}", "%m" if first == "d" else "%d"), "%Y" if re.match(r"\d+\D\d+\D\d{4}", text) else "%y"]
    half = bool(_HALF_DAY_MARK.search(text))
    marks += ["%I" if half else "%H", "%M", "%S", "%f"]
    written, used = "", 0
    for piece in re.findall(r"\d+|\D", _HALF_DAY_MARK.sub("", text).strip()):
        if piece.isdigit() and used < len(marks):
            written, used = written + marks[used], used + 1
        else:
            written += piece
    return f"{written} %p" if half else written


def _decide(log: Log, reader: TimeReader, account: ReadingAccount) -> tuple[StampForm | None, Seen]:
    seen = [
        Seen(" ".join(part.text.strip() for part in parts).strip(), parts[0].row, parts[0].offset)
        for parts in zip(*(log.seen(name) for name in reader.columns), strict=True)
    ]
    array = pa.array([one.text for one in seen], pa.string())
    days, day_ok, _ = decode(array, DAY_FIRST)
    months, month_ok, _ = decode(array, MONTH_FIRST)
    first = seen[int(np.argmax(day_ok | month_ok))]
    only = {DAY_FIRST: np.flatnonzero(day_ok & ~month_ok), MONTH_FIRST: np.flatnonzero(month_ok & ~day_ok)}
    if len(only[DAY_FIRST]) or len(only[MONTH_FIRST]):
        form = max(only, key=lambda one: len(only[one]))
        proof = seen[only[form][0]]
        sentence = f"{log.path}: dates are {_WORDS[form]}, seen on row {log.row_of(proof)} ('{proof.text}')"
        against = only[_OTHER[form]]
        if len(against):
            other = seen[against[0]]
            sentence += f", though row {log.row_of(other)} ('{other.text}') fits only the other order"
        account.assume(sentence, LIKELY if len(against) else SURE)
        return form, first
    both = day_ok & month_ok
    form = _by_course(log, days[both], months[both], account)
    if form is not None:
        return form, first
    if _HALF_DAY_MARK.search(first.text):
        account.assume(
            f"{log.path}: dates are taken as month first, as is usual with AM and PM ('{first.text}')", GUESS
        )
        return MONTH_FIRST, first
    if re.match(r"\d{1,2}\.\d{1,2}\.", first.text) or re.search(r" \d{1,2}\.\d{2}(\.\d{2})?$", first.text):
        account.assume(f"{log.path}: dates are taken as day first, as is usual with points ('{first.text}')")
        return DAY_FIRST, first
    return _by_every_row(log, reader, account), first


def _by_course(log: Log, days: np.ndarray, months: np.ndarray, account: ReadingAccount) -> StampForm | None:
    """The order under which the log runs on evenly: read the other way it leaps by months or runs backwards."""
    if len(days) < 2:
        return None
    spans = {DAY_FIRST: int(np.ptp(days)), MONTH_FIRST: int(np.ptp(months))}
    steps = {DAY_FIRST: np.diff(days), MONTH_FIRST: np.diff(months)}
    form = min(spans, key=lambda one: spans[one])
    if spans[_OTHER[form]] < 3 * max(spans[form], 86400 * SECOND):
        return None
    if (steps[form] < 0).sum() > (steps[_OTHER[form]] < 0).sum():
        return None
    length, other = (spans[one] / SECOND / 86400 for one in (form, _OTHER[form]))
    account.assume(
        f"{log.path}: dates are taken as {_WORDS[form]}: so the log spans {length:.0f} days, the other way {other:.0f}"
    )
    return form


def _by_every_row(log: Log, reader: TimeReader, account: ReadingAccount) -> StampForm | None:
    for rows in log.rows(reader.columns, frozenset()):
        texts = joined(rows, reader.columns)
        day_ok, month_ok = decode(texts, DAY_FIRST)[1], decode(texts, MONTH_FIRST)[1]
        for form, only in ((DAY_FIRST, day_ok & ~month_ok), (MONTH_FIRST, month_ok & ~day_ok)):
            if only.any():
                place = int(np.argmax(only))
                row, text = rows.numbers[place], texts[place].as_py()
                account.assume(f"{log.path}: dates are {_WORDS[form]}, seen on row {row} ('{text}')", SURE)
                return form
    return None
