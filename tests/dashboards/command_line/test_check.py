"""`check` on a finished log: its exit code, its files, what it says, and how it refuses bad input."""

from __future__ import annotations

import csv
import datetime as dt
import json
import os
import re
from pathlib import Path

import numpy as np
import pytest

from dashboards.command_line import check_log
from dashboards.command_line.check_log import block_seconds
from dashboards.data import JournalData
from dashboards.report.lot_report import lot_report
from dashboards.touched import is_product
from ingest.account import ReadingAccount
from ingest.read_log import read_blocks
from monitor.core import Monitor
from monitor.journal import Journal
from monitor.line import read_line
from monitor.recipe import read_recipe
from monitor.records import findings

LINE = """
format = 1
[line]
name = "{name}"
title = "twin screw in the north hall"
kind = "twin-screw"
time_zone = "Europe/Madrid"
[log]
time_columns = ["time"]
line_column = "line"
line_value = "{name}"
[[zone]]
name = "Z1"
[[sensor]]
tag = "T1"
role = "zone_temperature"
at = "Z1"
[[sensor]]
tag = "S1"
role = "zone_setpoint"
at = "Z1"
[[sensor]]
tag = "N"
role = "screw_speed"
[[sensor]]
tag = "M"
role = "torque"
"""
RECIPE = """
format = 1
[recipe]
name = "PP"
[zones]
Z1 = 210
[[window]]
role = "zone_temperature"
at = "Z1"
low = 205
high = 215
"""
T0 = dt.datetime(2026, 3, 2, 6, 0)
SECONDS = 5400


def write_inputs(folder: Path, *, hot: bool, name: str = "Line 3", others: bool = True) -> list[str]:
    """A log of two lines, the line file, the recipe and a schedule; `hot`: zone 1 leaves its window for 15 min."""
    rng = np.random.default_rng(2)
    rows = ["time,line,T1,S1,N,M"]
    for second in range(0, SECONDS, 2):
        stamp = (T0 + dt.timedelta(seconds=second)).isoformat(sep=" ")
        away = 14.0 if hot and 3000 <= second < 3900 else 0.0
        rows.append(f"{stamp},{name},{210 + away + rng.normal(0, 0.2):.1f},210,300,{60 + rng.normal():.1f}")
        if others:
            rows.append(f"{stamp},Line 4,{210 + rng.normal(0, 0.2):.1f},210,250,{50 + rng.normal():.1f}")
    (folder / "log.csv").write_text("\n".join(rows) + "\n")
    (folder / "line.toml").write_text(LINE.format(name=name))
    (folder / "recipe.toml").write_text(RECIPE)
    (folder / "schedule.csv").write_text("start,lot,recipe\n2026-03-02 06:00,L-1,PP\n2026-03-02 06:30,L-2,PP\n")
    return [
        str(folder / "log.csv"), "--line", str(folder / "line.toml"), "--recipe", str(folder / "recipe.toml"),
        "--schedule", str(folder / "schedule.csv"),
    ]  # fmt: skip


def judged(folder: Path):
    line = read_line(folder / "line.toml")
    from monitor.schedule import read_schedule

    monitor = Monitor(line, [read_recipe(folder / "recipe.toml")], read_schedule(folder / "schedule.csv", line))
    state, records = monitor.start(), []
    for block in read_blocks([folder / "log.csv"], line.mapping(), ReadingAccount(), block_s=600):
        state, step = monitor.advance(state, block)
        records += step.records
    return [*records, *monitor.finish(state)]


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ("", ("2 containers, C1 to C2", "taken for when a container was full", "name the column filled_from")),
        (",filled_from", ("2 containers, C1 to C2", "when the filling began", "C2 with the log")),
    ],
)
def test_what_the_times_of_containers_are_taken_for(tmp_path, run, columns, said):
    words = write_inputs(tmp_path, hot=False)
    rows = "".join(
        f"{'' if columns else stamp},,,{number}{f',{stamp}' if columns else ''}\n"
        for stamp, number in (("2026-03-02 06:10", "C1"), ("2026-03-02 06:40", "C2"))
    )
    (tmp_path / "schedule.csv").write_text(
        f"start,lot,recipe,container{columns}\n2026-03-02 06:00,L-1,PP,{',' * len(columns[:1])}\n{rows}"
    )

    code, out, err = run("check", *words)

    assert (code, err) == (0, "")
    assert all(part in " ".join(out.split()) for part in said), out


