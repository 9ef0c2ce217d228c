"""A real extruder line: open data set 'multi-stage continuous-flow manufacturing process', run of 2019-03-06.

14,088 rows at 1 Hz, three extruders in parallel. No fault labels exist. Known from looking at it: the feeder reading
of extruder 1 dips below 1000 (normally 1264) in rows 5350 to 5482 while current, speed and pressure hardly move; zone
readings of extruder 1 hold for up to 3,458 s at 0.1 C resolution; its exit zone goes 75 -> 79 -> 69.7 -> 80 in rows
10,800 to 11,800. Read from EVENMELT_OPEN_DATA/multistage_line; never copied into the project.
"""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
FOLDER = Path(os.environ.get("EVENMELT_OPEN_DATA", "")) / "multistage_line"
needs_data = pytest.mark.skipif(
    not os.environ.get("EVENMELT_OPEN_DATA") or not FOLDER.is_dir(),
    reason="set EVENMELT_OPEN_DATA to the folder of open data sets to run this",
)
ROWS = 14_088


def check(log: str, out: Path) -> tuple[int, list[dict[str, str]], dict[str, object]]:
    """Exit code, findings and account of `evenmelt check` over the three extruders."""
    files = [word for m in (1, 2, 3) for word in ("--line", str(HERE / f"multistage_m{m}.toml"))]
    files += [word for m in (1, 2, 3) for word in ("--recipe", str(HERE / f"multistage_recipe_m{m}.toml"))]
    done = subprocess.run(
        [sys.executable, "-m", "dashboards.command_line", "check", str(FOLDER / log), *files, "--out", str(out)],
        capture_output=True, text=True, cwd=HERE.parent.parent,
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    with (out / "findings.csv").open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    return done.returncode, found, json.loads((out / "account.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def parquet(tmp_path_factory: pytest.TempPathFactory) -> tuple[int, list[dict[str, str]], dict[str, object]]:
    return check("line.parquet", tmp_path_factory.mktemp("parquet"))


@needs_data
def test_every_row_is_accounted_for(parquet: tuple[int, list[dict[str, str]], dict[str, object]]) -> None:
    accounts = parquet[2]
    for line in ("M1", "M2", "M3"):
        account: dict = accounts[line]  # type: ignore[assignment, type-arg]
        assert account["rows_read"] == ROWS
        assert account["rows_accepted"] + sum(account["set_aside_by_reason"].values()) == ROWS


@needs_data
def test_the_feeder_dip_is_not_called_starved(parquet: tuple[int, list[dict[str, str]], dict[str, object]]) -> None:
    """Current, pressure and speed hardly move: the reading is wrong, not the feed."""
    assert [row for row in parquet[1] if row["family"] == "starved"] == []


@needs_data
def test_the_long_holds_are_not_called_frozen(parquet: tuple[int, list[dict[str, str]], dict[str, object]]) -> None:
    assert [row for row in parquet[1] if "frozen" in row["condition"]] == []


@needs_data
def test_the_exit_zone_excursion_is_found(parquet: tuple[int, list[dict[str, str]], dict[str, object]]) -> None:
    """Rows 10,800 to 11,800, against a window of 75 +- 3 C."""
    found = {(row["line"], row["channel"], row["family"]) for row in parquet[1]}

    assert ("M1", "zone_temperature:EXIT", "over_temperature") in found


@needs_data
def test_the_dip_of_the_exit_zone_is_found(parquet: tuple[int, list[dict[str, str]], dict[str, object]]) -> None:
    """The same excursion, its low side."""
    found = {(row["line"], row["channel"], row["family"]) for row in parquet[1]}

    assert ("M1", "zone_temperature:EXIT", "under_temperature") in found


@needs_data
def test_csv_and_parquet_give_the_same_findings(
    parquet: tuple[int, list[dict[str, str]], dict[str, object]], tmp_path: Path
) -> None:
    """line.csv.gz and line.parquet hold the same rows."""
    assert check("line.csv.gz", tmp_path)[1] == parquet[1]
