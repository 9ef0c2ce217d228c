"""A live service that is stopped and started anywhere keeps what an undisturbed one keeps."""

from __future__ import annotations

import subprocess
import sys
import threading
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import OperationalError

from ingest.block import Block, Note
from monitor import live
from monitor.journal import Journal
from monitor.line import Line
from monitor.live import CannotGoOn, run_live
from monitor.live_clock import StopRequest
from monitor.live_source import after, ticks
from monitor.records import Record, finding_id, findings

TOML = """
format = 1
[line]
name = "Line 3"
kind = "twin-screw"
[[sensor]]
tag = "T"
role = "torque"
"""
S = 1_000_000_000
T0 = 1_772_431_000 * S
LINE = Line.model_validate(tomllib.loads(TOML))


@dataclass
class Given:
    records: list[Record]
    phase: np.ndarray
    quantities: dict = field(default_factory=dict)


class Smoothing:
    """A small monitor that keeps the law: a smoothed torque above 52 % is a finding."""

    def __init__(self, fingerprint: str = "f1", limit: float = 52.0) -> None:
        self.line, self.fingerprint, self.limit = LINE, fingerprint, limit
        self.advanced = 0

    def start(self) -> Any:
        return {"smooth": None, "since": None, "seq": 0, "ten": []}

    def advance(self, state: Any, block: Block) -> tuple[Any, Given]:
        self.advanced += block.n
        smooth, since, seq, ten = state["smooth"], state["since"], state["seq"], list(state["ten"])
        records, t10, v10 = [], [], []
        for t, value in zip(block.times().tolist(), block.values[0].tolist(), strict=True):
            if value == value:
                smooth = value if smooth is None else 0.9 * smooth + 0.1 * value
            ten.append(smooth)
            if t % (10 * S) == 9 * S:
                t10.append(t - 9 * S)
                v10.append(np.mean(ten))
                ten = []
            above = smooth is not None and smooth > self.limit
            if above != (since is not None):
                since, seq = since if since else t, seq + 1
                records.append(self._record(seq, since, t, None if above else t))
                since = since if above else None
        phase = np.where(np.isnan(block.values[0]), 0, 8).astype(np.int8)
        quantities = {"smooth": (np.array(t10, np.int64), np.array(v10))}
        return {"smooth": smooth, "since": since, "seq": seq, "ten": ten}, Given(records, phase, quantities)

    def _record(self, seq: int, since: int, at: int, until: int | None) -> Record:
        return Record(
            at, seq, finding_id("Line 3", "high", "torque", since), "opened" if until is None else "closed",
            "Line 3", "drive", "high", "torque", since, until, 2, "high", "torque is high",
        )  # fmt: skip


class Log:
    """A source that can be read again; with two gaps, one of them over an hour mark."""

    def __init__(self, n: int = 2400, tick_s: int = 13, idle: int = 0) -> None:
        rng = np.random.default_rng(8)
        torque = 50 + np.cumsum(rng.normal(0, 0.6, n)) * 0.2 + rng.normal(0, 3, n)
        torque[rng.random(n) < 0.03] = np.nan
        status = np.where(np.isnan(torque), 3, 4).astype(np.uint8)
        notes = tuple(Note(T0 + k * S, "lot", f"L{k}") for k in (0, 333, 1601))
        whole = Block(T0, S, ("torque",), torque[None], status[None], notes)
        self.blocks = [whole.cut(0, 800), whole.cut(890, 1480), whole.cut(1600, n)]
        self.tick_s, self.idle = tick_s, idle

    def account(self) -> dict:
        return {"rows": 2400}

    def read_from(self, position: str) -> Iterator[tuple[Block | None, str]]:
        for whole in self.blocks:
            block = after(whole, position)
            for part in ticks(block, self.tick_s * S) if block is not None else ():
                for _ in range(self.idle):
                    yield None, position
                position = str(part.end)
                yield part, position


class Clock:
    def now_ns(self) -> int:
        return T0


class StopAfter:
    """Asks to stop after a number of looks; counts the seconds slept."""

    def __init__(self, looks: int | None = None) -> None:
        self.looks, self.slept = looks, 0.0

    def is_set(self) -> bool:
        if self.looks is not None:
            self.looks -= 1
        return self.looks is not None and self.looks < 0

    def wait(self, timeout: float) -> bool:
        self.slept += timeout
        return False


