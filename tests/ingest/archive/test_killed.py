"""An import that is killed anywhere: the archive stands as before or after each day, and the import repeated ends in
the same archive as one that was left in peace, file by file and byte by byte.

EVENMELT_KILLS sets how often a larger import is killed at random moments (6 by default), EVENMELT_KILL_SEED when.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from pyarrow import fs

from ingest.account import ReadingAccount
from ingest.archive.import_log import import_log
from ingest.archive.layout import day_of
from ingest.archive.line_book import finished_imports
from ingest.archive.place import Folder, Place, open_place
from ingest.archive.read import archive_blocks
from ingest.errors import BadLog
from ingest.mapping import LogMapping
from tests.ingest.archive.archive_cases import LINE, cells, differing, notes, tree
from tests.ingest.archive.dying import DyingFiles, Killed, Life, dying_folder
from tests.ingest.plain_log import CHANNELS, mapping, nanoseconds, steady, write_csv

ROOT = Path(__file__).parents[3]
EVENING = datetime(2026, 3, 6, 22, 0, tzinfo=UTC)


def small_logs(folder: Path) -> list[Path]:
    """Two logs at one a minute, both over midnight; the second overlaps, fills a hole, contradicts, and goes on."""
    rows = [(ns, {**values, "Lot": f"L{i // 90}"}) for i, (ns, values) in enumerate(steady(240, 60_000, EVENING))]
    odd = [(ns, {**values, "P die": 1.5} if i == 95 else values) for i, (ns, values) in enumerate(rows)]
    parts = ([*rows[:100], *rows[150:180]], odd[80:])
    return [write_csv(folder / f"{i}.csv", part, ("T1", "P die", "Lot")) for i, part in enumerate(parts)]


def small_mapping() -> LogMapping:
    """With the form of its stamps: they are read some hundred times, and looking for their form is not what dies."""
    return mapping(cadence_s=60.0, lot_column="Lot", channels=CHANNELS[:2], time_format="%Y-%m-%d %H:%M:%S")


def by_day(archive: Path | str) -> dict[str, tuple]:
    """What a reader sees of each day."""
    days: dict[str, list] = {}
    try:
        for block in archive_blocks(str(archive), LINE):
            days.setdefault(day_of(block.t0), []).append(block)
    except BadLog as error:
        assert "nothing of line" in str(error)
    return {day: (cells(blocks), notes(blocks)) for day, blocks in days.items()}


@contextmanager
def place_that_dies(kind: str, folder: Path, life: Life) -> Iterator[Place]:
    if kind == "without rename":
        yield Place(fs.PyFileSystem(DyingFiles(life)), folder.as_posix())
    else:
        with dying_folder(life):
            yield Folder(folder)


def bring(log: Path, place: Place | str) -> None:
    import_log([log], small_mapping(), place, account=ReadingAccount())


@pytest.fixture
def in_memory(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory where there is one: thousands of files come and go, and nothing is forced to a disk here."""
    if not os.access("/dev/shm", os.W_OK):
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir="/dev/shm") as folder:
        yield Path(folder)


@pytest.mark.parametrize("kind", ["folder", "without rename"])
@pytest.mark.parametrize("before", ["nothing", "an overlapping import"])
def test_killed_before_every_operation(in_memory: Path, kind: str, before: str) -> None:
    """Into an empty archive before every third: nothing can be lost there that a later day does not lose alike."""
    every = 3 if before == "nothing" else 1
    first, second = small_logs(in_memory)
    start, undisturbed = in_memory / "start", in_memory / "undisturbed"
    start.mkdir()
    if before != "nothing":
        bring(first, str(start))
    shutil.copytree(start, undisturbed)
    whole = Life(None)
    with place_that_dies(kind, undisturbed, whole) as place:
        bring(second, place)
    wanted = tree(undisturbed)
    seen_before, seen_after = by_day(start), by_day(undisturbed)
    assert whole.count > 40 and len(seen_after) == 2 and seen_before != seen_after
    half_way = 0
    for last in range(0, whole.count, every):
        archive = in_memory / "archive"
        shutil.copytree(start, archive)
        with place_that_dies(kind, archive, Life(last)) as place, pytest.raises(Killed):
            bring(second, place)
        seen = by_day(archive)
        for day in seen_after:
            assert seen.get(day) in (seen_before.get(day), seen_after[day]), (last, day)
        half_way += seen not in (seen_before, seen_after)
        with place_that_dies(kind, archive, Life(None)) as place:
            bring(second, place)
        assert differing(tree(archive), wanted) == [], last
        shutil.rmtree(archive)
    assert half_way > 5 // every, half_way


LARGER = """
import sys
from pathlib import Path
from ingest.archive.import_log import import_log
from tests.benchmarks.import_log_writer import mapping_of_64
print("ready", flush=True)
import_log([Path(sys.argv[1])], mapping_of_64(), sys.argv[2])
print("done", flush=True)
"""


def test_killed_at_random_moments(tmp_path: Path) -> None:
    """A process of its own, ended by SIGKILL; each one goes on in the archive that the one before it left."""
    from tests.benchmarks.import_log_writer import mapping_of_64, write_log

    kills, seed = int(os.environ.get("EVENMELT_KILLS", "6")), int(os.environ.get("EVENMELT_KILL_SEED", "1"))
    chance = random.Random(seed)
    log = tmp_path / "log.csv"
    write_log(log, days=2, decimals=1, alike=True)
    undisturbed, archive = tmp_path / "undisturbed", tmp_path / "archive"
    began = time.monotonic()
    import_log([log], mapping_of_64(), str(undisturbed))
    usual_s = time.monotonic() - began
    wanted = tree(undisturbed)
    killed = half_way = 0
    # On a busy machine all may fall before or behind the writing: then some more, till one falls into it.
    while killed < kills or (not half_way and killed < 5 * kills):
        command = [sys.executable, "-c", LARGER, str(log), str(archive)]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None and process.stdout.readline() == "ready\n"
            time.sleep(chance.uniform(0, 1.2 * usual_s))
            process.send_signal(signal.SIGKILL)
            done = process.stdout.read() == "done\n"
        days = len(list(archive.glob("book/*/days/[0-9]*.json")))
        if done or finished_imports(open_place(str(archive)), "L1"):
            assert differing(tree(archive), wanted) == [], f"seed {seed}, after {killed} kills"
            shutil.rmtree(archive)
        else:
            killed += 1
            half_way += days > 0 or any(archive.rglob("*.part"))
            left = {path for path in tree(archive) if not path.rpartition("/")[2].startswith(".")}
            assert left <= set(wanted), f"seed {seed}, after {killed} kills"
    import_log([log], mapping_of_64(), str(archive))
    assert differing(tree(archive), wanted) == [], f"seed {seed}"
    assert half_way, f"seed {seed}: no kill fell into the writing"


def test_the_logs_are_as_told(tmp_path: Path) -> None:
    """The small logs do what the test of kills wants of them."""
    first, second = small_logs(tmp_path)
    account = ReadingAccount()
    import_log([first], small_mapping(), str(tmp_path / "a"))
    report = import_log([second], small_mapping(), str(tmp_path / "a"), account=account)
    assert (report.brought.contradicting, report.brought.new, report.brought.notes) == (1, 220, 1)
    assert report.days_changed == 2 and account.rows_accepted == 160
    assert report.brought.listed[0].at_ns == nanoseconds(EVENING) + 95 * 60 * 10**9
