"""What `check` says it judged by: the recipe made on this line, or what there is where no recipe holds."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from dashboards.names import condition_title
from tests.dashboards.command_line.test_check import RECIPE, SECONDS, T0, write_inputs

WAYS = "findings go by the machine's limits, set-points, physics and what was usual earlier in the run"


def drifting(folder: Path) -> Path:
    """Zone 1 climbs by 9 C in a quarter of an hour, as steel can, and stays."""
    rows = ["time,line,T1,S1,N,M"]
    for second in range(0, SECONDS, 2):
        stamp = (T0 + dt.timedelta(seconds=second)).isoformat(sep=" ")
        off = 9.0 * min(1.0, max(0.0, (second - 3000) / 900)) + 0.1 * (second // 2 % 3)
        rows.append(f"{stamp},Line 3,{210 + off:.1f},210,300,60.{second // 2 % 7}")
    (folder / "slow.csv").write_text("\n".join(rows) + "\n")
    return folder / "slow.csv"


def checked(folder: Path, run, *recipes: tuple[str, str], words: tuple[str, ...] = ()) -> str:
    """The summary as one line. recipes: name and the line each is made on, '' for any; no schedule."""
    write_inputs(folder, hot=False)
    log, line = drifting(folder), folder / "line.toml"
    given: list[object] = []
    for number, (name, made_on) in enumerate(recipes):
        lines = f'lines = ["{made_on}"]\n' if made_on else ""
        path = folder / f"recipe-{number}.toml"
        path.write_text(RECIPE.replace('name = "PP"\n', f'name = "{name}"\n{lines}'))
        given += ["--recipe", path]
    code, out, err = run("check", log, "--line", line, *given, *words)
    assert code in (0, 1), err
    return re.sub(r"\s+", " ", out)


def test_of_several_recipes_the_one_made_on_this_line_is_the_one_that_is_named(tmp_path, run):
    told = checked(tmp_path, run, ("PP", "Line 3"), ("PA", "Line 4"))

    assert "no lot number (PP)" in told and "above its limit of 215" in told and "by its set-point" not in told
    assert "none was used" not in told and "no window was judged" not in told


def test_of_several_recipes_that_fit_none_is_used_and_that_is_said(tmp_path, run):
    told = checked(tmp_path, run, ("PP", ""), ("PA", "Line 3"))

    assert "no lot number (no recipe)" in told and "none was used" in told


def test_without_a_recipe_a_zone_is_held_against_its_set_point_and_that_is_said(tmp_path, run):
    told = checked(tmp_path, run)

    assert "above its limit of 213, by its set-point" in told
    assert f"no recipe was given: no window was judged, {WAYS}" in told


def test_recipes_of_other_lines_alone_judge_nothing_here(tmp_path, run):
    told = checked(tmp_path, run, ("PA", "Line 4"))

    assert "made on other lines, say their files: no window was judged" in told and "by its set-point" in told


def test_a_schedule_that_names_a_recipe_of_another_line_is_told(tmp_path, run):
    (tmp_path / "own.csv").write_text("start,lot,recipe\n2026-03-02 06:00,L-1,PA\n")
    told = checked(tmp_path, run, ("PA", "Line 4"), words=("--schedule", str(tmp_path / "own.csv")))

    assert "PA is made on other lines, says its file: nothing was judged by its windows" in told
    assert "no recipe file was given" not in told


@pytest.mark.parametrize("what", ["zone_over", "zone_under", "melt_over", "melt_under"])
def test_no_name_of_a_finding_speaks_of_a_recipe_that_may_not_be_there(what):
    title = condition_title(f"{what}_temperature")

    assert title.endswith("than its limit") and "recipe" not in title
