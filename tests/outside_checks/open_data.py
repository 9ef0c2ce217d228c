"""Where the open data sets are: EVENMELT_OPEN_DATA; never copied into the project."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


def folder(name: str) -> Path:
    """Folder of one data set; it need not be there."""
    return Path(os.environ.get("EVENMELT_OPEN_DATA", "")) / name


def needs(name: str) -> pytest.MarkDecorator:
    """Skips with a message where the data set is not there."""
    missing = not os.environ.get("EVENMELT_OPEN_DATA") or not folder(name).is_dir()
    return pytest.mark.skipif(missing, reason="set EVENMELT_OPEN_DATA to the folder of open data sets to run this")
