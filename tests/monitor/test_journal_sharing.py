"""Several processes on one journal: readers see whole ticks only, and nobody waits for ever."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import time
import tomllib
import warnings
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from ingest.block import Block
from monitor.journal import Journal
from monitor.line import Line
from monitor.records import Record

TOML = """
format = 1
[line]
name = "L"
kind = "twin-screw"
[[sensor]]
tag = "S"
role = "screw_speed"
"""
S = 1_000_000_000
T0 = 1_772_431_000 * S  # 200 s before a UTC hour, so that an hour is settled meanwhile
TICK = 5


@dataclass
class Given:
    phase: np.ndarray
    records: list[Record]
    quantities: dict = field(default_factory=dict)


def register(place) -> None:
    with Journal(place) as journal:
        journal.register_line(Line.model_validate(tomllib.loads(TOML)), TOML, [])


def record(seq: int, t: int) -> Record:
    return Record(
        t, seq, f"f{seq}", "opened", "L", "drift", "drift", "screw_speed", t, None, 3, "low", "it drifts"
    )  # fmt: skip


def write(place, ticks: int) -> None:
    """Every tick holds its own number in every cell and one record."""
    with Journal(place) as journal:
        for k in range(ticks):
            t0 = T0 + k * TICK * S
            block = Block(t0, S, ("screw_speed",), np.full((1, TICK), float(k)), np.full((1, TICK), 4, np.uint8))
            quantities = {"sme": (np.array([t0]), np.array([float(k)]))} if t0 % (10 * S) == 0 else {}
            step = Given(np.full(TICK, 8, np.int8), [record(k + 1, t0)], quantities)
            journal.commit("L", position=str(block.end), block=block, step=step, snapshot=f"s{k}")


def read_and_act(place, ticks: int) -> int:
    """Look until all is there; every look must show whole ticks that belong together."""
    looks = 0
    with Journal(place, create=False) as journal:
        while True:
            records = journal.records("L")
            resume = journal.resume("L")
            first, end = journal.span("L")
            assert [r.seq for r in records] == list(range(1, len(records) + 1))
            assert resume.last_seq >= len(records)
            assert resume.position == (str(resume.end_ns) if resume.end_ns else "")
            assert resume.snapshot == (f"s{resume.last_seq - 1}" if resume.last_seq else None)
            if end > first:
                block = journal.blocks("L", first, end)
                expected = np.repeat(np.arange(block.n // TICK, dtype=float), TICK)
                assert np.array_equal(block.values[0], expected), "a cell is missing, double or torn"
                assert journal.levels("L", ["screw_speed"], first, end, 60).count.sum() >= block.n
            if records and looks % 5 == 0:
                journal.act("L", records[-1].finding, "note", "Ada", f"look {looks}", end)
            looks += 1
            if len(records) == ticks:
                return looks


def child(role: str, place, ticks: int) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, __file__, role, str(place), str(ticks)],
        cwd=Path(__file__).parents[2], stderr=subprocess.PIPE, text=True,
        env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": "/usr/bin:/bin"},
    )  # fmt: skip


def share(place, ticks: int = 300) -> None:
    register(place)
    readers = [child("read", place, ticks) for _ in range(2)]
    writer = child("write", place, ticks)
    for process in (writer, *readers):
        _, errors = process.communicate(timeout=60)
        assert process.returncode == 0, errors
    with Journal(place, create=False) as journal:
        assert len(journal.records("L")) == ticks
        assert journal.blocks("L", *journal.span("L")).n == ticks * TICK
        assert len(journal.actions("L")) >= 2


def test_two_readers_beside_a_writer(tmp_path):
    share(tmp_path / "j.sqlite")


def test_the_same_on_postgresql(tmp_path):
    """A real server from a wheel; left out where the wheel is not installed, but not with CI=true."""
    missing = [name for name in ("pgserver", "psycopg") if importlib.util.find_spec(name) is None]
    if missing and os.environ.get("CI") != "true":
        pytest.skip(f"needs {' and '.join(missing)}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what it says of the machine's folders while it is imported
        import pgserver

    server = pgserver.get_server(tmp_path / "cluster")
    try:
        share(server.get_uri().replace("postgresql://", "postgresql+psycopg://"), ticks=60)
    finally:
        server.cleanup()


def test_a_reader_that_lingers_does_not_stop_the_writer(tmp_path):
    place = tmp_path / "j.sqlite"
    register(place)
    write(place, 3)
    with Journal(place, create=False) as journal, journal._engine.connect() as held:
        held.exec_driver_sql("select count(*) from record").scalar()
        began = time.monotonic()
        with Journal(place) as other:
            block = Block(T0 + 1000 * S, S, ("screw_speed",), np.ones((1, 1)), np.ones((1, 1), np.uint8))
            other.commit("L", position="later", block=block, step=Given(np.zeros(1, np.int8), []))
        assert time.monotonic() - began < 5
        assert journal.resume("L").position == "later"


if __name__ == "__main__":
    role, place, ticks = sys.argv[1:]
    print(write(place, int(ticks)) if role == "write" else read_and_act(place, int(ticks)))
