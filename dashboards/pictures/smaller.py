"""Makes a picture file smaller: 256 colours are plenty for a page that is mostly grey."""

from __future__ import annotations

import importlib
import io
from typing import Any

COLOURS = 256


def smaller(png: bytes) -> bytes:
    """The same picture on a palette of 256 colours, undithered; `png` itself without Pillow or where it is no gain."""
    try:
        image: Any = importlib.import_module("PIL.Image")
    except ImportError:
        return png
    out = io.BytesIO()
    # By coverage, not by median cut: that one loses the rare pale colours of the marks.
    reduced = (
        image.open(io.BytesIO(png))
        .convert("RGB")
        .quantize(COLOURS, method=image.Quantize.MAXCOVERAGE, dither=image.Dither.NONE)
    )
    reduced.save(out, "PNG", optimize=True)
    return min(png, out.getvalue(), key=len)
