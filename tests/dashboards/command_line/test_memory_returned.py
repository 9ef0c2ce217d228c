"""What threads used and freed goes back to the system, in a process of its own."""

from __future__ import annotations

import ctypes
import subprocess
import sys
import threading

import pytest

from dashboards.command_line.memory_returned import trimmed

BUSY = """
import ctypes, random, sys, threading
import numpy as np
from dashboards.command_line.memory_returned import return_memory

if sys.argv[1] == "told":
    assert return_memory()

def work(seed):
    rng = random.Random(seed)
    kept = []
    for n in range(150):
        large = [np.ones(rng.randrange(1_000, 700_000)) for _ in range(4)]
        kept.append(np.ones(500))  # a small one that lives on above the large ones
    alive.append(kept)

alive = []
threads = [threading.Thread(target=work, args=(i,)) for i in range(8)]
[t.start() for t in threads]
[t.join() for t in threads]

class Info(ctypes.Structure):
    _fields_ = [(name, ctypes.c_size_t) for name in
        "arena ordblks smblks hblks hblkhd usmblks fsmblks uordblks fordblks keepcost".split()]

about = ctypes.CDLL(None).mallinfo2
about.restype = Info
print(about().fordblks >> 20)
"""


def held_mb(word: str) -> int:
    """Freed memory that a busy process holds, MB."""
    done = subprocess.run([sys.executable, "-c", BUSY, word], capture_output=True, text=True, check=True)
    return int(done.stdout)


@pytest.mark.skipif(not hasattr(ctypes.CDLL(None), "mallinfo2"), reason="not the GNU C library of 2021 or later")
def test_freed_memory_is_not_held() -> None:
    untold, told = held_mb("untold"), held_mb("told")

    assert told < 16 and told < untold / 2, (told, untold)


def test_arrow_keeps_no_pool_of_its_own() -> None:
    words = "from dashboards.command_line.memory_returned import return_memory; return_memory()\n"
    words += "import pyarrow as pa; print(pa.default_memory_pool().backend_name)"
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "system"


GAPS = """
import sys, time
from pathlib import Path
import re
import numpy as np
from dashboards.command_line.memory_returned import return_memory, trimmed

return_memory()
large, kept = [], []
for n in range(2000):
    large.append(np.ones(10_000))
    kept.append(np.ones(500))  # a small one between every two that are freed

def own_mb():
    text = Path("/proc/self/smaps_rollup").read_text(encoding="ascii")
    return sum(int(kb) for kb in re.findall(r"^Private_(?:Clean|Dirty):\\s+(\\d+)", text, re.MULTILINE)) / 1024

del large
before = own_mb()
with trimmed(0.2):
    until = time.monotonic() + 10
    while own_mb() > before / 2 and time.monotonic() < until:
        time.sleep(0.1)
print(before, own_mb())
"""


@pytest.mark.skipif(not hasattr(ctypes.CDLL(None), "malloc_trim"), reason="not the GNU C library")
def test_free_blocks_between_living_ones_go_back() -> None:
    done = subprocess.run([sys.executable, "-c", GAPS], capture_output=True, text=True, check=True)
    before, after = (float(mb) for mb in done.stdout.split())

    assert before > 150, before
    assert after < before - 120, (before, after)


def test_the_thread_that_goes_through_the_pools_ends_with_its_block() -> None:
    with trimmed(60.0):
        pass

    assert "memory" not in {thread.name for thread in threading.enumerate()}
