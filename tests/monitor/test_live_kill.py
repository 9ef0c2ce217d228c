"""The live part, as a process of its own, killed at random moments: nothing is lost, nothing comes twice.

EVENMELT_KILLS sets how often it is killed (5 by default), EVENMELT_KILL_SEED when.
"""

from __future__ import annotations

import datetime as dt
import os
import random
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from ingest.account import ReadingAccount
from ingest.block import Block
from ingest.read_log import read_blocks
from monitor.core import Monitor
from monitor.journal import Journal
from monitor.line import Line
from monitor.live import run_live
from monitor.live_clock import StopRequest, WallClock
from monitor.live_source import LogReplay
from monitor.recipe import Recipe

LINE_TOML = """
format = 1
[line]
name = "Line 3"
kind = "twin-screw"
[geometry]
screw_diameter_mm = 58
length_over_diameter = 40
[drive]
rated_power_kw = 250
rated_speed_rpm = 600
[log]
time_columns = ["time"]
lot_column = "lot"
[[zone]]
name = "Z1"
[[zone]]
name = "Z2"
[[feeder]]
name = "F1"
material = "polymer"
[[sensor]]
tag = "T1"
role = "zone_temperature"
at = "Z1"
[[sensor]]
tag = "S1"
role = "zone_setpoint"
at = "Z1"
[[sensor]]
tag = "T2"
role = "zone_temperature"
at = "Z2"
[[sensor]]
tag = "S2"
role = "zone_setpoint"
at = "Z2"
[[sensor]]
tag = "N"
role = "screw_speed"
[[sensor]]
tag = "M"
role = "torque"
[[sensor]]
tag = "Q"
role = "feeder_rate"
at = "F1"
[[sensor]]
tag = "QS"
role = "feeder_setpoint"
at = "F1"
"""
RECIPE_TOML = """
format = 1
[recipe]
name = "PP"
rate_kg_h = 200
screw_speed_rpm = 300
[zones]
Z1 = 210
Z2 = 220
[[window]]
role = "zone_temperature"
at = "Z1"
low = 207
high = 213
[[window]]
role = "zone_temperature"
at = "Z2"
low = 217
high = 223
"""
T0 = dt.datetime(2026, 3, 2, 5, 40)
KILLS = int(os.environ.get("EVENMELT_KILLS", "5"))
SEED = int(os.environ.get("EVENMELT_KILL_SEED", "1"))
SECONDS = max(4500, KILLS * 450)
TICK_S = 20.0
ROOT = Path(__file__).parents[2]


def write_log(path: Path) -> None:
    """A line that runs steadily while its zones wander out of their windows and back every few minutes."""
    rng = np.random.default_rng(4)
    rows = ["time,T1,S1,T2,S2,N,M,Q,QS,lot"]
    for second in range(SECONDS):
        if 2500 <= second < 2700:  # a gap
            continue
        wave = [6 * np.sin(second / period) + rng.normal(0, 0.2) for period in (97, 151)]
        stamp = (T0 + dt.timedelta(seconds=second)).isoformat(sep=" ")
        cells = (210 + wave[0], 210, 220 + wave[1], 220, 300 + rng.normal(), 60 + rng.normal(), 200 + rng.normal(), 200)
        rows.append(f"{stamp},{','.join(f'{cell:.1f}' for cell in cells)},L{second // 2000}")
    path.write_text("\n".join(rows) + "\n")


def judges() -> tuple[Line, Monitor]:
    line = Line.model_validate({**tomllib.loads(LINE_TOML), "version": "a"})
    return line, Monitor(line, [Recipe.model_validate({**tomllib.loads(RECIPE_TOML), "version": "b"})])


class Announced(LogReplay):
    """Says when the first tick is kept: when the second one is asked for."""

    def read_from(self, position: str) -> Iterator[tuple[Block | None, str]]:
        for number, item in enumerate(super().read_from(position)):
            if number == 1:
                print("begun", flush=True)
            yield item


