"""Quality codes of a log as good, uncertain or bad.

Numbers follow OPC UA status codes (OPC 10000-4, 7.39.1: severity in bits 31 and 30; 00 good, 01 uncertain, 10 bad),
the classic quality byte (bits 7 and 6: 11 good, 01 uncertain, 00 bad; below them sub-status in bits 5 to 2 and limit
in bits 1 and 0, the maker's own in the high byte; value from memory) or Sparkplug (0 bad, 192 good, 500 stale).
Zero is good in the first and bad in the others, so which of them a log uses is found by looking at all of it.
Words are those of the three, and the status signals of NAMUR NE 107: failure and function check (signal invalid), out
of specification (uncertain), maintenance required (valid).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np
import pyarrow as pa

from ingest.arrow_compute import pc
from ingest.block import BAD, GOOD, UNCERTAIN

OPC_UA, CLASSIC = "OPC UA status codes", "classic quality bytes"
_STALE = 500
_WORDS = (
    ("good", GOOD),
    ("ok", GOOD),
    ("valid", GOOD),
    ("maintenance required", GOOD),
    ("uncertain", UNCERTAIN),
    ("questionable", UNCERTAIN),
    ("out of specification", UNCERTAIN),
    ("bad", BAD),
    ("stale", BAD),
    ("invalid", BAD),
    ("error", BAD),
    ("fault", BAD),
    ("failure", BAD),
    ("function check", BAD),
    ("not connected", BAD),
    ("comm fail", BAD),
    ("no data", BAD),
)
# A number beside words, '192 (Good)' or 'Good [0xC0]': the words count, or the number where they say nothing.
_NUMBER_FIRST = re.compile(r"(0x[0-9a-f]+|\d+)[ :;,(\[-]+(.*)")


def scheme_of(texts: Iterable[str]) -> str:
    """Which numbers these codes are: OPC_UA, CLASSIC, or '' where only zeros and words were seen."""
    codes = {code for text in texts if (code := _number(text)) is not None}
    if any(code > 0xFFFF for code in codes):
        return OPC_UA
    return CLASSIC if codes - {0} else ""


def read_quality(column: pa.ChunkedArray, scheme: str) -> tuple[np.ndarray, np.ndarray]:
    """Quality uint8 and a bool array that marks codes which are not known (taken as uncertain).

    A missing code is good (common practice, no source).
    """
    encoded = column.cast(pa.string()).combine_chunks().dictionary_encode()
    known: list[int] = []
    strange: list[bool] = []
    for text in encoded.dictionary.to_pylist():
        quality = _quality(text, scheme)
        known.append(UNCERTAIN if quality is None else quality)
        strange.append(quality is None)
    place = pc.fill_null(encoded.indices, len(known)).to_numpy(zero_copy_only=False)
    return np.array([*known, GOOD], np.uint8)[place], np.array([*strange, False])[place]


def _quality(text: str, scheme: str) -> int | None:
    folded = " ".join(text.replace("_", " ").casefold().split())
    if not folded:
        return GOOD
    code = _number(folded)
    if code is None:
        beside = _NUMBER_FIRST.fullmatch(folded)
        if beside is None:
            return _word(folded)
        word = _word(beside[2])
        return word if word is not None else _quality(beside[1], scheme)
    if scheme != CLASSIC or code > 0xFFFF:
        return (GOOD, UNCERTAIN, BAD, None)[code >> 30]
    if code == _STALE:
        return BAD
    return (BAD, UNCERTAIN, None, GOOD)[(code & 0xFF) >> 6]


def _word(folded: str) -> int | None:
    return next((quality for word, quality in _WORDS if folded.startswith(word)), None)


def _number(text: str) -> int | None:
    """The code as an unsigned 32-bit number: decimal, hexadecimal, signed or with a '.0' behind it."""
    text = text.strip().casefold()
    try:
        code = int(text, 16) if text.startswith("0x") else int(text.removesuffix(".0"))
    except ValueError:
        return None
    return code & 0xFFFFFFFF if -(1 << 31) <= code < 1 << 32 else None