@pytest.mark.parametrize("rate", [True, False])
def test_product_and_containers_are_told_under_a_finding_as_in_the_report(tmp_path, run, rate):
    """Zone 1 is hot from 06:50 to 07:05 at 600 kg/h; K1 is full at 06:40, K2 at 07:00, the rest in what follows."""
    words = write_inputs(tmp_path, hot=True, others=False)
    if rate:
        log = (tmp_path / "log.csv").read_text().splitlines()
        (tmp_path / "log.csv").write_text("\n".join([log[0] + ",R", *(row + ",600" for row in log[1:])]) + "\n")
        (tmp_path / "line.toml").write_text(
            (tmp_path / "line.toml").read_text() + '[[sensor]]\ntag = "R"\nrole = "line_rate"\n'
        )
    (tmp_path / "schedule.csv").write_text(
        "start,lot,recipe,container\n2026-03-02 06:00,L-1,PP,\n2026-03-02 06:40,,,K1\n2026-03-02 07:00,,,K2\n"
    )

    code, out, _ = run("check", *words, "--out", tmp_path / "out")
    without = run("check", *words)[1]

    assert code == 1
    told = re.findall(r"^   product   (.*(?:\n {13}.*)*)", out, re.M)
    with Journal(tmp_path / "out" / "journal.sqlite", create=False) as journal:
        data = JournalData(journal)
        found = data.findings("Line 3")
        (lot,) = data.lots("Line 3")
        report = lot_report(data, lot, lot.end)
    ids = {f.last.finding for f in found}
    alone = [f for f in found if is_product(f) and f.last.part_of not in ids]
    assert len(told) == len(alone) == 1
    said = " ".join(told[0].split())
    kilograms, times = said.split(", ", 1)
    assert times.startswith("2 Mar 06:50 to 07:")
    held = said[said.index(". ") + 1 :]
    assert "K2 and all packed after K2" in held and "K1" not in held and held.strip() in report
    if rate:
        assert 150 < float(kilograms.removesuffix(" kg")) < 250, "a quarter of an hour and more, at 10 kg a minute"
    else:
        assert kilograms == "mass not known"
    assert "product   with --out FOLDER" in without and "packed after" not in without


def test_a_clean_log(tmp_path, run):
    code, out, err = run("check", *write_inputs(tmp_path, hot=False))

    assert (code, err) == (0, "")
    assert "No findings." in out
    assert "Line 3  twin screw in the north hall" in out
    assert "2 Mar 06:00 to 07:29, Europe/Madrid (UTC+1)" in out
    assert "5,400 rows in 1 file, 2,700 accepted" in out
    assert "L-1 (PP), 2 Mar 06:00 to 06:30" in out and "L-2 (PP), 2 Mar 06:30 to 07:29" in out
    assert "Written to" not in out
    assert sorted(os.listdir(tmp_path)) == ["line.toml", "log.csv", "recipe.toml", "schedule.csv"]


