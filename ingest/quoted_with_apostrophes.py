"""Tells a log whose texts stand between apostrophes: 'Zone 1';'200.5'."""

from __future__ import annotations

import re

_LOOK_AT = 40
_MARKS = rb";,\t|~^"
_FIELD = rb"(?:'[^']*+(?:''[^']*+)*+'|[^'\"" + _MARKS + rb"]*)"
_LINE = re.compile(_FIELD + rb"(?:[" + _MARKS + rb"]" + _FIELD + rb")+\r?")


def quoted_with_apostrophes(head: bytes) -> bool:
    """Whether the first lines are tables of fields of which some stand between apostrophes, and none in \"\"."""
    lines = [line for line in head.split(b"\n", _LOOK_AT)[:_LOOK_AT] if line.strip()]
    if len(lines) < 2 or any(b'"' in line for line in lines):
        return False
    quoted = [line for line in lines if b"'" in line and _LINE.fullmatch(line)]
    return len(quoted) > 0.8 * len(lines)
