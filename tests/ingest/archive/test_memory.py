"""An import holds some hours of a log, however long the log is."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.import_log_writer import write_log
from tests.benchmarks.import_speed import peak_mb


def peak_of(folder: Path, days: int) -> float:
    log = folder / f"{days}.csv"
    write_log(log, days, decimals=1)
    before, most, readings = peak_mb(log, folder / f"archive {days}")
    log.unlink()
    assert readings == days * 86_400 * 64 and most > before
    return most


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory of a process is read from /proc")
def test_memory_does_not_grow_with_the_log(tmp_path: Path) -> None:
    few, more = peak_of(tmp_path, 3), peak_of(tmp_path, 12)
    # A day is 44 MB of values. What allocators keep settles within some days (30 days are as 3); were days kept, even
    # an eighth of each, this would fail.
    assert more - few < 9 * 44 / 8, (few, more)
