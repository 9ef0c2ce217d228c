"""An import holds some hours of a log, however long the log is.

What is compared is what is held, not the peak of the process: how much of what it gave back an allocator keeps, and how
far threads read ahead of one another, hang on what else the machine does. All memory of the process goes through one
allocator (PYTHONMALLOC, ARROW_DEFAULT_MEMORY_POOL), which says how much of it is in use; it is looked at while the
threads of the import are at rest.
"""

from __future__ import annotations

import ctypes
import functools
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.benchmarks.import_log_writer import write_log

ROOT = Path(__file__).parents[3]
DAYS = 9
_A_DAY = 4
"""Looks a day."""
_ALONE = """
import sys
from pathlib import Path
from ingest.archive.import_log import import_log
from tests.benchmarks.import_log_writer import mapping_of_64
from tests.ingest.archive.test_memory import Looks
looks = Looks(int(sys.argv[3]))
report = import_log([Path(sys.argv[1])], mapping_of_64(), sys.argv[2], progress=looks.see)
print(report.brought.new, *looks.least)
"""
_NAMES = ("arena", "ordblks", "smblks", "hblks", "hblkhd", "usmblks", "fsmblks", "uordblks", "fordblks", "keepcost")


class _Info(ctypes.Structure):
    """`struct mallinfo2` of the GNU C library."""

    _fields_ = [(name, ctypes.c_size_t) for name in _NAMES]


@functools.cache
def _mallinfo():
    """Bound once: binding it takes memory itself, and then nothing would ever be at rest."""
    try:
        found = ctypes.CDLL(None).mallinfo2
    except (AttributeError, OSError, TypeError):
        return None
    found.restype = _Info
    return found


class Looks:
    """The least memory in use, bytes given out by malloc and not got back, while each day of a log is read."""

    def __init__(self, days: int) -> None:
        self.least = [sys.maxsize] * days
        self._looked = -1

    def see(self, done: int, total: int) -> None:
        """The progress of the import, which waits here until its other threads are at rest."""
        part = min(done * len(self.least) * _A_DAY // total, len(self.least) * _A_DAY - 1)
        if part == self._looked:
            return
        self._looked, day = part, part // _A_DAY
        still, before = 0, 0
        for _ in range(100):
            held = in_use()
            still, before = (still + 1 if held == before else 0), held
            if still == 3:
                break
            time.sleep(0.01)
        self.least[day] = min(self.least[day], before)


def in_use() -> int:
    """Bytes that malloc has given out and not got back."""
    look = _mallinfo()
    assert look is not None
    info = look()
    return info.uordblks + info.hblkhd


def held_mb(log: Path, archive: Path) -> list[float]:
    """The least memory in use during each day of the log, MB."""
    env = os.environ | {"PYTHONMALLOC": "malloc", "ARROW_DEFAULT_MEMORY_POOL": "system"}
    code = [sys.executable, "-c", _ALONE, str(log), str(archive), str(DAYS)]
    done = subprocess.run(code, capture_output=True, text=True, check=True, env=env, cwd=ROOT)
    new, *least = map(int, done.stdout.split())
    assert new == DAYS * 86_400 * 64
    return [held / 1e6 for held in least]


@pytest.mark.skipif(_mallinfo() is None, reason="this C library does not say how much memory is in use")
def test_memory_does_not_grow_with_the_log(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    write_log(log, DAYS, decimals=1, alike=True)
    held = held_mb(log, tmp_path / "archive")
    assert max(held) < 1000, "a day went by without a look"
    # Four days lie between. A day is 44 MB of values: were a sixteenth of each kept, this would be 11 MB.
    assert min(held[5:8]) - min(held[1:4]) < 8, held
