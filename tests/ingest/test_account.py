"""The reading account: every row is either accepted or set aside, and the words for it."""

from __future__ import annotations

import csv
import json
import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.account import LISTED_PER_REASON, ReadingAccount
from ingest.errors import BadLog, nearest
from ingest.read_log import read_blocks
from tests.ingest.plain_log import Style, csv_text, mapping, read, steady, write_csv
from tests.ingest.test_pieces import LINE, LONG, long_rows, odd_log


def lines_with_text(data: bytes) -> int:
    """Rows of a CSV text: lines that are not blank, without the header."""
    return sum(bool(line.strip()) for line in data.replace(b"\r\n", b"\n").split(b"\n")) - 1


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_every_row_is_accounted_for_at_every_moment(seed: int) -> None:
    for data, line in ((odd_log(seed), LINE), ("\n".join(long_rows(seed)).encode(), LONG)):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "log.csv"
            path.write_bytes(data)
            account = ReadingAccount()
            for _ in read_blocks([path], line, account, block_s=60):
                assert account.rows_read == account.rows_accepted + account.rows_set_aside
        assert account.rows_read == account.rows_accepted + account.rows_set_aside == lines_with_text(data)
        assert account.files[0].rows == account.rows_read
        listed = dict.fromkeys(account.set_aside_by_reason, 0)
        for one in account.set_aside:
            assert one.file == str(path)
            listed[one.reason] += 1
        for reason, count in account.set_aside_by_reason.items():
            expected = 0 if reason in ("belongs to another line", "tag is not in the line file") else count
            assert listed[reason] == min(expected, LISTED_PER_REASON)
        json.dumps(account.as_dict())


def test_row_numbers_are_those_of_an_editor(tmp_path: Path) -> None:
    good = csv_text(steady(4), ("T1", "P die", "SP1"), Style()).splitlines()
    lines = ["printed today", "", *good[:3], "", "1,2", "soon,1,2,3", '"x', *good[3:], "1,2,3,4,5", "2026-03-06 10:5"]
    path = tmp_path / "log.csv"
    path.write_text("\r\n".join(lines), newline="")
    _, account = read(path)
    editor = dict(enumerate(lines, start=1))
    assert {one.row: one.reason for one in account.set_aside} == {
        7: "wrong number of columns",
        8: "no readable time",
        9: "quotation mark is never closed",
        12: "wrong number of columns",
        13: "row is cut off at the end of the file",
    }
    for one in account.set_aside:
        assert one.text and one.text in editor[one.row]
    assert account.rows_accepted == 4


def test_an_open_quote_is_set_aside_wherever_the_file_is_cut(tmp_path: Path) -> None:
    head, *rows = csv_text(steady(30), ("T1", "P die", "SP1"), Style()).splitlines()
    good = [f"{head},Lot", *(f"{row},A" for row in rows)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([*good[:10], '2026-03-06 10:52:39,1,2,3,"B', *good[10:]]) + "\n")
    size = len("\n".join(good[:10])) + 1
    for block_bytes in (1, size, size + 28, size + 40, 1 << 20):
        blocks, account = read(path, mapping(lot_column="Lot"), block_bytes=block_bytes)
        assert account.set_aside_by_reason == {"quotation mark is never closed": 1}, block_bytes
        assert (account.set_aside[0].row, account.rows_accepted) == (11, 30)
        assert [note.text for block in blocks for note in block.notes] == ["A"]


