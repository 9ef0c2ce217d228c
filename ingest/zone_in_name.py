"""What a file says of its clock: 'Time (UTC)', 'Zeit GMT+1', or above the table 'Time zone: UTC'."""

from __future__ import annotations

import re
from collections.abc import Sequence

_ZONE = re.compile(
    r"(?:(?<![A-Za-z])(?i:utc|gmt|zulu)|(?<=[a-z])(?:UTC|Utc|GMT))(?![A-Za-z])(?: ?([+-]) ?(\d{1,2})(?::?(\d{2}))?)?"
)

_TELLS_ZONE = re.compile(
    r"time ?zone|zeitzone|zona horaria|huso|fuseau|fuso|tijdzone|strefa czasowa|saat dilimi|časové pásmo", re.IGNORECASE
)


def tells_zone(line: str) -> bool:
    """Whether a line of text is about the time zone."""
    return _TELLS_ZONE.search(line) is not None


def ahead_of_utc_s(columns: Sequence[str]) -> int | None:
    """How many seconds the clock is ahead of UTC, None where no name says it."""
    for name in columns:
        match = _ZONE.search(name)
        if match is not None:
            sign = -1 if match[1] == "-" else 1
            return sign * (int(match[2] or 0) * 3600 + int(match[3] or 0) * 60)
    return None
