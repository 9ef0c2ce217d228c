"""Texts of a number column as numbers: decimal marks, thousands marks and the words for 'no reading'."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal

import numpy as np
import pyarrow as pa

from ingest.arrow_compute import pc

Decimal = Literal[".", ",", ""]
"""Decimal mark of a column; '' where nothing seen so far settles it."""

_WORDS = (
    *("", "nan", "n/a", "na", "n.a.", "#n/a", "#na", "#n/a n/a", "#value!", "#div/0!", "#ref!", "#num!", "null"),
    *("none", "nil", "-", "--", "---", "----", "-----", "?", "??", "???", "*", "***", "****", "*****", "bad"),
    *("error", "err", "fault", "no data", "nodata", "no reading", "missing", "timeout", "i/o timeout"),
    *("inf", "+inf", "-inf", "infinity", "-infinity", "1.#inf", "-1.#inf", "1.#qnan", "-1.#ind", "-nan", "+nan"),
)
NO_READING: frozenset[str] = frozenset(_WORDS)
"""Texts, in small letters, that say 'no reading'. Common practice, no source."""

NO_READING_AS_WRITTEN: tuple[str, ...] = tuple(
    sorted({form for word in _WORDS for form in (word, word.upper(), word.title(), word.capitalize(), "NaN")})
)
"""The same in the cases they are usually written in, for a reader that compares letter by letter."""

SWITCH_WORDS = {"true": 1.0, "false": 0.0, "on": 1.0, "off": 0.0, "yes": 1.0, "no": 0.0}
"""For roles that are 1 or 0."""

# Marks between thousands: comma or point (whichever is not the decimal mark), blanks of several widths, apostrophes.
_BLANKS = " \u00a0\u2009\u202f"
_QUOTES = "'\u2019"


def _plain(mark: str) -> str:
    return rf"^[+-]?(?:\d+{mark}?\d*|{mark}\d+)(?:[eE][+-]?\d+)?$"


def _grouped(group: str, mark: str, mark_needed: bool = False) -> str:
    return rf"^[+-]?[1-9]\d{{0,2}}(?:{group}\d{{3}})+(?:{mark}\d*){'' if mark_needed else '?'}$"


_POINT, _COMMA = _plain(r"\."), _plain(",")
_GROUPED: dict[str, tuple[str, ...]] = {
    ".": tuple(_grouped(g, r"\.") for g in (",", *_BLANKS, *_QUOTES)),
    ",": tuple(_grouped(g, ",") for g in (r"\.", *_BLANKS, *_QUOTES)),
}
_TRIED = 100
_OPEN = re.compile(r"[+-]?[1-9]\d{0,2}(?:[.,]\d{3})+")
_SHOWING: dict[Decimal, list[re.Pattern[str]]] = {
    ".": [
        re.compile(_POINT),
        *(re.compile(_grouped(group, r"\.", mark_needed=True)) for group in (",", *_BLANKS, *_QUOTES)),
    ],
    ",": [
        re.compile(_COMMA),
        *(re.compile(_grouped(group, ",", mark_needed=True)) for group in (r"\.", *_BLANKS, *_QUOTES)),
    ],
}


def decimal_of(texts: Iterable[str]) -> Decimal:
    """The decimal mark that the texts of one column show, '' where they leave it open.

    '1.234' alone is open (a thousand or not quite one and a quarter?), '0.234', '12.5' and '1.234,5' are not.
    """
    votes: dict[Decimal, int] = {".": 0, ",": 0}
    texts = list(texts)
    commas = any("," in text for text in texts)
    for text in texts:
        text = text.strip()
        if ("." not in text and "," not in text) or _OPEN.fullmatch(text):
            continue
        mark = "." if text.rfind(".") > text.rfind(",") else ","  # the last mark is the only one that can be it
        votes[mark] += any(pattern.fullmatch(text) for pattern in _SHOWING[mark])
        if votes["."] and not commas:
            return "."  # no other can come up
    if votes["."] == votes[","]:
        return ""
    return "." if votes["."] > votes[","] else ","


def read_numbers(
    texts: pa.ChunkedArray, decimal: Decimal, missing: frozenset[str], switch: bool = False
) -> tuple[np.ndarray, np.ndarray]:
    """Numbers float64 and a bool array that marks what could not be read; both have NaN/False for 'no reading'.

    decimal: mark of the column. With '' both marks are taken, and '1,234' is unreadable: it may be either.
    missing: further texts that say 'no reading', in small letters.
    switch: 'on', 'true', 'off', ... are 1 and 0.
    """
    trimmed = pc.fill_null(pc.utf8_trim_whitespace(texts), "")
    quick = plain_numbers(trimmed, decimal)
    if quick is not None:
        return quick, np.zeros(len(quick), bool)
    quick = grouped_numbers(trimmed, decimal) if decimal else None
    if quick is not None:
        return quick, np.zeros(len(quick), bool)
    trimmed = _usual_minus(trimmed)
    folded = pc.utf8_lower(trimmed)
    none = _bools(pc.is_in(folded, value_set=pa.array(sorted(NO_READING | missing))))
    numbers = np.full(len(texts), np.nan)
    open_ = ~none
    for pattern, drop in _ways(decimal):
        if not open_.any():
            break
        fits = open_ & _bools(pc.match_substring_regex(trimmed, pattern))
        if fits.any():
            numbers[fits] = _cast(trimmed.filter(pa.array(fits)), drop)
            open_ &= ~fits
    if switch and open_.any():
        for word, value in SWITCH_WORDS.items():
            fits = open_ & _bools(pc.equal(folded, word))
            numbers[fits] = value
            open_ &= ~fits
    numbers[np.isinf(numbers)] = np.nan
    return numbers, open_


def _usual_minus(texts: pa.ChunkedArray) -> pa.ChunkedArray:
    """The sign of minus as typesetters write it, and behind the number as bookkeepers do, as one in front."""
    texts = pc.replace_substring_regex(texts, "^[\u2212\u2013]", "-")
    return pc.replace_substring_regex(texts, r"^(\d[\d.,]*)-$", r"-\1")


def plain_numbers(texts: pa.ChunkedArray, decimal: Decimal) -> np.ndarray | None:
    """Numbers where every text is one without marks between thousands, else None."""
    if decimal == ",":
        if pc.any(pc.match_substring(texts, ".")).as_py():
            return None
        texts = pc.replace_substring(texts, ",", ".")
    try:
        # Every text that is no number costs as much as twenty that are, so a few are tried first.
        pc.cast(texts.slice(0, _TRIED), pa.float64())
        numbers = pc.cast(texts, pa.float64()).to_numpy()
    except pa.ArrowInvalid:
        return None
    return np.where(np.isinf(numbers), np.nan, numbers)


def grouped_numbers(texts: pa.ChunkedArray, decimal: Decimal) -> np.ndarray | None:
    """Numbers where every text is one and marks between thousands are all of one kind and in their places; else None.

    The places are checked on the letters of all texts at once: groups of three digits up to the decimal mark or the
    end, the first of one to three digits that do not start with a zero, and no mark behind the decimal mark.
    """
    joined = texts.combine_chunks()
    joined = joined if isinstance(joined, pa.Array) else pa.concat_arrays(joined.chunks)
    data = joined.buffers()[2]
    if not len(joined) or data is None:
        return None
    raw = memoryview(data).tobytes()
    marks = [mark for mark in ("." if decimal == "," else ",", *_BLANKS, *_QUOTES) if mark.encode() in raw]
    if len(marks) != 1:
        return None
    if len(marks[0].encode()) > 1:
        joined = pc.replace_substring(joined, marks[0], "'")
        marks = ["'"]
    ends = np.frombuffer(joined.buffers()[1], np.int32)[joined.offset : joined.offset + len(joined) + 1]
    letters = np.frombuffer(joined.buffers()[2], np.uint8)[: ends[-1]]
    places = np.flatnonzero(letters == ord(marks[0]))
    places = places[places >= ends[0]]
    text = np.searchsorted(ends, places, side="right") - 1
    first = np.diff(text, prepend=-1) != 0
    signed = np.isin(letters[ends[text]], (ord("+"), ord("-")))
    start = ends[text] + signed
    points = np.flatnonzero(letters == ord(decimal))
    point = np.append(points, np.iinfo(np.int64).max)[np.searchsorted(points, places)]
    stop = np.minimum(point, ends[text + 1])
    follows = np.append(places[1:], np.iinfo(np.int64).max)
    stop = np.where(np.append(~first[1:], False), np.minimum(stop, follows), stop)
    in_place = stop - places == 4
    in_place &= ~first | ((places - start >= 1) & (places - start <= 3) & (letters[start] != ord("0")))
    before = np.searchsorted(points, places) - np.searchsorted(points, ends[text])
    in_place &= before == 0
    powers = (letters == ord("e")) | (letters == ord("E"))
    if not in_place.all() or powers.any():
        return None
    tidy = pc.replace_substring(joined, marks[0], "")
    return plain_numbers(pa.chunked_array([tidy]), decimal)


def _ways(decimal: Decimal) -> list[tuple[str, str]]:
    """Patterns to try in turn, each with the decimal mark of what fits it."""
    if decimal:
        plain = _POINT if decimal == "." else _COMMA
        return [(plain, decimal), *((pattern, decimal) for pattern in _GROUPED[decimal])]
    both = [(_POINT, ".")]
    # A comma number whose comma cannot stand between thousands.
    both.append((r"^[+-]?(?:\d+,(?:\d{1,2}|\d{4,})|0+,\d*|\d{4,},\d*|\d+,|,\d+)(?:[eE][+-]?\d+)?$", ","))
    both += [(pattern, ".") for pattern in _GROUPED["."][1:]]
    both += [(_grouped(r"\.", ",", mark_needed=True), ","), (_grouped(",", r"\.", mark_needed=True), ".")]
    return both


def _cast(texts: pa.ChunkedArray, decimal: str) -> np.ndarray:
    if decimal == ",":
        tidy = pc.replace_substring(pc.replace_substring(texts, ".", ""), ",", ".")
    else:
        tidy = pc.replace_substring(texts, ",", "")
    tidy = pc.replace_substring_regex(tidy, f"[{_BLANKS}{_QUOTES}]", "")
    try:
        return pc.cast(tidy, pa.float64()).to_numpy()
    except pa.ArrowInvalid:  # a number too large for a float64
        return np.array([float(text) for text in tidy.to_pylist()])


def _bools(array: pa.ChunkedArray) -> np.ndarray:
    return np.asarray(array.to_numpy()).astype(bool)
