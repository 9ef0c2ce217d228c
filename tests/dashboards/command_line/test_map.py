"""`map` on every sample log: it ends well, its file is a line file, and `check` runs with it."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from dashboards.command_line import app
from dashboards.command_line.endings import ended_well
from monitor.line import read_line
from tests.outside_checks.map_truth import log_of, sample_names


def run(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["evenmelt", *words])
    return ended_well(app)


@pytest.mark.parametrize("name", sample_names())
def test_map_then_check(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    log, out = str(log_of(name)), tmp_path / "line.toml"

    assert run(monkeypatch, "map", log, "--out", str(out), "--name", "north 3") == 0
    said = capsys.readouterr().out
    assert f"evenmelt check {log} --line {out}" in said
    assert read_line(out).name == "north 3"
    assert run(monkeypatch, "check", log, "--line", str(out)) in (0, 1), capsys.readouterr().err


def test_a_file_that_is_there_is_not_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "line.toml"
    out.write_text("mine", encoding="utf-8")

    assert run(monkeypatch, "map", str(log_of("single_clean")), "--out", str(out)) == 2
    assert out.read_text(encoding="utf-8") == "mine"
    assert "exists already" in capsys.readouterr().err


def test_a_log_of_which_nothing_can_be_told_is_written_to_be_filled_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = "\n".join(f"2027-03-02 06:00:{i:02d},{i},{2 * i}" for i in range(60))
    log = tmp_path / "log.csv"
    log.write_text(f"time,gizmo,widget\n{rows}\n", encoding="utf-8")

    out = tmp_path / "line.toml"
    assert run(monkeypatch, "map", str(log), "--out", str(out)) == 0
    assert "Of no tag could a role be told" in capsys.readouterr().out
    text = out.read_text(encoding="utf-8")
    assert "# 0.59 to 58.41, mostly about 29.5; a reading every 1 s at the latest\n" in text

    kept, filled = text.split('# tag = "gizmo"')
    filled = filled.replace('# role = ""', 'role = "screw_speed"', 1)
    out.write_text(kept.rstrip().removesuffix("# [[sensor]]") + '[[sensor]]\ntag = "gizmo"' + filled, encoding="utf-8")
    assert read_line(out).channels == ("screw_speed",)


def test_a_log_without_a_number_ends_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "log.csv"
    rows = "\n".join(f"2027-03-02 06:00:{i:02d},well,good" for i in range(60))
    log.write_text(f"time,gizmo,widget\n{rows}\n", encoding="utf-8")

    assert run(monkeypatch, "map", str(log), "--out", str(tmp_path / "line.toml")) == 2
    assert "holds no tag with readings" in capsys.readouterr().err
    assert not (tmp_path / "line.toml").exists()


def test_how_the_time_is_written_may_be_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    log, out = tmp_path / "log.csv", tmp_path / "line.toml"
    rows = "\n".join(f"02_03_27 06h00-{i:02d},{300 + i}" for i in range(60))
    log.write_text(f"when,Screw speed rpm\n{rows}\n", encoding="utf-8")

    assert run(monkeypatch, "map", str(log), "--out", str(out)) == 2
    assert "time_format" in capsys.readouterr().err
    assert run(monkeypatch, "map", str(log), "--out", str(out), "--time-format", "%d_%m_%y %Hh%M-%S") == 0
    capsys.readouterr()
    assert read_line(out).log.time_format == "%d_%m_%y %Hh%M-%S"
    assert run(monkeypatch, "check", str(log), "--line", str(out)) == 0


def test_a_missing_log_ends_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, "map", str(tmp_path / "none.csv"), "--out", str(tmp_path / "line.toml")) == 2
    assert "does not exist" in capsys.readouterr().err