def live(folder: Path, log: Path) -> None:
    """The live part's process."""
    print("up", flush=True)
    line, monitor = judges()
    with Journal(folder / "j.sqlite") as journal:
        journal.register_line(line, LINE_TOML, [RECIPE_TOML])
        source = Announced([log], line.mapping(), clock=WallClock(), tick_s=TICK_S)
        run_live(source, monitor, journal, clock=WallClock(), stop=StopRequest(), snapshot_every_s=120)
    print("ended", flush=True)


def started(folder: Path, log: Path) -> subprocess.Popen:
    folder.mkdir(exist_ok=True)
    return subprocess.Popen(
        [sys.executable, __file__, str(folder), str(log)], cwd=ROOT, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def wait_for(child: subprocess.Popen, word: str) -> None:
    assert child.stdout is not None
    assert word + "\n" in iter(child.stdout.readline, ""), f"it ended with {child.wait()} before it had {word}"


def to_the_end(folder: Path, log: Path) -> float:
    """Seconds from its first tick to the end."""
    child = started(folder, log)
    wait_for(child, "begun")
    began = time.monotonic()
    output, _ = child.communicate(timeout=600)
    assert output.endswith("ended\n")
    return time.monotonic() - began


def kept(folder: Path) -> dict:
    with Journal(folder / "j.sqlite", create=False) as journal:
        t0, t1 = journal.span("Line 3")
        resume, newest = journal.resume("Line 3"), journal.newest("Line 3")
        assert newest is not None
        return {
            "span": (t0, t1),
            "readings": [
                (b.t0, b.n, b.channels, b.values.tobytes(), b.status.tobytes(), b.notes)
                for b in journal.replay("Line 3")
            ],
            "records": journal.records("Line 3"),
            "findings": journal.findings("Line 3"),
            "phases": journal.phase_runs("Line 3", t0, t1),
            "quantities": {
                name: (t.tobytes(), v.tobytes()) for name, (t, v) in journal.quantities("Line 3", [], t0, t1).items()
            },
            "notes": journal.notes("Line 3", t0, t1),
            "place": (resume.position, resume.last_seq, newest.reading_at),
        }


def test_killed_at_random_moments(tmp_path):
    log = tmp_path / "log.csv"
    write_log(log)
    seconds = to_the_end(tmp_path / "undisturbed", log)
    moments = random.Random(SEED)
    ends = []
    for _ in range(KILLS):
        child = started(tmp_path / "killed", log)
        if moments.random() < 0.2:  # while it reads, makes its state again, or begins
            wait_for(child, "up")
            time.sleep(moments.uniform(0.0, 0.5))
        else:
            wait_for(child, "begun")
            time.sleep(moments.uniform(0.0, seconds / (KILLS + 1)))
        child.send_signal(signal.SIGKILL)
        output, _ = child.communicate(timeout=60)
        assert child.returncode == -signal.SIGKILL and "ended" not in output, "it was done before it was killed"
        with Journal(tmp_path / "killed" / "j.sqlite") as journal:  # it may have been killed before it made one
            ends.append(journal.span("Line 3")[1] if journal.lines() else 0)
    assert ends == sorted(ends)
    assert len(set(ends)) > KILLS // 2, "most kills came after some work"
    to_the_end(tmp_path / "killed", log)

    undisturbed, killed = kept(tmp_path / "undisturbed"), kept(tmp_path / "killed")
    for what, expected in undisturbed.items():
        assert killed[what] == expected, what
    line, monitor = judges()
    state, records = monitor.start(), []
    for block in read_blocks([log], line.mapping(), ReadingAccount()):
        state, step = monitor.advance(state, block)
        records += step.records
    assert undisturbed["records"] == records and len(records) > 10


if __name__ == "__main__":
    live(Path(sys.argv[1]), Path(sys.argv[2]))
