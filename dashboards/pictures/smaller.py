"""Makes a picture file smaller: 256 colours are plenty for a page that is mostly grey."""

from __future__ import annotations

import importlib
import io
from typing import Any

COLOURS = 256


def smaller(png: bytes) -> bytes:
    """The same picture on a palette of 256 colours, undithered; `png` itself where Pillow is missing or it is no gain."""
    try:
        image: Any = importlib.import_module("PIL.Image")
    except ImportError:
        return png
    out = io.BytesIO()
    image.open(io.BytesIO(png)).convert("RGB").quantize(COLOURS, dither=image.Dither.NONE).save(
        out, "PNG", optimize=True
    )
    return min(png, out.getvalue(), key=len)
