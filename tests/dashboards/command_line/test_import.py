"""`import` and `check --from-archive`: exit codes, what is told, and the same findings as from the log."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from sample_logs import sample_path
from tests.ingest.archive.archive_cases import tree

LOG = "twin_path_blocked"


def line_and_log() -> tuple[Path, Path]:
    folder = sample_path(LOG)
    return folder / "line.toml", folder / "log.csv"


def test_import_and_import_again(tmp_path, run):
    line, log = line_and_log()
    code, out, err = run("import", log, "--line", line, "--archive", tmp_path / "a")
    assert (code, err) == (0, "")
    assert "rows in 1 file" in out and "readings new" in out and "contradict" not in out
    before = tree(tmp_path / "a")
    code, out, err = run("import", log, "--line", line, "--archive", tmp_path / "a")
    assert (code, err) == (0, "")
    assert "is in the archive already" in out and "nothing new" in out
    assert tree(tmp_path / "a") == before


def test_a_dry_run(tmp_path, run):
    line, log = line_and_log()
    code, out, _ = run("import", log, "--line", line, "--archive", tmp_path / "a", "--dry-run")
    assert code == 0 and "readings would be new" in " ".join(out.split()), "a long path may break the line there"
    assert not (tmp_path / "a").exists()


def test_a_contradiction_ends_with_1(tmp_path, run):
    line, log = line_and_log()
    run("import", log, "--line", line, "--archive", tmp_path / "a")
    rows = log.read_text(encoding="utf-8").splitlines()
    fields = rows[500].split(",")
    fields[1] = "555.5"
    rows[500] = ",".join(fields)
    other = tmp_path / "other.csv"
    other.write_text("\n".join(rows) + "\n", encoding="utf-8")
    code, out, _ = run("import", other, "--line", line, "--archive", tmp_path / "a")
    assert code == 1
    assert "1 contradict what is there and were not taken" in out
    assert "zone_temperature:Z1: kept" in out and "the log says 555.5" in out


def test_rows_set_aside_are_written_out(tmp_path, run):
    line, log = line_and_log()
    rows = log.read_text(encoding="utf-8").splitlines()
    rows[40] = "soon" + rows[40][20:]
    rows[50:50] = ["1,2,3"] * 30
    broken = tmp_path / "broken.csv"
    broken.write_text("\n".join(rows) + "\n", encoding="utf-8")
    listed = tmp_path / "aside.csv"
    code, out, _ = run("import", broken, "--line", line, "--archive", tmp_path / "a", "--set-aside", listed)
    assert code == 0 and "31 rows that could not be used" in " ".join(out.split())
    with listed.open(newline="", encoding="utf-8") as file:
        found = list(csv.DictReader(file))
    assert [int(one["row"]) for one in found] == [41, *range(51, 81)]
    assert found[0]["as written"] == rows[40] and found[0]["reason"] == "no readable time"
    assert {one["as written"] for one in found[1:]} == {"1,2,3"}
    assert {one["file"] for one in found} == {str(broken)}


def findings_of(folder: Path) -> list:
    return json.loads((folder / "findings.json").read_text(encoding="utf-8"))["findings"]


def test_check_from_the_archive_finds_what_check_of_the_log_finds(tmp_path, run):
    line, log = line_and_log()
    folder = sample_path(LOG)
    judged_by = ("--line", line, "--recipe", folder / "recipe.toml", "--schedule", folder / "schedule.csv")
    from_log = run("check", log, *judged_by, "--out", tmp_path / "log")
    run("import", log, "--line", line, "--archive", tmp_path / "a")
    from_archive = run("check", "--from-archive", tmp_path / "a", *judged_by, "--out", tmp_path / "archive")
    assert from_log[0] == from_archive[0] == 1
    assert findings_of(tmp_path / "log") == findings_of(tmp_path / "archive") != []
    assert (tmp_path / "log" / "findings.csv").read_bytes() == (tmp_path / "archive" / "findings.csv").read_bytes()
    account = json.loads((tmp_path / "archive" / "account.json").read_text(encoding="utf-8"))
    (told,) = account.values()
    assert told["rows_read"] == told["rows_accepted"] > 0 and told["files"][0]["kind"] == "archive"


def test_a_stretch_of_the_archive(tmp_path, run):
    line, log = line_and_log()
    folder = sample_path(LOG)
    run("import", log, "--line", line, "--archive", tmp_path / "a")
    words = ("check", "--from-archive", tmp_path / "a", "--line", line, "--recipe", folder / "recipe.toml")
    code, _, err = run(*words, "--from", "2027-03-02T12:30Z", "--to", "2027-03-02T14:00", "--out", tmp_path / "out")
    assert code in (0, 1) and err == ""
    (told,) = json.loads((tmp_path / "out" / "account.json").read_text(encoding="utf-8")).values()
    assert told["rows_read"] == 1800  # 13:30 to 14:00 in Madrid
    for wrong, words_told in (("noon", "this is no time"), ("2031-01-01", "nothing of line")):
        code, _, err = run(*words, "--from", wrong)
        assert code == 2 and words_told in err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "Give the files of a log, or --from-archive"),
        (("log.csv", "--from-archive", "a"), "not both"),
        (("log.csv", "--from", "2026-01-01"), "go with --from-archive"),
        (("--from-archive", "no such folder"), "is empty or is no archive"),
    ],
)
def test_options_that_do_not_go_together(tmp_path, run, words, told, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, _, err = run("check", *words, "--line", line_and_log()[0])
    assert code == 2 and told in err


def test_an_archive_that_cannot_be_used(tmp_path, run):
    line, log = line_and_log()
    (tmp_path / "file").write_text("no folder")
    code, _, err = run("import", log, "--line", line, "--archive", tmp_path / "file")
    assert code == 2 and "file" in err
    code, _, err = run("import", log, "--line", line, "--archive", "nonsense://x")
    assert code == 2 and "archive cannot be opened" in err
