"""The few marks every drawing shares. Colour never stands alone: a mark has a side, a shape and a word."""

from __future__ import annotations

from dashboards.figures.svg import arrow, box, lozenge, tag

SHAPES = {"under": "▼", "over": "▲", "other": "◆"}
"""The marks as text."""

_CALM = ("calm", "other", "none")
"""Looks of a reading inside its window, or of one that has none: a bead stands on its rule."""
CLIP = 2.4
"""Positions beyond this are drawn here."""


def mark(x: float, y: float, look: str, size: float = 13) -> str:
    """The mark of a look.

    Triangle down under, triangle up over, diamond for other trouble, nothing when calm.
    """
    if look.startswith("under"):
        return arrow(x, y, size, -1, f"fill {look}")
    if look.startswith("over"):
        return arrow(x, y, size, 1, f"fill {look}")
    return lozenge(x, y, size, "fill other") if look == "other" else ""


def beside(x: float, y: float, look: str, offset: float | None) -> str:
    """The mark beside a figure; nothing where the rule under it bears that mark already."""
    return "" if offset is not None and look not in _CALM else mark(x, y, look)


def window_rule(x: float, y: float, width: float, offset: float | None, look: str) -> str:
    """A small level rule.

    The inner window is its thick middle half, the bead shows where the reading stands.
    """
    half, quarter = width / 2, width / 4
    parts = [box(x - half, y - 1, width, 2, "rule-outer"), box(x - quarter, y - 3, half, 6, "rule-inner")]
    if offset is not None:
        at = x + max(-CLIP, min(CLIP, offset)) * quarter
        if look in _CALM:
            parts.append(tag("circle", cx=float(at), cy=float(y), r=4, class_="bead"))
        else:
            parts.append(mark(at, y, look, 13))
    return "".join(parts)
