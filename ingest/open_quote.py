"""Tells lines of a CSV log whose quotation mark is never closed: they would swallow the lines behind them."""

from __future__ import annotations

import re
from functools import lru_cache


def opens_quote(line: bytes, delimiter: str) -> bool:
    """Whether a field of this line starts with a quotation mark that nothing in the line closes.

    A quotation mark inside a field stands for itself; two of them inside a quoted field stand for one.
    """
    return b'"' in line and _closed(delimiter).fullmatch(line) is None


@lru_cache
def _closed(delimiter: str) -> re.Pattern[bytes]:
    other = f"[^{re.escape(delimiter)}]"
    # Possessive throughout: there is one way to read a line, and no way back to look for another.
    field = rf'(?>"(?:[^"]++|"")*+"{other}*+|(?!"){other}*+)'
    return re.compile(f"{field}(?:{re.escape(delimiter)}{field})*+".encode(), re.DOTALL)
