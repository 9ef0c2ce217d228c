"""`watch` follows a log that is being written, and goes on after it was ended."""

from __future__ import annotations

import datetime as dt
import signal
import subprocess
import sys
import time
from pathlib import Path

from ingest.account import ReadingAccount
from ingest.read_log import read_blocks
from monitor.core import Monitor
from monitor.journal import Journal
from monitor.line import read_line
from monitor.recipe import read_recipe

ROOT = Path(__file__).parents[3]
LINE = """
format = 1
[line]
name = "Line 3"
kind = "twin-screw"
time_zone = "Europe/Madrid"
[log]
time_columns = ["time"]
[[zone]]
name = "Z1"
[[sensor]]
tag = "T1"
role = "zone_temperature"
at = "Z1"
[[sensor]]
tag = "N"
role = "screw_speed"
"""
RECIPE = """
format = 1
[recipe]
name = "PP"
[[window]]
role = "zone_temperature"
at = "Z1"
low = 205
high = 215
"""
T0 = dt.datetime(2026, 3, 2, 6, 0)


def rows(first: int, last: int) -> str:
    text = ""
    for second in range(first, last):
        warm = min(14.0, max(0.0, (second - 2000) / 50))
        text += f"{(T0 + dt.timedelta(seconds=second)).isoformat(sep=' ')},{210 + warm:.1f},300\n"
    return text


def started(folder: Path, *more: str) -> subprocess.Popen:
    return subprocess.Popen(
        [
            sys.executable, "-m", "dashboards.command_line", "watch", str(folder / "log.csv"),
            "--line", str(folder / "line.toml"), "--recipe", str(folder / "recipe.toml"),
            "--data", str(folder / "data"), *more,
        ],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def wait_until_end(folder: Path, second: int) -> None:
    """Until the journal reaches that second of the log."""
    wanted = int((T0.replace(tzinfo=dt.UTC) - dt.timedelta(hours=1)).timestamp() + second) * 10**9
    until = time.monotonic() + 40
    while time.monotonic() < until:
        if (folder / "data" / "journal.sqlite").exists():
            with Journal(folder / "data" / "journal.sqlite") as journal:
                if "Line 3" in journal.lines() and journal.span("Line 3")[1] >= wanted:
                    return
        time.sleep(0.1)
    raise AssertionError("the watch did not come so far")


def ended(child: subprocess.Popen) -> str:
    child.send_signal(signal.SIGTERM)
    output, errors = child.communicate(timeout=20)
    assert (child.returncode, errors) == (0, "")
    return " ".join(output.split())


def test_it_follows_and_goes_on(tmp_path):
    log = tmp_path / "log.csv"
    (tmp_path / "line.toml").write_text(LINE)
    (tmp_path / "recipe.toml").write_text(RECIPE)
    log.write_text("time,T1,N\n" + rows(0, 1800))
    child = started(tmp_path)
    wait_until_end(tmp_path, 1789)
    with log.open("a") as file:
        file.write(rows(1800, 2400))
    wait_until_end(tmp_path, 2389)
    assert "Line 3: watching" in ended(child)
    with log.open("a") as file:
        file.write(rows(2400, 3600))
    child = started(tmp_path)
    wait_until_end(tmp_path, 3589)
    assert "going on from 2 Mar 06:39" in ended(child)

    line = read_line(tmp_path / "line.toml")
    monitor = Monitor(line, [read_recipe(tmp_path / "recipe.toml")])
    state, records = monitor.start(), []
    for block in read_blocks([log], line.mapping(), ReadingAccount()):
        state, step = monitor.advance(state, block.cut(0, min(block.n, 3589)))
        records += step.records
    with Journal(tmp_path / "data" / "journal.sqlite") as journal:
        assert journal.records("Line 3") == records and records
        assert journal.source("Line 3") == "live"

    (tmp_path / "recipe.toml").write_text(RECIPE.replace("215", "216"))
    child = started(tmp_path)
    _, errors = child.communicate(timeout=30)
    assert child.returncode == 2 and "--fresh" in errors and "Traceback" not in errors
    child = started(tmp_path, "--fresh")
    assert child.stdout is not None
    said = ""
    while "Ctrl-C" not in said and (line := child.stdout.readline()):  # a long path breaks what is said into lines
        said += line
    assert "going on" in " ".join(said.split())
    with Journal(tmp_path / "data" / "journal.sqlite") as journal:
        until = time.monotonic() + 20
        while len(journal.records("Line 3")) == len(records) and time.monotonic() < until:
            time.sleep(0.1)
        assert journal.records("Line 3")[len(records)].kind == "cut off"
    ended(child)


def test_a_log_that_is_not_there_is_said(tmp_path):
    (tmp_path / "line.toml").write_text(LINE)
    (tmp_path / "recipe.toml").write_text(RECIPE)
    _, errors = started(tmp_path).communicate(timeout=30)

    assert "there is no such file" in errors and "Traceback" not in errors
