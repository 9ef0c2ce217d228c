"""`serve` shows the pages on a journal, on this computer only, and ends when told to."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from monitor.journal import Journal

ROOT = Path(__file__).parents[3]


def started(*words: str) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-m", "dashboards.command_line", "serve", *words],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGINT])
def test_pages_come_up_and_end(tmp_path, ending):
    Journal(tmp_path / "journal.sqlite").close()
    child = started("--data", str(tmp_path), "--port", "0")
    assert child.stdout is not None
    words = child.stdout.readline()
    address = words.split(" at ")[1].split()[0]

    with urllib.request.urlopen(address, timeout=20) as answer:
        assert answer.status == 200 and b"Evenmelt" in answer.read()
    assert address.startswith("http://127.0.0.1:")
    child.send_signal(ending)
    _, errors = child.communicate(timeout=20)

    assert (child.returncode, errors) == (0, "")


def test_without_a_journal_it_says_so(tmp_path):
    child = started("--data", str(tmp_path))
    output, errors = child.communicate(timeout=30)

    assert (child.returncode, output) == (2, "")
    assert "there is no journal" in errors and "Traceback" not in errors
    assert list(tmp_path.iterdir()) == []


def test_a_port_that_is_taken(tmp_path):
    Journal(tmp_path / "journal.sqlite").close()
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        child = started("--data", str(tmp_path), "--port", str(port))
        _, errors = child.communicate(timeout=30)

    assert child.returncode == 2
    assert f"Port {port}" in errors and "--port" in errors and "Traceback" not in errors
