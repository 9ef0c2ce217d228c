"""How long an import takes beside the bare reading of the same file, and how much memory it wants.

    python -m tests.benchmarks.import_speed --days 7

The yardstick is `pyarrow.csv.read_csv` of the same file in its default form: both are run in turn, in one process, and
every import goes into an empty archive: mapped, checked, put on the grid, kept with status and coarser levels. The aim
is 2.5 times the reading. The page cache is warm for both. Memory is the peak of a process of its own that does nothing
but import, for a log of 1 day and for one of --days; the aim is that it does not grow.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pyarrow.csv as arrow_csv

from ingest.archive.import_log import import_log
from tests.benchmarks.import_log_writer import mapping_of_64, write_log

AIM = 2.5
_ALONE = """
import sys
from pathlib import Path
from ingest.archive.import_log import import_log
from tests.benchmarks.import_log_writer import mapping_of_64
from tests.benchmarks.import_speed import own_peak_mb
mapping, before = mapping_of_64(), own_peak_mb()
report = import_log([Path(sys.argv[1])], mapping, sys.argv[2])
print(before, own_peak_mb(), report.brought.new)
"""


def own_peak_mb() -> float:
    """The most memory this process has had, MB. Not by getrusage: that counts what its parent had, too."""
    text = Path("/proc/self/status").read_text(encoding="ascii")
    return int(text.split("VmHWM:")[1].split()[0]) / 1024


def peak_mb(log: Path, archive: Path) -> tuple[float, float, int]:
    """Memory of a process before and at the most during an import, MB, and how many readings it brought."""
    done = subprocess.run(
        [sys.executable, "-c", _ALONE, str(log), str(archive)], capture_output=True, text=True, check=True
    )
    before, most, readings = done.stdout.split()
    return float(before), float(most), int(readings)


def timed(work) -> tuple[float, float]:
    """Seconds on the clock and of processor time."""
    wall, spent = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - spent


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--days", type=int, default=7)
    parser.add_argument("--decimals", type=int, default=2, help="of the values that move")
    parser.add_argument("--rounds", type=int, default=5)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        log, archive = folder / "log.csv", folder / "archive"
        size = write_log(log, given.days, given.decimals)
        rows = given.days * 86_400
        print(f"{rows:,} rows x 64 channels, {size / 1e6:.0f} MB of CSV, {os.cpu_count()} cores")
        pairs, processor = [], []
        for _ in range(given.rounds):
            read_s, read_cpu = timed(lambda: arrow_csv.read_csv(log))
            shutil.rmtree(archive, ignore_errors=True)
            import_s, import_cpu = timed(lambda: import_log([log], mapping_of_64(), str(archive)))
            pairs.append((read_s, import_s))
            processor.append((read_cpu, import_cpu))
            print(
                f"read {read_s:6.2f} s ({read_cpu:5.2f} s of processor), import {import_s:6.2f} s ({import_cpu:5.2f}), "
                f"ratio {import_s / read_s:5.2f}"
            )
        kept = sum(path.stat().st_size for path in archive.rglob("*.parquet"))
        best = min(pair[1] for pair in pairs) / min(pair[0] for pair in pairs)
        print(
            f"ratio of the best of each: {best:.2f}; median of ratios: "
            f"{statistics.median(b / a for a, b in pairs):.2f}; of processor time: "
            f"{min(b for _, b in processor) / min(a for a, _ in processor):.2f}; aim {AIM}"
        )
        print(f"archive {kept / 1e6:.0f} MB, {kept / rows / 64:.2f} bytes a reading with its coarser levels")
        for days in dict.fromkeys((1, given.days)):
            write_log(log, days, given.decimals)
            shutil.rmtree(archive, ignore_errors=True)
            before, most, _ = peak_mb(log, archive)
            print(f"{days} days: {before:.0f} MB before, {most:.0f} MB at most during the import")


if __name__ == "__main__":
    main()
