"""Texts of date and time as integer nanoseconds: the forms that logs use, and one decoder for all of them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pyarrow as pa

from ingest.arrow_compute import pc
from ingest.calendar_days import midnights
from ingest.calendar_words import AM, BLANK, LETTER, PM, WEEKDAY, month_of

SECOND = 1_000_000_000
_LOOK_AT = 1000
_ZONES = {
    "WET": 0,
    "WEST": 1,
    "CET": 1,
    "CEST": 2,
    "MEZ": 1,
    "MESZ": 2,
    "EET": 2,
    "EEST": 3,
    "EDT": -4,
    "CDT": -5,
    "MDT": -6,
    "PDT": -7,
}
"""Hours ahead of UTC of those names of zones that mean one thing only."""
_HALVES = "|".join(re.escape(word) for word in (*AM, *PM))
# Italy, Denmark and Finland write the time of day with points. Milliseconds may be a column of their own, joined.
_CLOCK = (
    r"(?P<H>\d{1,2})[:.](?P<M>\d{2})(?:[:.](?P<S>\d{2})(?:(?P<f>[.,]\d{1,12}|:\d{3})| (?P<k>\d{1,3}))?)?"
    rf"(?:{BLANK}?(?:(?P<p>[AaPp])\.?{BLANK}?[Mm]\.?|(?P<q>{_HALVES})\.?|Uhr))?"
    rf"(?: ?(?P<z>[Zz]|{'|'.join(_ZONES)}|"
    r"(?:UTC|GMT)?[+-]\d{2}:?\d{2}|(?:UTC|GMT)[+-]\d{1,2}|[+-]\d{2}|UTC|GMT)"
    r"(?:\[[A-Za-z0-9_/+-]+\])?)?"
)
_TAIL = rf"(?:(?:[Tt_-]|,?{BLANK}+(?:-{BLANK}+)?){_CLOCK})?"
_DAY_OF_WEEK = rf"^(?:{WEEKDAY}\.?,?{BLANK}+)?"


@dataclass(frozen=True)
class StampForm:
    """One way to write a stamp.

    name: for people. pattern: of the whole text, with groups y m d b H M S f p z (b is a month by name); j is the day
    of the year, w and u are week and day of the week after ISO 8601, whose year y is.
    """

    name: str
    pattern: str

    @cached_property
    def compiled(self) -> re.Pattern[str]:
        """The pattern for single texts."""
        return re.compile(self.pattern)

    @property
    def groups(self) -> Mapping[str, int]:
        """Which groups the pattern has."""
        return self.compiled.groupindex


YEAR_FIRST = StampForm(
    "YYYY-MM-DD HH:MM:SS", rf"{_DAY_OF_WEEK}(?P<y>\d{{4}})[-/.:](?P<m>\d{{1,2}})[-/.:](?P<d>\d{{1,2}}){_TAIL}$"
)
COMPACT = StampForm(
    "YYYYMMDD HHMMSS",
    r"^(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})[Tt ]?(?P<H>\d{2}):?(?P<M>\d{2}):?(?P<S>\d{2})(?P<f>[.,]\d{1,12})?"
    r"(?P<z>[Zz]|[+-]\d{2}(?::?\d{2})?)?$",
)
_TWO_FIRST = _DAY_OF_WEEK + r"(?P<{a}>\d{{1,2}})[-/.](?P<{b}>\d{{1,2}})[-/.](?P<y>\d{{4}}|\d{{2}})"
DAY_FIRST = StampForm("DD.MM.YYYY HH:MM:SS", _TWO_FIRST.format(a="d", b="m") + _TAIL + "$")
MONTH_FIRST = StampForm("MM/DD/YYYY HH:MM:SS", _TWO_FIRST.format(a="m", b="d") + _TAIL + "$")
_MONTH = rf"(?P<b>{LETTER}{{3,}})\.?"
MONTH_NAMED = StampForm(
    "DD-Mon-YYYY HH:MM:SS",
    rf"{_DAY_OF_WEEK}(?P<d>\d{{1,2}})(?:[-/. ]|\. | de ){_MONTH}(?:[-/. ]|, | de )(?P<y>\d{{4}}|\d{{2}}){_TAIL}$",
)
MONTH_NAMED_FIRST = StampForm(
    "Mon DD, YYYY HH:MM:SS", rf"{_DAY_OF_WEEK}{_MONTH} +(?P<d>\d{{1,2}}),? +(?P<y>\d{{4}}){_TAIL}$"
)
YEAR_LAST = StampForm("Mon DD HH:MM:SS YYYY", rf"{_DAY_OF_WEEK}{_MONTH} +(?P<d>\d{{1,2}}) +{_CLOCK} (?P<y>\d{{4}})$")
WEEK_DATE = StampForm("YYYY-Www-D HH:MM:SS", rf"^(?P<y>\d{{4}})-?W(?P<w>\d{{2}})-?(?P<u>[1-7]){_TAIL}$")
ORDINAL_DATE = StampForm("YYYY-DDD HH:MM:SS", rf"^(?P<y>\d{{4}})[-/](?P<j>\d{{3}}){_TAIL}$")
CLOCK_ALONE = StampForm("HH:MM:SS", rf"^{_CLOCK}$")
"""A time of day; what day it is, somebody else must say."""
FORMS = (
    *(YEAR_FIRST, DAY_FIRST, MONTH_FIRST, MONTH_NAMED, MONTH_NAMED_FIRST, YEAR_LAST, COMPACT),
    *(WEEK_DATE, ORDINAL_DATE),
)
"""All that are tried where nobody says how a stamp is written."""

_DATE_ONLY = re.compile(
    rf"{_DAY_OF_WEEK}(\d{{4}}[-/.:]\d{{1,2}}[-/.:]\d{{1,2}}|\d{{4}}-?W\d{{2}}-?[1-7]|\d{{4}}[-/]\d{{3}}|"
    rf"\d{{1,2}}(?:[-/. ]|\. | de )(\d{{1,2}}|{LETTER}{{3,}}\.?)(?:[-/. ]|, | de )(\d{{4}}|\d{{2}}))$"
)
# Alone, '6.50' is a number.
_CLOCK_ONLY = re.compile(r"^(?!\d+\.\d+$)" + _CLOCK + "$")


def looks_like_time(text: str) -> bool:
    """Whether a text is a date, a time of day, or both, in any form known here."""
    text = text.strip()
    return bool(_CLOCK_ONLY.match(text)) or any(form.compiled.match(text) for form in FORMS)


def is_date_only(text: str) -> bool:
    """A date without a time of day."""
    return bool(_DATE_ONLY.match(text.strip()))


def is_clock_only(text: str) -> bool:
    """A time of day without a date."""
    return bool(_CLOCK_ONLY.match(text.strip()))


def is_compact_date(text: str) -> bool:
    """A date of eight digits, year first. Under another name than that of a date it is a number."""
    return re.fullmatch(r"(19|20)\d\d(0[1-9]|1[0-2])(0[1-9]|[12]\d|3[01])", text.strip()) is not None


def is_compact_clock(text: str) -> bool:
    """A time of day of six digits."""
    return re.fullmatch(r"([01]\d|2[0-3])[0-5]\d[0-5]\d", text.strip()) is not None


_DIRECTIVES = {
    "Y": r"(?P<y>\d{4})",
    "y": r"(?P<y>\d{2})",
    "m": r"(?P<m>\d{1,2})",
    "d": r"(?P<d>\d{1,2})",
    "j": r"(?P<j>\d{3})",
    "G": r"(?P<y>\d{4})",
    "V": r"(?P<w>\d{2})",
    "u": r"(?P<u>[1-7])",
    "b": rf"(?P<b>{LETTER}{{3,}})\.?",
    "B": rf"(?P<b>{LETTER}{{3,}})",
    "H": r"(?P<H>\d{1,2})",
    "I": r"(?P<H>\d{1,2})",
    "M": r"(?P<M>\d{1,2})",
    "S": r"(?P<S>\d{1,2})",
    "f": r"(?P<f>\d{1,12})",
    "p": r"(?P<p>[AaPp])\.?[Mm]\.?",
    "z": r"(?P<z>[Zz]|[+-]\d{2}:?\d{2})",
    "%": "%",
}
_SHORT = {"T": "%H:%M:%S", "F": "%Y-%m-%d", "R": "%H:%M", "D": "%m/%d/%y"}


def form_of_format(text: str) -> StampForm:
    """The form that a strptime format describes. Raises ValueError, naming what is not understood."""
    for short, long in _SHORT.items():
        text = text.replace(f"%{short}", long)
    pattern, rest = "^", text
    while rest:
        if rest[0] == "%":
            if rest[1:2] not in _DIRECTIVES:
                raise ValueError(f"'%{rest[1:2]}' is not known; known are %{', %'.join(sorted(_DIRECTIVES))}")
            pattern += _DIRECTIVES[rest[1]]
            rest = rest[2:]
        else:
            pattern += re.escape(rest[0]) if rest[0] != " " else " +"
            rest = rest[1:]
    try:
        form = StampForm(text, pattern + "$")
        names = set(form.groups)
    except re.error:
        raise ValueError("a part is there twice") from None
    days = ({"d", "m"}, {"d", "b"}, {"j"}, {"w", "u"})
    if "y" not in names or not any(day <= names for day in days):
        raise ValueError("it needs year, month and day, or year and day of the year, or year, week and day of the week")
    return form


def decode(texts: pa.ChunkedArray | pa.Array, form: StampForm) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Nanoseconds since 1970 int64, which could be read, and which carried an offset and so are UTC.

    Without an offset the nanoseconds are those of the local clock. Shapes (n,), (n,), (n,).
    """
    if isinstance(texts, pa.ChunkedArray):
        texts = texts.combine_chunks()
    if len(texts) > _LOOK_AT and len(texts[:_LOOK_AT].unique()) < _LOOK_AT / 2:
        # A long log has many rows of one stamp: each is read once.
        known = texts.dictionary_encode()
        place = pc.fill_null(known.indices, len(known.dictionary)).to_numpy()
        parts = decode(pa.concat_arrays([known.dictionary, pa.array([""], known.dictionary.type)]), form)
        return parts[0][place], parts[1][place], parts[2][place]
    texts = pc.utf8_trim_whitespace(pc.fill_null(texts.cast(pa.string()), ""))
    lengths = np.asarray(pc.binary_length(texts))
    if len(texts) and (lengths == lengths[0]).all():
        return _decode_equal(texts, int(lengths[0]), form)
    ns = np.zeros(len(texts), np.int64)
    ok = np.zeros(len(texts), bool)
    zoned = np.zeros(len(texts), bool)
    for length in np.unique(lengths):
        same = np.flatnonzero(lengths == length)
        ns[same], ok[same], zoned[same] = _decode_equal(texts.take(pa.array(same)), int(length), form)
    return ns, ok, zoned


