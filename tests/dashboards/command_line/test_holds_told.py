"""A log that is stored on change is read alike by every verb: what `check` takes, the others take, and say it."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from sample_logs import sample_path
from tests.dashboards.command_line.test_watch import ROOT, ended

FOLDER = sample_path("twin_clean")
HEARTBEAT_S = 900
SAID = "stored now and then, up to"


@pytest.fixture(scope="module")
def on_change(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The clean sample as a log that leaves out whatever stays: its temperatures shown to the degree.

    Beside it lies clock.parquet, the same that leaves out nothing.
    """
    table = pq.read_table(FOLDER / "log.parquet")
    columns = {"time": table.column("time")}
    whole = dict(columns)
    for name in table.column_names[1:]:
        values = table.column(name).to_numpy().astype(float)
        values = np.round(values) if name.endswith("_temp") else values
        kept = np.r_[True, values[1:] != values[:-1]]
        kept |= np.arange(len(values)) % HEARTBEAT_S == 0
        columns[name] = pa.array(values, mask=~kept)
        whole[name] = pa.array(values)
    path = tmp_path_factory.mktemp("on_change") / "log.parquet"
    pq.write_table(pa.table(columns), path)
    pq.write_table(pa.table(whole), path.with_name("clock.parquet"))
    return path


def test_check_and_import_say_the_same_and_find_the_same(tmp_path: Path, on_change: Path, run) -> None:
    line, recipe = ("--line", FOLDER / "line.toml"), ("--recipe", FOLDER / "recipe.toml")
    code, _, err = run("check", on_change, *line, *recipe, "--out", tmp_path / "log")
    assert code in (0, 1) and err == ""
    code, out, err = run("import", on_change, *line, "--archive", tmp_path / "a")
    assert (code, err) == (0, "") and SAID in " ".join(out.split())
    (told,) = json.loads((tmp_path / "log" / "account.json").read_text(encoding="utf-8")).values()
    said = [one for one in map(str, told["assumptions"]) if SAID in one]
    assert said

    code, _, err = run("check", "--from-archive", tmp_path / "a", *line, *recipe, "--out", tmp_path / "archive")
    assert code in (0, 1) and err == ""
    found = [(tmp_path / place / "findings.csv").read_text(encoding="utf-8") for place in ("log", "archive")]
    assert found[0] == found[1]


def test_learn(tmp_path: Path, on_change: Path, run) -> None:
    words = ("--line", FOLDER / "line.toml", "--recipe", FOLDER / "recipe.toml", "--out")
    code, out, err = run("learn", on_change, *words, tmp_path / "on_change.json")
    assert (code, err) == (0, "") and SAID in " ".join(out.split())
    run("learn", on_change.with_name("clock.parquet"), *words, tmp_path / "clock.json")
    learned, plain = (json.loads((tmp_path / f"{one}.json").read_text("utf-8")) for one in ("on_change", "clock"))
    assert {one["name"] for one in learned["normals"]} == {one["name"] for one in plain["normals"]}


def test_watch(tmp_path: Path, on_change: Path) -> None:
    child = subprocess.Popen(
        [
            sys.executable, "-m", "dashboards.command_line", "watch", str(on_change), "--line",
            str(FOLDER / "line.toml"), "--data", str(tmp_path / "data"),
        ],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert child.stdout is not None
    said = [child.stdout.readline()]
    while said[-1] and SAID not in said[-1]:
        said.append(child.stdout.readline())
    time.sleep(0.5)
    ended(child)
    assert any("watching" in line for line in said) and SAID in said[-1], said
