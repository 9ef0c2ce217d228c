"""`check` on logs that were hardly read, or read in a wrong unit: it does not end as if all were well."""

from __future__ import annotations

import csv
import random
import re

import pytest

from dashboards.command_line.check_log import CheckedLine
from dashboards.command_line.not_well import LOST, hardly_read, nothing_found
from ingest import account as reasons
from ingest.account import ReadingAccount
from sample_logs import sample_path
from tests.monitor.conditions.told import TWIN


def checked(account: ReadingAccount, *, doubted: bool = False) -> CheckedLine:
    """A line of which nothing but its reading is known."""
    return CheckedLine(TWIN, (), (), account, None, [], 0, 1, unit_doubted=doubted)  # type: ignore[arg-type]


def account_of(accepted: int, **aside: int) -> ReadingAccount:
    account = ReadingAccount()
    account.accept(accepted)
    for reason, count in aside.items():
        account.put_aside("log.csv", getattr(reasons, reason), list(range(2, 2 + count)), [""] * min(count, 20))
    return account


def test_most_of_a_log_set_aside_is_bad_input_with_what_to_do() -> None:
    (said,) = hardly_read([checked(account_of(15, BACKWARDS=7185))])
    assert "of 7,200 rows 7,185 had to be set aside because: clock runs backwards, first in log.csv, row 2" in said
    assert "sort the log by time" in said
    for reason in LOST:
        (name,) = [key for key, value in vars(reasons).items() if value == reason]
        assert reason in hardly_read([checked(account_of(4, **{name: 6}))])[0]


@pytest.mark.parametrize(
    "account",
    [account_of(60, BACKWARDS=40), account_of(10, OVERLAP=90), account_of(10, ANOTHER_LINE=90, BACKWARDS=4)],
)
def test_less_than_most_is_judged(account: ReadingAccount) -> None:
    assert hardly_read([checked(account)]) == []


def test_no_findings_is_said_no_further_than_it_was_looked() -> None:
    assert nothing_found(checked(account_of(100))) == "No findings."
    assert nothing_found(checked(account_of(98, BACKWARDS=2))) == "No findings."
    assert "in what could be judged" in nothing_found(checked(account_of(80, BACKWARDS=20)))
    assert "a unit or range of the line file is likely wrong" in nothing_found(checked(account_of(100), doubted=True))


def test_rows_in_pages_out_of_order(tmp_path, run) -> None:
    folder, path = sample_path("twin_clean"), tmp_path / "log.csv"
    _as_csv(folder / "log.parquet", path)
    head, *rows = path.read_text().splitlines()
    pages = [rows[i : i + len(rows) // 12] for i in range(0, len(rows), len(rows) // 12)]
    pages[5] = pages[5][200:]  # so that they do not join, and nobody knows which order is right
    path.write_text("\n".join([head, *(row for page in reversed(pages) for row in page)]) + "\n")
    code, out, err = run("check", path, "--line", folder / "line.toml", "--recipe", folder / "recipe.toml")
    assert code == 2 and "most of the log was not judged" in err and "oldest row first" in err
    assert "clock runs backwards" in out
    random.Random(1).shuffle(rows)
    path.write_text("\n".join([head, *rows]) + "\n")
    code, out, err = run("check", path, "--line", folder / "line.toml", "--recipe", folder / "recipe.toml")
    assert err == "" and "they are sorted by time" in " ".join(out.split()) and "set aside" not in out
    plain = run("check", folder / "log.parquet", "--line", folder / "line.toml", "--recipe", folder / "recipe.toml")
    assert code == plain[0] and out.split("   lots  ")[1] == plain[1].split("   lots  ")[1]


def test_rates_by_the_minute(tmp_path, run) -> None:
    folder, path = sample_path("twin_clean"), tmp_path / "log.csv"
    _as_csv(folder / "log.parquet", path)
    line = (folder / "line.toml").read_text(encoding="utf-8")
    tags = re.findall(r'tag *= *"([^"]+)"[^\n]*\n? *role *= *"(?:feeder_rate|feeder_setpoint|line_rate)', line)
    assert tags
    with path.open() as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        for tag in tags:
            row[tag] = str(float(row[tag]) / 60) if row[tag] else ""
    with path.open("w") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    code, out, _ = run("check", path, "--line", folder / "line.toml", "--recipe", folder / "recipe.toml")
    assert code == 1 and 'unit = "lb/min" at each such [[sensor]]' in " ".join(out.split())
    assert "Look first at what is doubted above" in " ".join(out.split())


def _as_csv(parquet, path) -> None:
    import pyarrow.csv
    import pyarrow.parquet

    pyarrow.csv.write_csv(pyarrow.parquet.read_table(parquet), path)
