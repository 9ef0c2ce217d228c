"""Which letters the bytes of a text log stand for."""

from __future__ import annotations

import codecs
from collections.abc import Sequence

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),  # before UTF-16, whose mark it starts with
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
ONE_BYTE = ("cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp1257", "cp1255", "cp1256", "cp1258", "cp874")
_OLDER = ("cp850", "cp852", "cp866", "cp437")
_MORE_BYTES = ("cp932", "gb18030", "cp949", "cp950")
CODE_PAGES = (*ONE_BYTE, *_OLDER, *_MORE_BYTES)
"""Windows code pages, then those of consoles, then those of East Asia; Western Europe first."""


def encoding_of(head: bytes, whole: bool, wanted: Sequence[str]) -> tuple[str, int]:
    """The Python codec of a text that starts with `head`, and the length of its byte order mark.

    Bytes do not tell code pages apart: the one is taken in which most of the names the line file gives can be read,
    Windows Western Europe where they do not say.
    """
    for mark, name in _MARKS:
        if head.startswith(mark):
            return name, len(mark)
    sample = head[:4096]
    # Without a mark, Latin text in UTF-16 still shows itself by a zero in every other byte.
    low, high = sample[1::2].count(0), sample[::2].count(0)
    if low > 0.4 * len(sample[1::2]) and high < 0.1 * len(sample):
        return "utf-16-le", 0
    if high > 0.4 * len(sample[::2]) and low < 0.1 * len(sample):
        return "utf-16-be", 0
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head, final=whole)
    except UnicodeDecodeError:
        return _code_page(head, wanted), 0
    return "utf-8", 0


def _code_page(head: bytes, wanted: Sequence[str]) -> str:
    telling = [name for name in wanted if not name.isascii()]
    if not telling:
        return ONE_BYTE[0]
    best, most = ONE_BYTE[0], 0
    for name in CODE_PAGES:
        text = codecs.getincrementaldecoder(name)(errors="replace").decode(head)
        found = sum(one in text for one in telling)
        if found > most:
            best, most = name, found
    return best
