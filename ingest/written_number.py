"""A number as a log has it: one that was kept in four bytes without the digits that only came of it."""

from __future__ import annotations

import numpy as np


def written_number(number: float) -> str:
    """'0.1' of the four-byte 0.1, which is 0.1000000015 in eight; at most ten figures of any other."""
    with np.errstate(over="ignore"):
        short = np.float32(number)
    return f"{float(str(short)):.10g}" if float(short) == number else f"{number:.10g}"
