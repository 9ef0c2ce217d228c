"""However a verb ends, it ends with the right code and a sentence."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from dashboards.command_line.endings import ended_well
from dashboards.command_line.told import Told
from ingest.errors import BadLog
from monitor.journal.errors import JournalError
from monitor.settings_file import SettingsError


def raising(error: BaseException):
    def run() -> None:
        raise error

    return run


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (BadLog("a.csv", "is no number", row=7, column="T", hint="Correct it."), 2, "a.csv, row 7, column 'T'"),
        (SettingsError("line.toml", ["zone: is missing"]), 2, "line.toml: 1 mistake\n  zone: is missing"),
        (JournalError("journal x is a folder"), 2, "journal x is a folder"),
        (Told("Port 8050 is taken."), 2, "Port 8050 is taken."),
        (PermissionError(13, "Permission denied", "/data/log.csv"), 2, "/data/log.csv: permission denied."),
        (IsADirectoryError(21, "Is a directory", "/data"), 2, "/data: is a directory."),
        (OSError(28, "No space left on device"), 2, "no space left on device"),
        (MemoryError(), 2, "not enough memory"),
        (SystemExit(1), 1, ""),
        (SystemExit(None), 0, ""),
        (SystemExit("stop here"), 2, "stop here"),
    ],
)
def test_errors_of_the_person_are_told(error, code, words, capsys):
    assert ended_well(raising(error)) == code
    told = capsys.readouterr().err
    assert words in told and "Traceback" not in told


def test_a_broken_parquet_and_a_locked_database_are_told(tmp_path, capsys):
    import pyarrow.parquet
    from sqlalchemy import create_engine

    (tmp_path / "x.parquet").write_bytes(b"PAR1 and no more")
    (tmp_path / "x.sqlite").write_bytes(b"no database, " * 100)

    assert ended_well(lambda: pyarrow.parquet.read_table(tmp_path / "x.parquet")) == 2
    assert "cannot be read as CSV or Parquet" in capsys.readouterr().err
    engine = create_engine(f"sqlite:///{tmp_path / 'x.sqlite'}")
    assert ended_well(lambda: engine.connect().exec_driver_sql("select * from sqlite_master")) == 2
    engine.dispose()
    assert "The journal cannot be used: file is not a database" in capsys.readouterr().err


def test_a_mistake_of_our_own_is_kept_in_a_file(capsys):
    assert ended_well(raising(KeyError("zone"))) == 3

    told = capsys.readouterr().err
    assert "mistake in Evenmelt" in told and "Traceback" not in told
    report = Path(told.split("report it with ")[1].strip().removesuffix("."))
    assert "KeyError: 'zone'" in report.read_text()
    report.unlink()


def test_a_verb_that_returns_is_clean():
    assert ended_well(lambda: None) == 0


def test_an_interrupt_is_not_mistaken_for_findings(tmp_path):
    import signal
    import subprocess
    import time

    code = (
        "import time\nfrom dashboards.command_line.endings import ended_well\n"
        "def run():\n    print('up', flush=True); time.sleep(30)\n"
        "raise SystemExit(ended_well(run))"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code], cwd=Path(__file__).parents[3], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert child.stdout is not None and child.stdout.readline() == b"up\n"
    time.sleep(0.1)
    child.send_signal(signal.SIGINT)
    _, errors = child.communicate(timeout=10)

    assert child.returncode == 130
    assert b"Traceback" not in errors