def opened(path) -> Journal:
    journal = Journal(path)
    journal.register_line(LINE, TOML, [])
    return journal


def watch(journal: Journal, monitor=None, source=None, **more: Any) -> None:
    more.setdefault("stop", StopAfter())
    run_live(source or Log(), monitor or Smoothing(), journal, clock=Clock(), **more)


def kept(journal: Journal) -> list:
    """Everything the journal holds of the line, floats as bits."""
    t0, t1 = journal.span("Line 3")
    readings = [
        (b.t0, b.n, b.channels, b.values.tobytes(), b.status.tobytes(), b.notes) for b in journal.replay("Line 3")
    ]
    quantities = journal.quantities("Line 3", [], t0, t1)
    resume = journal.resume("Line 3")
    return [
        (t0, t1), readings, journal.records("Line 3"), journal.phase_runs("Line 3", t0, t1), resume.position,
        resume.last_seq, journal.notes("Line 3", t0, t1), journal.newest("Line 3"),
        {name: (t.tobytes(), v.tobytes()) for name, (t, v) in quantities.items()},
    ]  # fmt: skip


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory) -> list:
    with opened(tmp_path_factory.mktemp("whole") / "j.sqlite") as journal:
        watch(journal)
        return kept(journal)


def test_the_undisturbed_run_is_what_one_pass_over_the_log_gives(undisturbed):
    monitor, records = Smoothing(), []
    state = monitor.start()
    for block in Log().blocks:
        state, step = monitor.advance(state, block)
        records += step.records

    assert undisturbed[2] == records and len(records) > 6
    stored = b"".join(values for _, _, _, values, _, _ in undisturbed[1])
    assert stored == b"".join(block.values.tobytes() for block in Log().blocks)
    assert undisturbed[4] == str(Log().blocks[-1].end)


@settings(max_examples=5, deadline=None)
@given(stops=st.lists(st.integers(0, 80), max_size=8), every_s=st.sampled_from([10.0, 300.0, 1e9]))
def test_stopped_and_started_anywhere(tmp_path_factory, undisturbed, stops, every_s):
    path = tmp_path_factory.mktemp("cut") / "j.sqlite"
    for looks in (*stops, None):
        with opened(path) as journal:
            watch(journal, stop=StopAfter(looks), snapshot_every_s=every_s)
    with Journal(path) as journal:
        assert kept(journal) == undisturbed


def test_a_restart_replays_from_the_newest_snapshot_only(tmp_path):
    with opened(tmp_path / "j.sqlite") as journal:
        watch(journal, stop=StopAfter(110), snapshot_every_s=300)
        t0, t1 = journal.span("Line 3")
        assert (t1 - t0) // S > 1200
        monitor = Smoothing()
        watch(journal, monitor, stop=StopAfter(0))

        assert 0 <= monitor.advanced <= 300


def test_it_waits_while_the_source_has_nothing(tmp_path, undisturbed):
    stop = StopAfter()
    with opened(tmp_path / "j.sqlite") as journal:
        watch(journal, source=Log(idle=2), stop=stop, poll_s=0.5)

        assert kept(journal) == undisturbed
    assert stop.slept > 150


def test_other_settings_are_refused_unless_fresh(tmp_path):
    with opened(tmp_path / "j.sqlite") as journal:
        while not (journal.records("Line 3") and findings(journal.records("Line 3"))[-1].open):
            watch(journal, stop=StopAfter(10))
        before = journal.records("Line 3")
        position = journal.resume("Line 3").position
        assert findings(before)[-1].open
        with pytest.raises(CannotGoOn, match=r"f1 then, f2 now"):
            watch(journal, Smoothing("f2"))
        assert journal.records("Line 3") == before

        watch(journal, Smoothing("f2", limit=50.0), fresh=True)
        watch(journal, Smoothing("f2", limit=50.0))

        records = journal.records("Line 3")
        assert records[: len(before)] == before
        assert [record.seq for record in records] == list(range(1, len(records) + 1))
        assert records[len(before)].kind == "cut off" and records[len(before)].finding == before[-1].finding
        assert all(record.decided_at >= int(position) for record in records[len(before) :])
        assert journal.span("Line 3")[1] == Log().blocks[-1].end


