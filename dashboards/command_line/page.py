"""Where a verb prints for people: as wide as the terminal, or wide enough for a file."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console

NARROWEST, WIDEST = 60, 110


def page() -> Console:
    """Standard output. Colour and boldness only on a terminal; nothing is read as markup."""
    from rich.console import Console

    width = None if sys.stdout.isatty() else WIDEST
    paper = Console(markup=False, highlight=False, emoji=False, soft_wrap=False, width=width)
    paper.width = max(NARROWEST, min(WIDEST, paper.width))
    return paper
