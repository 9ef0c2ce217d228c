"""The demo comes up, survives a hard kill of either part, goes on where it was, and leaves nothing running."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from monitor.journal import Journal

ROOT = Path(__file__).parents[3]


def started(*words: str) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-m", "dashboards.command_line", "demo", "--port", "0", "--no-browser", *words],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def address(child: subprocess.Popen) -> str:
    assert child.stdout is not None
    words = next(line for line in iter(child.stdout.readline, "") if "The pages are at" in line)
    return words.split(" at ")[1].split()[0]


def children_of(pid: int) -> list[int]:
    found = []
    for place in Path("/proc").glob("[0-9]*/stat"):
        try:
            after_name = place.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        if int(after_name[1]) == pid and after_name[0] != "Z":
            found.append(int(place.parent.name))
    return found


def wait_until(true, what: str, seconds: float = 60.0):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if found := true():
            return found
        time.sleep(0.1)
    raise AssertionError(f"{what} did not happen in {seconds:g} s")


def gone(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except OSError:
        return True


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="finds processes in /proc")
def test_from_start_to_end(tmp_path, filled_demos):
    def live_records() -> tuple[str, int]:
        with Journal(tmp_path / "journal.sqlite", create=False) as journal:
            resume = journal.resume("twin 4")
            return (resume.position, resume.last_seq) if journal.source("twin 4") == "live" else ("", 0)

    child = started("--data", str(tmp_path), "--speed", "120")
    with urllib.request.urlopen(address(child), timeout=20) as answer:
        assert answer.status == 200
    (live,) = wait_until(lambda: children_of(child.pid), "a live part of its own")
    first = wait_until(lambda: live_records()[0], "a first live tick")
    wait_until(lambda: live_records()[0] > first, "a second live tick")
    with Journal(tmp_path / "journal.sqlite", create=False) as journal:
        assert len(journal.lines()) >= 4
        finished = [line for line in journal.lines() if journal.source(line) == "finished log"]
        assert any(journal.findings(line) for line in finished)
        end = journal.span("twin 4")[1]
        newest = journal.newest("twin 4")
        assert newest is not None and newest.reading_at < end

    child.kill()
    child.communicate()
    wait_until(lambda: gone(live), "the end of the live part after its parent was killed", 15)
    position, _ = live_records()

    child = started("--data", str(tmp_path))
    address(child)
    wait_until(lambda: live_records()[0] > position, "going on after a kill")
    (live,) = children_of(child.pid)
    child.send_signal(signal.SIGTERM)
    _, errors = child.communicate(timeout=20)

    assert (child.returncode, errors) == (0, "")
    assert gone(live)
    assert "journal.sqlite" in os.listdir(tmp_path)
    filled_demos.leave(tmp_path)


def test_a_throw_away_demo_ends_at_once_and_leaves_nothing(tmp_path):
    """Ended while it is still reading the sample logs."""
    env = {**os.environ, "TMPDIR": str(tmp_path)}
    child = subprocess.Popen(
        [sys.executable, "-m", "dashboards.command_line", "demo", "--port", "0", "--no-browser"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env,
    )  # fmt: skip
    assert child.stdout is not None and "reading the sample logs" in child.stdout.readline()
    assert os.listdir(tmp_path)
    child.send_signal(signal.SIGINT)
    _, errors = child.communicate(timeout=30)

    assert (child.returncode, errors) == (0, "")
    assert os.listdir(tmp_path) == []
