"""What the tests of the command line share."""

from __future__ import annotations

import signal

import pytest

from dashboards.command_line import app
from dashboards.command_line.endings import ended_well


@pytest.fixture
def run(capsys):
    """Runs the command line in this process: exit code, output, errors."""
    before = signal.getsignal(signal.SIGINT)

    def call(*words: object) -> tuple[int, str, str]:
        code = ended_well(lambda: app([str(word) for word in words]))
        told = capsys.readouterr()
        assert "Traceback" not in told.err
        return code, told.out, told.err

    yield call
    signal.signal(signal.SIGINT, before)