def test_a_program_that_judges_otherwise_now_is_found_out(tmp_path):
    """The fingerprint is the same, yet the replay gives other records."""
    with opened(tmp_path / "j.sqlite") as journal:
        watch(journal, stop=StopAfter(400), snapshot_every_s=1e9)

        with pytest.raises(CannotGoOn, match="other findings now"):
            watch(journal, Smoothing("f1", limit=53.0))


def test_a_finished_log_is_not_watched(tmp_path):
    with opened(tmp_path / "j.sqlite") as journal:
        watch(journal, stop=StopAfter(10))
        journal.finish("Line 3", [])

        with pytest.raises(CannotGoOn, match="finished log"):
            watch(journal)


@pytest.mark.parametrize("kept_before_failing", [False, True])
def test_a_database_that_is_away_is_tried_again(tmp_path, undisturbed, monkeypatch, kept_before_failing):
    """Whether the tick was kept before the connection broke or not, it is kept once."""
    heard, failures = [], iter([4, 5, 6, 150])
    due = [next(failures)]
    with opened(tmp_path / "j.sqlite") as journal:
        real, calls = journal.commit, []

        def commit(*a, **k):
            calls.append(1)
            fails = len(calls) == due[0]
            if not fails or kept_before_failing:
                real(*a, **k)
            if fails:
                due[0] = next(failures, 0)
                raise OperationalError("COMMIT", {}, Exception("database is locked"))

        monkeypatch.setattr(journal, "commit", commit)
        watch(journal, report=heard.append)
        monkeypatch.undo()

        assert kept(journal) == undisturbed
    assert len(heard) == 4 and "database is locked" in heard[0] and "1 s" in heard[0]


def test_a_source_that_fails_ends_the_service_with_its_own_error(tmp_path):
    class Broken(Log):
        def read_from(self, position):
            yield from list(super().read_from(position))[:5]
            raise OSError("the share is gone")

    with opened(tmp_path / "j.sqlite") as journal:
        with pytest.raises(OSError, match="share is gone"):
            watch(journal, source=Broken())
        assert journal.resume("Line 3").position


def test_ticks_end_on_round_times_and_keep_every_cell():
    block = Log().blocks[0]

    parts = list(ticks(block, 60 * S))

    assert all(part.end % (60 * S) == 0 for part in parts[:-1])
    assert np.concatenate([part.values for part in parts], axis=1).tobytes() == block.values.tobytes()
    assert tuple(note for part in parts for note in part.notes) == block.notes
    assert [part.n for part in ticks(block.cut(0, 5), S)] == [1] * 5
    assert [part.n for part in ticks(block.cut(0, 5), S // 10)] == [1] * 5, "a tick holds one cell at least"


def test_after_a_position():
    block = Log().blocks[0]

    assert after(block, "") is block
    assert after(block, str(block.t0)) is block
    assert after(block, str(block.t0 + 800 * S)) is None
    rest = after(block, str(block.t0 + 799 * S))
    assert rest is not None and (rest.t0, rest.n) == (block.t0 + 799 * S, 1)


def test_a_stop_request_ends_a_wait_early():
    stop = StopRequest()
    threading.Timer(0.1, stop.request).start()

    assert stop.wait(30) is True and stop.is_set()
    assert StopRequest().wait(0.06) is False


_ENDED_WHILE_READING = """
import io, os, signal
from pyarrow import csv
from monitor.live_clock import StopRequest

class Log(io.BytesIO):
    def read(self, *size):
        os.kill(os.getpid(), signal.SIGTERM)
        return super().read(*size)

stop = StopRequest().on_signals()
table = csv.read_csv(Log(b"a,b\\n1,2\\n3,4\\n"))
print(table.num_rows, stop.is_set(), flush=True)
# The threads that pyarrow reads with may still end as the interpreter does, which now and then aborts it (seen once in
# dozens of runs, all read by then): that is no part of what is asked here.
os._exit(0)
"""


def test_a_polite_kill_does_not_break_off_the_reading_of_a_file():
    ended = subprocess.run([sys.executable, "-c", _ENDED_WHILE_READING], capture_output=True, text=True, timeout=60)

    assert (ended.stdout.split(), ended.returncode) == (["2", "True"], 0), ended.stderr


def test_the_retry_waits_grow():
    assert list(live.RETRY_S) == sorted(live.RETRY_S)
