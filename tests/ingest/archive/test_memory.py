"""An import holds some hours of a log, however long the log is."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.benchmarks.import_log_writer import write_log

ROOT = Path(__file__).parents[3]
ALONE = """
import resource, sys
from pathlib import Path
from ingest.archive.import_log import import_log
from tests.benchmarks.import_log_writer import mapping_of_64
report = import_log([Path(sys.argv[1])], mapping_of_64(), sys.argv[2])
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, report.brought.new)
"""


def peak_mb(folder: Path, days: int) -> int:
    log = folder / f"{days}.csv"
    write_log(log, days, decimals=1)
    command = [sys.executable, "-c", ALONE, str(log), str(folder / f"archive {days}")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    log.unlink()
    most, readings = map(int, done.stdout.split())
    assert readings == days * 86_400 * 64
    return most


def test_memory_does_not_grow_with_the_log(tmp_path: Path) -> None:
    one, ten = peak_mb(tmp_path, 1), peak_mb(tmp_path, 10)
    # Nine more days are 398 MB of values and 200 MB of text; the allocators' leavings are allowed for.
    assert ten < one + 60, (one, ten)
