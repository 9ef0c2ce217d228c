"""A log that grows gives, however it grew, the cells that its finished file gives."""

from __future__ import annotations

import datetime as dt
import itertools
import tomllib

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.block import FRESH, Block
from ingest.errors import BadLog
from ingest.read_log import read_blocks
from monitor.line import Line
from monitor.live_growing import GrowingLog, final_cells

S = 1_000_000_000
T0 = 1_772_431_100 * S
LINE = Line.model_validate(
    tomllib.loads("""
format = 1
[line]
name = "Line 3"
kind = "twin-screw"
[log]
time_columns = ["time"]
lot_column = "lot"
[[sensor]]
tag = "TORQUE"
role = "torque"
[[sensor]]
tag = "SPEED_SET"
role = "screw_speed_setpoint"
""")
)


class Clock:
    def __init__(self) -> None:
        self.now = 0

    def now_ns(self) -> int:
        return self.now


def row_text(second: int, rng: np.random.Generator) -> str:
    stamp = (dt.datetime(1970, 1, 1) + dt.timedelta(seconds=T0 // S + second)).isoformat(sep=" ")
    setpoint = "300" if second % 400 == 0 else ""  # held for long between its readings
    torque = "" if rng.random() < 0.05 else f"{50 + rng.normal(0, 3):.1f}"
    return f"{stamp},{torque},{setpoint},L{second // 500}\n"


def log_text(seed: int = 1, n: int = 1500) -> str:
    rng = np.random.default_rng(seed)
    rows = [row_text(second, rng) for second in range(n) if not 600 <= second < 700]
    for i in range(0, len(rows) - 8, 97):  # late rows, up to 7 s behind
        rows.insert(i + 7, rows.pop(i))
    return "time,TORQUE,SPEED_SET,lot\n" + "".join(rows)


def whole(path) -> Block:
    return joined(list(read_blocks([path], LINE.mapping(), ReadingAccount())))


def joined(parts: list[Block]) -> Block:
    for before, later in itertools.pairwise(parts):
        assert before.end == later.t0, "a cell is missing or given twice"
    return Block(
        parts[0].t0, S, parts[0].channels, np.concatenate([p.values for p in parts], axis=1),
        np.concatenate([p.status for p in parts], axis=1), tuple(n for p in parts for n in p.notes),
    )  # fmt: skip


def same(a: Block, b: Block) -> bool:
    return (a.t0, a.channels, a.notes) == (b.t0, b.channels, b.notes) and (
        a.values.tobytes() == b.values.tobytes() and a.status.tobytes() == b.status.tobytes()
    )


def take(reading, clock: Clock, seconds: float) -> list[Block]:
    """What comes during the next seconds of the wall clock."""
    until, got = clock.now + seconds * S, []
    while clock.now < until:
        block, position = next(reading)
        if block is None:
            clock.now += S
        else:
            assert position == str(block.end)
            got.append(block)
    return got


@pytest.mark.parametrize("seed", range(4))
def test_any_growth_gives_the_cells_of_the_finished_file(tmp_path, seed):
    """Written in random pieces, also within a row, and taken up anew in between."""
    path, clock, rng = tmp_path / "log.csv", Clock(), np.random.default_rng(seed)
    text = log_text(seed).encode()
    cuts = sorted({200, *rng.integers(200, len(text), 25).tolist(), len(text)})
    got: list[Block] = []
    reading = GrowingLog(path, LINE.mapping(), clock=clock).read_from("")
    assert next(reading) == (None, "")
    for before, cut in zip([0, *cuts], cuts, strict=False):
        with path.open("ab") as file:
            file.write(text[before:cut])
        got += take(reading, clock, 20)
        if rng.random() < 0.3:
            position = str(got[-1].end) if got else ""
            reading = GrowingLog(path, LINE.mapping(), clock=clock).read_from(position)
    newest = got[-1].end
    got += take(reading, clock, 200)

    finished = whole(path)
    assert same(joined(got), finished)
    assert 0 < finished.end - newest <= 20 * S


def test_cells_that_may_still_change_wait(tmp_path):
    path, clock, rng = tmp_path / "log.csv", Clock(), np.random.default_rng(0)
    path.write_text("time,TORQUE,SPEED_SET,lot\n" + "".join(row_text(s, rng) for s in range(100)))
    reading = GrowingLog(path, LINE.mapping(), clock=clock).read_from("")

    first = take(reading, clock, 30)

    assert first[-1].end == T0 + 89 * S, "the newest row is of second 99; ten seconds of rows may still come in"
    assert take(reading, clock, 25) == []
    assert take(reading, clock, 30)[-1].end == T0 + 100 * S, "nothing was written for a minute"
    assert take(reading, clock, 300) == []


def test_a_newest_row_far_ahead_waits_for_a_second_one():
    def cells(seconds: list[int]) -> Block:
        status = np.full((1, seconds[-1] + 1), 3, np.uint8)
        status[0, seconds] = FRESH
        return Block(T0, S, ("torque",), np.zeros(status.shape), status)

    def given(seconds: list[int], quiet: bool) -> int:
        return sum(part.n for part in final_cells(iter([cells(seconds)]), quiet=quiet))

    steady = list(range(60))
    assert given([*steady, 8000], quiet=False) == 49
    assert given([*steady, 8000], quiet=True) == 60
    assert given([*steady, 8000, 8020], quiet=False) == 8001
    assert given([*steady, 3000], quiet=False) == 60, "a short silence is believed"


def test_a_folder_of_files_is_read_on_into_the_next_file(tmp_path):
    text = log_text(3)
    head, rows = text.split("\n", 1)
    lines = rows.splitlines(keepends=True)
    clock, got = Clock(), []
    reading = GrowingLog(tmp_path, LINE.mapping(), clock=clock).read_from("")
    (tmp_path / "notes.pdf").write_bytes(b"%PDF")
    for number, chunk in enumerate((lines[:300], lines[300:800], lines[800:])):
        (tmp_path / f"day{number}.csv").write_text(head + "\n" + "".join(chunk))
        got += take(reading, clock, 5)
    got += take(reading, clock, 100)

    (tmp_path / "all.csv").write_text(text)
    assert np.array_equal(joined(got).values, whole(tmp_path / "all.csv").values, equal_nan=True)


def test_a_file_of_another_log_is_refused_and_a_beginning_one_is_not(tmp_path):
    path, clock, heard = tmp_path / "log.csv", Clock(), []
    path.write_text("time,TORQ")
    reading = GrowingLog(path, LINE.mapping(), clock=clock, report=heard.append).read_from("")
    assert take(reading, clock, 10) == []
    assert len(heard) == 1 and "cannot be read at the moment" in heard[0]

    path.write_text("time,SPEED\n2026-03-02 06:00:00,1\n2026-03-02 06:00:01,1\n")
    with pytest.raises(BadLog, match="TORQUE"):
        take(reading, clock, 10)


def test_trouble_later_on_is_reported_and_passes(tmp_path):
    path, clock, heard = tmp_path / "log.csv", Clock(), []
    text = log_text(5, 400)
    path.write_text(text[:4000])
    reading = GrowingLog(path, LINE.mapping(), clock=clock, report=heard.append).read_from("")
    got = take(reading, clock, 10)
    path.write_text("the logger is tidying up\n\n\n")
    got += take(reading, clock, 10)
    path.unlink()
    got += take(reading, clock, 10)
    path.write_text(text)
    got += take(reading, clock, 200)

    assert same(joined(got), whole(path))
    assert len(heard) == 1


def test_reading_takes_a_tenth_of_the_time(tmp_path):
    """A clock that runs on by 3 s with every reading of the file leaves at least 27 s between two readings."""
    path, clock = tmp_path / "log.csv", Clock()
    path.write_text(log_text(1, 200))
    source = GrowingLog(path, LINE.mapping(), clock=clock)
    began, real = [], source._blocks

    def slow(files, position):
        began.append(clock.now)
        clock.now += 3 * S
        yield from real(files, position)

    source._blocks = slow  # type: ignore[method-assign]
    reading = source.read_from("")
    rng = np.random.default_rng(0)
    for second in range(200, 300):
        with path.open("a") as file:
            file.write(row_text(second, rng))
        take(reading, clock, 2)

    assert len(began) > 4
    assert min(np.diff(began[1:])) >= 30 * S
