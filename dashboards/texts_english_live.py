"""English texts of the head of the live page."""

from __future__ import annotations

LIVE: dict[str, str] = {
    "head.check_of": "{check} ({summary})",
}