def test_a_log_with_a_hot_zone(tmp_path, run):
    out_folder = tmp_path / "new" / "out"

    code, out, err = run("check", *write_inputs(tmp_path, hot=True), "--out", out_folder)

    expected = judged(tmp_path)
    assert (code, err) == (1, "")
    written = ["account.json", "findings.csv", "findings.json", "journal.sqlite", "set_aside.csv"]
    assert sorted(os.listdir(out_folder)) == written
    with (out_folder / "findings.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["id"] for row in rows] == [finding.last.finding for finding in findings(expected)]
    assert any(row["channel"] == "zone_temperature:Z1" and row["lot"] == "L-2" for row in rows)
    assert {item["id"] for item in json.loads((out_folder / "findings.json").read_text())["findings"]} == {
        row["id"] for row in rows
    }
    account = json.loads((out_folder / "account.json").read_text())["Line 3"]
    assert account["rows_read"] == account["rows_accepted"] + account["rows_set_aside"] == 5400
    with Journal(out_folder / "journal.sqlite", create=False) as journal:
        assert journal.records("Line 3") == expected
        assert journal.line("Line 3") == read_line(tmp_path / "line.toml")
        t0, t1 = journal.span("Line 3")
        stored = journal.blocks("Line 3", t0, t1)
        read = list(read_blocks([tmp_path / "log.csv"], journal.line("Line 3").mapping(), ReadingAccount()))
        assert stored.values.tobytes() == np.concatenate([b.values for b in read], axis=1).tobytes()
        assert [note.text for note in journal.notes("Line 3", 0, t1)] == ["L-1", "PP", "L-2", "PP"]
        assert journal.account("Line 3") == account
    most = min(findings(expected), key=lambda f: (f.last.priority, f.last.since)).last
    assert most.summary in " ".join(out.split()) and "since" in out and "2 Mar 06:5" in out
    assert "check" in out and most.checks[0] in " ".join(out.split())
    assert "on        Z1 temperature; confidence" in out and "zone_temperature:" not in out


def test_the_same_log_checked_again_gives_the_same_files(tmp_path, run):
    words = write_inputs(tmp_path, hot=True)
    texts = []
    for _ in range(2):
        assert run("check", *words, "--out", tmp_path / "out")[0] == 1
        texts.append([(tmp_path / "out" / name).read_bytes() for name in ("findings.csv", "findings.json")])

    assert texts[0] == texts[1]


def test_human_actions_outlive_a_second_check(tmp_path, run):
    words = write_inputs(tmp_path, hot=True)
    run("check", *words, "--out", tmp_path / "out")
    with Journal(tmp_path / "out" / "journal.sqlite") as journal:
        finding = journal.findings("Line 3")[0].last.finding
        journal.act("Line 3", finding, "repaired", "Ada", "new thermocouple", 5)
    run("check", *words, "--out", tmp_path / "out")

    with Journal(tmp_path / "out" / "journal.sqlite") as journal:
        assert [action.text for action in journal.actions("Line 3", finding)] == ["new thermocouple"]
        assert finding in {f.last.finding for f in journal.findings("Line 3")}


def test_several_lines_of_one_log(tmp_path, run):
    words = write_inputs(tmp_path, hot=True)
    (tmp_path / "line4.toml").write_text(LINE.format(name="Line 4"))

    code, out, _ = run("check", *words[:-2], "--line", tmp_path / "line4.toml", "--out", tmp_path / "out")

    assert code == 1
    assert out.index("Line 3") < out.index("Line 4")
    with Journal(tmp_path / "out" / "journal.sqlite") as journal:
        assert journal.lines() == ["Line 3", "Line 4"]
        assert journal.findings("Line 3") and not journal.findings("Line 4")


def test_a_missing_recipe_is_said(tmp_path, run):
    words = write_inputs(tmp_path, hot=False)[:3]

    code, out, _ = run("check", *words)

    assert code in (0, 1)
    assert "no recipe was given" in out


def spoil(folder: Path, what: str) -> None:
    log = folder / "log.csv"
    match what:
        case "no such log":
            log.unlink()
        case "folder as log":
            log.unlink()
            log.mkdir()
        case "empty log":
            log.write_text("")
        case "header only":
            log.write_text("time,line,T1,S1,N,M\n")
        case "column missing":
            log.write_text(log.read_text().replace("T1", "TEMP1", 1))
        case "no times":
            log.write_text("time,line,T1,S1,N,M\n" + "soon,Line 3,1,2,3,4\n" * 50)
        case "broken parquet":
            log.rename(folder / "log.csv.old")
            log.write_bytes(b"PAR1" + b"\0" * 500)
        case "binary":
            log.write_bytes(bytes(range(256)) * 40)
        case "bad line file":
            (folder / "line.toml").write_text("format = 1\n[line]\nname = 3\n")
        case "no line file":
            (folder / "line.toml").unlink()
        case "bad recipe":
            (folder / "recipe.toml").write_text("[recipe\n")
        case "bad schedule":
            (folder / "schedule.csv").write_text("start,lot\n")
        case "setting of no condition":
            with (folder / "line.toml").open("a") as file:
                file.write("[settings.nonsense]\nx = 1\n")


SPOILT = {
    "no such log": ["log.csv"], "folder as log": ["log.csv"], "empty log": ["log.csv"], "header only": ["log.csv"],
    "column missing": ["log.csv", "'T1'", "'TEMP1'"], "no times": ["log.csv", "soon"],
    "broken parquet": ["log.csv"], "binary": ["log.csv"], "bad line file": ["line.toml", "line.name"],
    "no line file": ["line.toml", "does not exist"], "bad recipe": ["recipe.toml", "TOML"],
    "bad schedule": ["schedule.csv", "'recipe'"], "setting of no condition": ["settings.nonsense"],
}  # fmt: skip


@pytest.mark.parametrize("what", SPOILT)
def test_bad_input_is_refused_in_words(tmp_path, run, what):
    words = write_inputs(tmp_path, hot=False)
    spoil(tmp_path, what)

    code, out, err = run("check", *words, "--out", tmp_path / "out")

    assert (code, out) == (2, "")
    for expected in SPOILT[what]:
        assert expected in err
    assert not (tmp_path / "out" / "findings.csv").exists()
    if (tmp_path / "out" / "journal.sqlite").exists():
        with Journal(tmp_path / "out" / "journal.sqlite") as journal:
            assert all(journal.span(line) == (0, 0) for line in journal.lines())


def test_a_log_that_goes_bad_half_way_leaves_no_half_journal(tmp_path, run, monkeypatch):
    words = write_inputs(tmp_path, hot=True)
    real = Monitor.advance

    def full_disk(self, state, block):
        if block.t0 % (3600 * 10**9) == 0 and state["next"] is not None:
            raise OSError(28, "No space left on device")
        return real(self, state, block)

    monkeypatch.setattr(Monitor, "advance", full_disk)
    monkeypatch.setattr(check_log, "LONGEST_BLOCK_S", 3600)
    code, out, err = run("check", *words, "--out", tmp_path / "out")

    assert (code, out) == (2, "") and "no space left" in err
    with Journal(tmp_path / "out" / "journal.sqlite") as journal:
        assert journal.span("Line 3") == (0, 0) and journal.records("Line 3") == []


def test_places_for_output_that_cannot_be(tmp_path, run):
    words = write_inputs(tmp_path, hot=False)
    (tmp_path / "file").write_text("")

    code, _, err = run("check", *words, "--out", tmp_path / "file")
    assert code == 2 and "file" in err

    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "journal.sqlite").write_text("my diary " * 200)
    code, _, err = run("check", *words, "--out", tmp_path / "out")
    assert code == 2 and "journal.sqlite" in err and "cannot be opened" in err
    assert (tmp_path / "out" / "journal.sqlite").read_text().startswith("my diary")


def test_a_line_watched_live_is_left_alone(tmp_path, run):
    words = write_inputs(tmp_path, hot=False)
    (tmp_path / "out").mkdir()
    line = read_line(tmp_path / "line.toml")
    with Journal(tmp_path / "out" / "journal.sqlite") as journal:
        journal.register_line(line, "# the live one\n" + (tmp_path / "line.toml").read_text(), [])
        journal.begin(line.name, source="live", fingerprint="f")

    code, _, err = run("check", *words, "--out", tmp_path / "out")

    assert code == 2 and "watched live" in err
    with Journal(tmp_path / "out" / "journal.sqlite") as journal:
        assert journal.source("Line 3") == "live" and journal.recipes("Line 3") == []


def test_a_block_holds_a_day_of_few_channels_and_less_of_many():
    assert block_seconds(24, 1.0) == 24 * 3600
    assert block_seconds(150, 1.0) == 11 * 3600
    assert block_seconds(150, 0.1) == 3600
