"""The reading account is said in sentences, faults with their place."""

from __future__ import annotations

from dashboards.command_line.account_text import account_sentences
from ingest.account import ANOTHER_LINE, NO_TIME, FileRead, Gap, ReadingAccount


def test_a_clean_log_is_one_sentence():
    account = ReadingAccount(files=[FileRead("a.csv", "CSV")])
    account.accept(43_200)

    assert list(account_sentences(account)) == ["43,200 rows in 1 file, all accepted"]


def test_everything_odd_is_said():
    account = ReadingAccount(files=[FileRead("a.csv", "CSV"), FileRead("b.csv", "CSV")])
    account.accept(90)
    account.put_aside("b.csv", NO_TIME, [17, 30], ["soon", ""])
    account.put_aside("b.csv", ANOTHER_LINE, list(range(100, 108)))
    for tag in ("T1", "T2", "T3", "T4", "T5", "T6"):
        account.unreadable(tag, 3, "a.csv", 5, "---")
    account.silent_tags = ["P1"]
    account.values_missing = {"T7": 5, "T8": 2}
    account.duplicates, account.out_of_order = 2, 4
    account.add_gap(Gap("a.csv", 40, 0, 600_000_000_000, True))
    account.assume("decimal point")
    account.assume("day first", "a guess")
    account.notice("clocks disagree", "likely")
    account.sentinel("T7", 32767.0, 3)
    account.out_of_range("T8", 6)

    assert list(account_sentences(account)) == [
        "100 rows in 2 files, 90 accepted",
        "8 set aside: belongs to another line",
        "2 set aside: no readable time, first in row 17 of b.csv",
        "3 values of T1 are no numbers, first '---' in row 5",
        "3 values of T2 are no numbers, first '---' in row 5",
        "3 values of T3 are no numbers, first '---' in row 5",
        "3 values of T4 are no numbers, first '---' in row 5",
        "2 more tags have values that are no numbers",
        "7 values of 2 tags are empty or say 'no reading'",
        "T7: 32767 (3 times) is nothing it can show and is taken as 'no reading' (sure)",
        "6 values of 1 tags are outside the range of their sensors",
        "no reading at all of P1: nothing is judged by them",
        "2 rows repeat an earlier time",
        "4 rows stood out of order and were sorted in",
        "1 gap without rows, 10 min in all",
        "assumed: decimal point (likely)",
        "assumed: day first (a guess)",
        "noticed: clocks disagree (likely)",
    ]