def _decode_equal(texts: pa.Array, length: int, form: StampForm) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """As `decode`, of texts that are all of one length."""
    parts, fits = _parts_of_equal(texts, length, form)
    if not fits.all():
        other = np.flatnonzero(~fits)
        slow = _parts_by_pattern(texts.take(pa.array(other)), form)
        for name, part in parts.items():
            part[other] = slow[name]
        fits[other] = slow["fits"].astype(bool)
    ns, valid = _assemble(parts)
    valid &= fits
    return ns, valid, parts["zoned"].astype(bool) & valid


_PART_NAMES = ("y", "m", "d", "j", "w", "u", "H", "M", "S", "f", "p", "z", "zoned")


def _empty_parts(n: int) -> dict[str, np.ndarray]:
    parts = {name: np.zeros(n, np.int64) for name in _PART_NAMES}
    parts["p"][:] = -1  # -1 a 24-hour clock, 0 am, 1 pm
    return parts


def _parts_of_equal(texts: pa.Array, length: int, form: StampForm) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Parts of texts that are all of one length, taking them to be written like the first; and which are so."""
    n = len(texts)
    parts = _empty_parts(n)
    first = str(texts[0].as_py())
    match = form.compiled.match(first)
    if match is None or len(first) != length:  # no stamp, or not ASCII
        return parts, np.zeros(n, bool)
    offsets = np.frombuffer(texts.buffers()[1], np.int32)[texts.offset : texts.offset + 1]
    start = int(offsets[0])
    # Letter by letter: numpy works fastest on what lies side by side.
    letters = np.frombuffer(texts.buffers()[2], np.uint8)[start : start + n * length].reshape(n, length)
    letters = np.ascontiguousarray(letters.T)
    fits = np.ones(n, bool)
    fixed = set(range(length))
    for name, (low, high) in ((name, match.span(name)) for name in form.groups):
        if low < 0 or name in ("z", "b", "q"):
            continue
        if name == "p":
            fixed.discard(low)
            upper = letters[low] & 0xDF
            parts["p"] = (upper == ord("P")).astype(np.int64)
            fits &= (upper == ord("P")) | (upper == ord("A"))
            continue
        if name == "f" and not first[low].isdigit():
            low += 1
        digits = letters[low:high] - np.uint8(48)
        fits &= digits.max(axis=0) <= 9
        fixed -= set(range(low, high))
        total = digits[0].astype(np.int64)
        for digit in digits[1:9]:
            total *= 10
            total += digit
        if name == "k":
            name, total = "f", total * 1_000_000
        elif name == "f":
            total *= 10 ** max(0, 9 - (high - low))
        parts[name] = total
    for place in fixed:
        fits &= letters[place] == letters[place, 0]
    given = match.groupdict()
    if given.get("z"):
        parts["z"][:], parts["zoned"][:] = _offset_s(given["z"]), 1
    if given.get("b"):
        parts["m"][:] = month_of(given["b"])
    if given.get("q"):
        parts["p"][:] = given["q"] in PM
    return parts, fits


def _parts_by_pattern(texts: pa.Array, form: StampForm) -> dict[str, np.ndarray]:
    """Parts of any texts, by pattern; 'fits' marks those that match."""
    n = len(texts)
    parts = _empty_parts(n)
    # Arrow makes the pattern ready anew at every call, which takes milliseconds.
    if n <= _LOOK_AT and not any(map(form.compiled.match, texts.to_pylist())):
        return {**parts, "fits": np.zeros(n, np.int64)}
    found = pc.extract_regex(texts, form.pattern)
    parts["fits"] = np.asarray(found.is_valid()).astype(np.int64)
    for name in form.groups:
        column = pc.fill_null(pc.struct_field(found, name), "")
        if name == "p":
            letters = np.array(column.to_pylist())
            parts["p"] = np.select([letters == "", np.isin(letters, ["P", "p"])], [-1, 1], 0)
        elif name == "q":
            words = np.array(column.to_pylist())
            parts["p"] = np.select([np.isin(words, PM), np.isin(words, AM)], [1, 0], parts["p"])
        elif name in ("z", "b"):
            known = column.dictionary_encode()
            meaning = [_offset_s(t) if name == "z" else month_of(t) for t in known.dictionary.to_pylist()]
            parts["z" if name == "z" else "m"] = np.array([*meaning, 0], np.int64)[known.indices.to_numpy()]
            if name == "z":
                parts["zoned"] = np.asarray(pc.not_equal(column, "")).astype(np.int64)
        else:
            if name == "f":
                digits = pc.utf8_ltrim(column, ".,:")
                column = pc.utf8_slice_codeunits(pc.utf8_rpad(digits, 9, "0"), 0, 9)
            number = np.array(pc.cast(pc.if_else(pc.equal(column, ""), "0", column), pa.int64()).to_numpy(False))
            if name == "k":
                parts["f"] += number * 1_000_000
            else:
                parts[name] = number
    return parts


def _assemble(parts: dict[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Nanoseconds of calendar parts and which of them exist in the calendar."""
    midnight, ok = midnights(parts)
    hour, p = parts["H"], parts["p"]
    whole = (hour == 24) & (parts["M"] == 0) & (parts["S"] == 0) & (parts["f"] == 0)  # the end of a day, ISO 8601
    if (p < 0).all():
        ok &= (hour <= 23) | whole
    else:
        ok &= np.where(p < 0, (hour <= 23) | whole, (hour >= 1) & (hour <= 12))
        hour = np.where(p < 0, hour, hour % 12 + 12 * p)
    ok &= (parts["M"] <= 59) & (parts["S"] <= 59)
    seconds = midnight + hour * 3600 + parts["M"] * 60 + parts["S"] - parts["z"]
    return np.where(ok, seconds, 0) * SECOND + parts["f"], ok


def _offset_s(text: str) -> int:
    if text in _ZONES:
        return _ZONES[text] * 3600
    text = text.removeprefix("UTC").removeprefix("GMT")
    if not text or text[0] not in "+-":
        return 0
    digits = text[1:].replace(":", "")
    digits = digits.zfill(2).ljust(4, "0") if len(digits) < 3 else digits
    sign = -1 if text[0] == "-" else 1
    return sign * (int(digits[:2]) * 3600 + int(digits[2:4]) * 60)
