"""How long an import takes beside the bare reading of the same file, and how much memory it wants.

    python -m tests.benchmarks.import_speed --days 7

The yardstick is `pyarrow.csv.read_csv` of the same file in its default form: both are run in turn, in one process, and
every import goes into an empty archive: mapped, checked, put on the grid, kept with status and coarser levels. The aim
is 2.5 times the reading. The page cache is warm for both. Between them stands what no import can do without: the same
reading, and then the same Parquet files of the archive written from arrays that are there, without a check, a grid, a
hash, a force to the disk. On a machine with other work the processor times say more than the clock, and user time more
than user and system: how long the system takes to hand out memory hangs on what else runs. Memory is the peak of a
process of its own that does nothing but import, for a log of 1 day and for one of --days; the aim is that it does not
grow.
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
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.csv as arrow_csv

from ingest.archive.cells_file import CellsWriter
from ingest.archive.coarse import Coarse
from ingest.archive.coarse_file import write_coarse
from ingest.archive.import_log import import_log
from ingest.archive.layout import DAY_NS, group_ns, widths_for
from ingest.archive.read import ArchivedLine
from ingest.block import Block
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


@dataclass(frozen=True)
class Took:
    """Seconds on the clock, of processor time, and of it in the program itself and not in the system."""

    wall: float
    processor: float
    user: float


def timed(work) -> Took:
    """How long a piece of work takes."""
    wall, before = time.perf_counter(), os.times()
    work()
    after = os.times()
    user, system = after.user - before.user, after.system - before.system
    return Took(time.perf_counter() - wall, user + system, user)


def days_in(archive: Path) -> list[tuple[list[list[Block]], list[Coarse]]]:
    """What an archive holds of the line, day by day: its row groups of cells and its coarser levels, as arrays."""
    line = ArchivedLine(str(archive), mapping_of_64().line)
    days: list[tuple[list[list[Block]], list[Coarse]]] = []
    for day in range(line.first // DAY_NS, (line.end - 1) // DAY_NS + 1):
        t0, t1 = day * DAY_NS, (day + 1) * DAY_NS
        groups: dict[int, list[Block]] = {}
        for block in line.blocks(t0, t1):
            groups.setdefault(block.t0 // group_ns(block.step), []).append(block)
        levels = [line.coarse(t0, t1 - 1, width) for width in widths_for(line.step)]
        days.append((list(groups.values()), levels))
    return days


def write_bare(days: list[tuple[list[list[Block]], list[Coarse]]], folder: Path) -> None:
    """The Parquet files of an archive, and nothing else of it."""
    folder.mkdir(exist_ok=True)
    for number, (groups, levels) in enumerate(days):
        channels = groups[0][0].channels
        with pa.OSFile(str(folder / f"{number}.cells"), "wb") as sink:
            writer = CellsWriter(sink, "L1", groups[0][0].step, channels)
            for group in groups:
                writer.write(group)
            writer.close()
        with pa.OSFile(str(folder / f"{number}.coarse"), "wb") as sink:
            write_coarse(sink, "L1", levels)


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
        machine = f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}"
        print(f"{rows:,} rows x 64 channels, {size / 1e6:.0f} MB of CSV, {machine}")
        import_log([log], mapping_of_64(), str(archive))
        arrays = days_in(archive)
        rounds: list[tuple[Took, Took, Took]] = []
        print("s on the clock (of processor, of it user)")
        for _ in range(given.rounds):
            read = timed(lambda: arrow_csv.read_csv(log))
            write = timed(lambda: write_bare(arrays, folder / "bare"))
            shutil.rmtree(archive, ignore_errors=True)
            whole = timed(lambda: import_log([log], mapping_of_64(), str(archive)))
            rounds.append((read, write, whole))
            parts = (("read", read), ("write", write), ("import", whole))
            print(", ".join(f"{name} {one.wall:.2f} ({one.processor:.2f}, {one.user:.2f})" for name, one in parts))
        kept = sum(path.stat().st_size for path in archive.rglob("*.parquet"))
        print(f"{'ratio to the reading':28}{'clock':>8}{'processor':>11}{'user':>8}   aim {AIM}")
        for what in ("reading and writing alone", "import"):
            ratios = {
                name: statistics.median(
                    getattr(whole, name) / getattr(read, name)
                    if what == "import"
                    else 1 + getattr(write, name) / getattr(read, name)
                    for read, write, whole in rounds
                )
                for name in ("wall", "processor", "user")
            }
            print(f"{what:28}{ratios['wall']:8.2f}{ratios['processor']:11.2f}{ratios['user']:8.2f}   medians")
        print(f"archive {kept / 1e6:.0f} MB, {kept / rows / 64:.2f} bytes a reading with its coarser levels")
        for days in dict.fromkeys((1, given.days)):
            write_log(log, days, given.decimals)
            shutil.rmtree(archive, ignore_errors=True)
            before, most, _ = peak_mb(log, archive)
            print(f"{days} days: {before:.0f} MB before, {most:.0f} MB at most during the import")


if __name__ == "__main__":
    main()