def test_letters_that_are_not_utf8_far_down(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ingest.text_file.HEAD_BYTES", 600)
    lots = ["Lot\u20ac", "M\xfcller", "plain"]
    lines = ["Time,T1,P die,SP1,Lot"]
    lines += [f"2026-03-06 10:00:{i:02d},1,2,3,{'x' if i < 40 else lots[i % 3]}" for i in range(60)]
    path = tmp_path / "log.csv"
    for size in (1, 100, 1 << 20):
        path.write_bytes("\n".join(lines).encode("cp1252") + b"\n")
        blocks, account = read(path, mapping(lot_column="Lot"), block_bytes=size)
        assert [note.text for note in blocks[0].notes[:4]] == ["x", "M\xfcller", "plain", "Lot\u20ac"]
        assert account.rows_accepted == 60
        assert any("read as cp1252" in sentence for sentence in account.assumptions)


def test_columns_with_different_decimal_marks(tmp_path: Path) -> None:
    rows = [
        (ns, {"T1": f"{200 + i / 8}".replace(".", ","), "P die": 1.5, "SP1": f"{i},5"})
        for i, (ns, _) in enumerate(steady(40))
    ]
    blocks, account = read(write_csv(tmp_path / "log.csv", rows, style=Style(";")))
    assert blocks[0].values[:, 3].tolist() == [200.375, 1.5, 3.5]
    assert account.values_unreadable == {}
    assert any("'P die' have decimal points, unlike the others" in s for s in account.assumptions)


@pytest.mark.parametrize(("delimiter", "readable"), [(";", True), (",", False), ("\t", False)])
def test_commas_that_may_stand_between_thousands(tmp_path: Path, delimiter: str, readable: bool) -> None:
    rows = [(ns, {"T1": "1,125", "P die": "2", "SP1": "3"}) for ns, _ in steady(20)]
    blocks, account = read(write_csv(tmp_path / "log.csv", rows, style=Style(delimiter)))
    if readable:
        assert blocks[0].values[0, 0] == 1.125
        assert any("decimal commas" in sentence for sentence in account.assumptions)
    else:
        found = account.values_unreadable["T1"]
        assert (found.count, found.row, found.text) == (20, 2, "1,125")


def test_rows_and_header_with_a_delimiter_too_many(tmp_path: Path) -> None:
    head, *rows = csv_text(steady(20), ("T1", "P die", "SP1"), Style(";")).splitlines()
    for name, text in {
        "rows": [head, *(row + ";" for row in rows)],
        "header": [head + ";", *rows],
        "both": [head + ";", *(row + ";" for row in rows)],
    }.items():
        path = tmp_path / f"{name}.csv"
        path.write_text("\n".join(text) + "\n")
        _, account = read(path)
        assert account.rows_accepted == 20
        assert any("delimiter at the end" in s for s in account.assumptions) == (name != "both")


def test_what_was_found_is_in_the_account(tmp_path: Path) -> None:
    path = write_csv(
        tmp_path / "log.csv", steady(20), style=Style(";", ",", "utf-8-sig", "day first", preamble=("Line 1",))
    )
    _, account = read(path)
    (entry,) = account.as_dict()["files"]
    assert entry["found"] == {
        "encoding": "utf-8 with mark",
        "delimiter": "semicolon",
        "decimal mark": "comma",
        "header row": "2",
        "first row of data": "3",
        "time": "DD.MM.YYYY HH:MM:SS",
    }
    assert (entry["rows"], entry["kind"]) == (20, "CSV")
    assert entry["last_ns"] - entry["first_ns"] == 19 * 10**9


def test_nearest_names() -> None:
    known = ["Melt pressure", "melt temperature", "Screw speed"]
    assert nearest("MeltPressure", known) == ["Melt pressure", "melt temperature"]
    assert nearest("zzz", known) == []


def test_the_message_of_a_bad_log() -> None:
    error = BadLog("a.csv", "is wrong", row=3, column="P", hint="Mend it.")
    assert str(error) == "a.csv, row 3, column 'P': is wrong. Mend it."
    assert str(BadLog("a.csv", "is wrong")) == "a.csv: is wrong."


def test_every_file_has_an_account_of_its_own(tmp_path: Path) -> None:
    first, second = steady(50), steady(90)[60:]
    damaged = csv_text(first, ("T1", "P die", "SP1"), Style()).splitlines()
    damaged[10] = "soon,1,2,3"
    damaged[20] = damaged[19]
    (tmp_path / "a.csv").write_text("\n".join(damaged) + "\n")
    paths = [tmp_path / "a.csv", write_csv(tmp_path / "b.csv", second)]
    _, account = read(paths)
    one, other = account.as_dict()["files"]
    assert (one["rows"], one["rows_accepted"], one["set_aside_by_reason"]) == (50, 49, {"no readable time": 1})
    assert (one["duplicates"], one["gaps"]) == (1, 0)
    assert (other["rows"], other["rows_accepted"], other["set_aside_by_reason"]) == (30, 30, {})
    assert (other["duplicates"], other["gaps"]) == (0, 1)
    for name, total in (("rows_accepted", account.rows_accepted), ("duplicates", account.duplicates)):
        assert one[name] + other[name] == total
    assert not set(account.as_dict()) & {"aside_of", "gaps_of"}


def test_every_assumption_says_how_sure_it_is(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "log.csv", steady(20), style=Style(";", ",", time="day first", preamble=("Line 1",)))
    _, account = read(path, mapping(time_columns=()))
    assert account.assumptions
    assert set(account.how_sure) == {*account.assumptions, *account.noticed}
    assert set(account.how_sure.values()) <= {"sure", "likely", "a guess"}


def test_all_rows_set_aside_are_written_out(tmp_path: Path) -> None:
    """Far more than are listed in the account, from several files and reasons; places are those of an editor."""
    from ingest.set_aside_list import ListingAccount, write_set_aside

    lines = csv_text(steady(600), ("T1", "P die", "SP1"), Style()).splitlines()
    wrong = {}
    for i in range(1, 600, 2):
        wrong[i + 1] = "no readable time" if i % 3 else "wrong number of columns"
        lines[i] = "soon,1,2,3" if i % 3 else lines[i] + ",9,9"
    (tmp_path / "a.csv").write_text("\n".join(lines) + "\n")
    other = csv_text(steady(900)[700:], ("T1", "P die", "SP1"), Style()).splitlines()
    other[100:150] = ["x"] * 50
    (tmp_path / "b.csv").write_text("\n".join(other) + "\n")
    account = ListingAccount()
    for _ in read_blocks([tmp_path / "a.csv", tmp_path / "b.csv"], mapping(), account):
        pass
    assert write_set_aside(tmp_path / "out.csv", [("L1", account)]) == account.rows_set_aside == 350
    with (tmp_path / "out.csv").open(newline="") as file:
        head, *rows = csv.reader(file)
    assert head == ["line", "file", "row", "reason", "as written"]
    a = {int(row[2]): row[3] for row in rows if row[1].endswith("a.csv")}
    assert a == wrong
    assert all(row[4] == lines[int(row[2]) - 1] for row in rows if row[1].endswith("a.csv"))
    assert [int(row[2]) for row in rows if row[1].endswith("b.csv")] == list(range(101, 151))


def test_a_number_that_was_kept_in_four_bytes_is_written_as_in_the_log() -> None:
    account = ReadingAccount()
    for number in (float(np.float32(0.1)), 32767.0, -9999.9, 0.1, 1e300):
        account.sentinel("T1", number, 1)
    assert account.values_sentinel["T1"] == {"0.1": 2, "32767": 1, "-9999.9": 1, "1e+300": 1}
