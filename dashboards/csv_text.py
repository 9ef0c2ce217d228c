"""CSV as the pages give it away: fields parted by commas, by semicolons where the reader writes a decimal comma."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dashboards.shown_units import chosen


def csv_row(fields: Sequence[str | float]) -> str:
    """One row with its end; numbers with six significant digits, nothing where there is none."""
    comma = chosen.get().mark == "comma"
    part = ";" if comma else ","
    return part.join(field if isinstance(field, str) and not _quotes(field, part) else _written(field, comma)
                     for field in fields) + "\r\n"  # fmt: skip


def _quotes(text: str, part: str) -> bool:
    return any(sign in text for sign in (part, '"', "\n"))


def _written(field: str | float, comma: bool) -> str:
    if isinstance(field, str):
        return '"' + field.replace('"', '""') + '"'
    if not np.isfinite(field):
        return ""
    text = f"{field:.6g}"
    return text.replace(".", ",") if comma else text
