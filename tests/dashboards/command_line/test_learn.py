"""`evenmelt learn` makes a reference that `evenmelt check --reference` takes, and refuses in words."""

from __future__ import annotations

import io
import json
import signal
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from dashboards.command_line import main

LOGS = Path(__file__).parents[3] / "sample_logs" / "logs"
CLEAN = LOGS / "twin_clean"


@dataclass(frozen=True)
class Done:
    """What a verb ended with and said."""

    returncode: object
    stdout: str
    stderr: str


def evenmelt(*words: object) -> Done:
    """As the command does, in this process: to load everything anew takes longer than most verbs."""
    out, err, interrupted = io.StringIO(), io.StringIO(), signal.getsignal(signal.SIGINT)
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.setattr(sys, "argv", ["evenmelt", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
    signal.signal(signal.SIGINT, interrupted)
    return Done(ended.value.code, out.getvalue(), err.getvalue())


def learned(out: Path, log: Path = CLEAN / "log.parquet") -> Done:
    return evenmelt("learn", log, "--line", CLEAN / "line.toml", "--recipe", CLEAN / "recipe.toml", "--out", out)


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("learn") / "reference.json"
    done = learned(out)
    assert done.returncode == 0, done.stderr
    assert "Learned from 3." in done.stdout and "from one run" in done.stdout
    return out


def test_the_file_says_what_it_was_learned_from(reference: Path) -> None:
    made = json.loads(reference.read_text(encoding="utf-8"))

    assert made["learned_from"]["logs"] == ["log.parquet"] and made["learned_from"]["steady_minutes"] > 120
    assert {"net_torque", "melt_pressure:P1"} <= {one["name"] for one in made["normals"]}


def test_a_clean_run_against_its_own_reference_stays_clean(reference: Path, tmp_path: Path) -> None:
    def found(*more: object) -> str:
        words = ("--line", CLEAN / "line.toml", "--recipe", CLEAN / "recipe.toml", "--out", tmp_path / str(len(more)))
        done = evenmelt("check", CLEAN / "log.parquet", *words, *more)
        assert done.returncode in (0, 1), done.stderr
        return (tmp_path / str(len(more)) / "findings.csv").read_text(encoding="utf-8")

    assert found("--reference", reference) == found()


def test_says_what_no_longer_holds(reference: Path, tmp_path: Path) -> None:
    line = tmp_path / "line.toml"
    text = (CLEAN / "line.toml").read_text(encoding="utf-8")
    assert "screw_diameter_mm = " in text
    line.write_text(text.replace("screw_diameter_mm = ", "screw_diameter_mm = 1"), encoding="utf-8")

    words = ("--line", line, "--recipe", CLEAN / "recipe.toml", "--reference", reference)
    done = evenmelt("check", CLEAN / "log.parquet", *words)

    assert "no longer valid: geometry.screw_diameter_mm was" in " ".join(done.stdout.split()), done.stdout + done.stderr


def test_refuses_too_little(tmp_path: Path) -> None:
    short = tmp_path / "short.parquet"
    pq.write_table(pq.read_table(CLEAN / "log.parquet").slice(0, 1800), short)

    done = learned(tmp_path / "reference.json", short)

    assert done.returncode == 2 and "at least 120 are needed" in done.stderr
    assert not (tmp_path / "reference.json").exists()


def test_refuses_what_is_no_reference(tmp_path: Path) -> None:
    words = ("--line", CLEAN / "line.toml", "--recipe", CLEAN / "recipe.toml", "--reference", CLEAN / "truth.json")
    done = evenmelt("check", CLEAN / "log.parquet", *words)

    assert done.returncode == 2 and "is no reference of format 1" in done.stderr
