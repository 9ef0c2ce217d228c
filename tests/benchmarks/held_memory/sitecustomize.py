"""Notes what a Python process holds, from within; run first by every process that has this folder on its path.

What the system says of a process is its heap: what was given back and not returned to the system is in it, and so is
what lies between. Here is what is in use: what malloc has given out and not got back (numpy, SQLite, the interpreter's
large objects; pyarrow's too, with ARROW_DEFAULT_MEMORY_POOL=system); of it SQLite's, whose every connection keeps
pages it has read; and the blocks of the interpreter's own allocator, where all small Python objects lie.
Only with EVENMELT_HELD_TO set, a folder: a file there named by the process, a row every ten seconds. A file beside
it that ends in `.collect` asks for one row after a garbage collection, marked.
"""

import os

EVERY_S = 10.0
LOOKS = 20
"""A row is the least of so many looks in two seconds: what is held while no request is answered."""


def note(folder: str) -> None:
    """Writes rows until the process ends."""
    import ctypes.util
    import gc
    import sys
    import time
    from pathlib import Path

    names = ("arena", "ordblks", "smblks", "hblks", "hblkhd", "usmblks", "fsmblks", "uordblks", "fordblks", "keepcost")
    info = type("Info", (ctypes.Structure,), {"_fields_": [(name, ctypes.c_size_t) for name in names]})
    mallinfo = ctypes.CDLL(None).mallinfo2
    mallinfo.restype = info
    sqlite = ctypes.util.find_library("sqlite3")
    used = ctypes.CDLL(sqlite).sqlite3_memory_used if sqlite else lambda: 0
    if sqlite:
        used.restype = ctypes.c_int64
    kept, asked = Path(folder) / f"{os.getpid()}.csv", Path(folder) / f"{os.getpid()}.collect"
    with kept.open("w", buffering=1) as rows:
        rows.write("seconds,in_use_mb,sqlite_mb,blocks_thousand,collected\n")
        while True:
            if collected := asked.exists():
                gc.collect()
            in_use, blocks = [], []
            for _ in range(LOOKS):
                now = mallinfo()
                in_use.append(now.uordblks + now.hblkhd)
                blocks.append(sys.getallocatedblocks())
                time.sleep(2 / LOOKS)
            held = f"{min(in_use) / 2**20:.3f},{used() / 2**20:.3f},{min(blocks) / 1000:.2f}"
            rows.write(f"{time.monotonic():.1f},{held},{int(collected)}\n")
            if collected:
                asked.unlink()
            time.sleep(EVERY_S - 2)


if place := os.environ.get("EVENMELT_HELD_TO"):
    import threading

    threading.Thread(target=note, args=(place,), daemon=True, name="held memory").start()
