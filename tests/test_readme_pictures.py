"""The README's pictures: every one it links is there, is a PNG as wide as a page, and is not too heavy."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PICTURES = re.findall(r"!\[[^\]]*\]\(([^)\s]+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
MOST_BYTES = 300_000
WIDTH_PX = 1440


def test_the_readme_shows_every_page_it_is_about() -> None:
    assert {Path(link).name for link in PICTURES} >= {"live.png", "lot.png", "upkeep.png"}


@pytest.mark.parametrize("link", PICTURES)
def test_picture_is_there(link: str) -> None:
    picture = (ROOT / link).read_bytes()
    # PNG (ISO/IEC 15948): 8 bytes of signature, then the header chunk, whose data begin with width and height.
    signature, kind, width, height = struct.unpack(">8s4x4sII", picture[:24])

    assert (signature, kind) == (b"\x89PNG\r\n\x1a\n", b"IHDR")
    assert width == WIDTH_PX
    assert 1000 <= height <= 1300
    assert len(picture) <= MOST_BYTES
