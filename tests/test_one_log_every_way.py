"""One log, every way: CSV and Parquet, cut anyhow, in another process: the same record log and the same final state."""

from __future__ import annotations

import csv
import hashlib
import random
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from ingest.account import ReadingAccount
from ingest.block import Block
from ingest.read_log import read_blocks
from monitor.checkpoint import dump_state
from monitor.core import Monitor
from monitor.line import read_line
from monitor.recipe import read_recipe
from monitor.schedule import read_schedule
from sample_logs import sample_path

LOG = "twin_path_blocked"
WIDTHS: dict[str, int | str] = {"whole": 0, "3600": 3600, "random": "random"}
TURNS = 600


def judged(log: Path, width: int | str = 0) -> tuple[int, str]:
    """Number of records, and a digest of the record log and the final state.

    width: cells in a piece, 0 = as read, 'random' = pieces of 0 to 900 cells, '1 and 7' = in turns of TURNS cells.
    """
    folder = sample_path(LOG)
    line, recipe = read_line(folder / "line.toml"), read_recipe(folder / "recipe.toml")
    monitor = Monitor(line, [recipe], read_schedule(folder / "schedule.csv", line))
    state, log_text = monitor.start(), []
    for block in read_blocks([log], line.mapping(), ReadingAccount()):
        for piece in pieces(block, width):
            state, step = monitor.advance(state, piece)
            log_text += [record.as_json() for record in step.records]
    log_text += [record.as_json() for record in monitor.finish(state)]
    return len(log_text), hashlib.sha256("\n".join([*log_text, dump_state(state)]).encode()).hexdigest()


def pieces(block: Block, width: int | str) -> Iterable[Block]:
    """The block in pieces, empty ones among them where the width is random."""
    if width == 0:
        yield block
        return
    rng, first = random.Random(block.t0), 0
    while first < block.n:
        if width == "1 and 7":
            size = 1 if first // TURNS % 2 else 7
        else:
            size = rng.randrange(900) if width == "random" else int(width)
        last = min(block.n, first + size)
        yield block.cut(first, last)
        first = last


def as_parquet(path: Path) -> Path:
    """The CSV log of the sample as a Parquet file of numbers and time stamps, its unit row left out."""
    with (sample_path(LOG) / "log.csv").open(encoding="utf-8", newline="") as file:
        names, _, *rows = list(csv.reader(file))
    columns = {
        name: [row[place] for row in rows]
        if place == 0
        else [float(row[place]) if row[place] else None for row in rows]
        for place, name in enumerate(names)
    }
    pq.write_table(pa.table(columns), path, row_group_size=1000)
    return path


@pytest.fixture(scope="module")
def whole() -> tuple[int, str]:
    return judged(sample_path(LOG) / "log.csv")


def test_there_is_something_to_compare(whole: tuple[int, str]) -> None:
    assert whole[0] > 10


@pytest.mark.parametrize("width", WIDTHS)
def test_csv_and_parquet_at_every_cut(width: str, whole: tuple[int, str], tmp_path: Path) -> None:
    assert judged(sample_path(LOG) / "log.csv", WIDTHS[width]) == whole
    assert judged(as_parquet(tmp_path / "log.parquet"), WIDTHS[width]) == whole


def test_cell_by_cell(whole: tuple[int, str]) -> None:
    """Ten minutes cell by cell, ten minutes in pieces that fall over the edges of 10 s cells: from CSV only, as the
    pieces are the monitor's, whatever they were read from. More of them: tests/monitor/test_every_condition.py."""
    assert judged(sample_path(LOG) / "log.csv", "1 and 7") == whole


def test_another_process(whole: tuple[int, str]) -> None:
    code = f"from tests.test_one_log_every_way import *; print(*judged(sample_path({LOG!r}) / 'log.csv', 'random'))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(__file__).parent.parent
    )

    assert done.stdout.split() == [str(whole[0]), whole[1]]
