"""The clock of a log: clock changes, rows out of order, steps back, lone stamps, dates of either order."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.account import ReadingAccount
from ingest.block import Block
from ingest.local_time import LocalClock
from ingest.mapping import ChannelSource
from tests.ingest.plain_log import EPOCH, mapping, moment, nanoseconds, read

HEADER = "Time,T1\n"
ONE = (ChannelSource("T1", "zone_temperature:Z1", "C", "last", 1),)


def log(tmp_path: Path, stamps: list[str], **changes: object) -> tuple[dict[int, float], ReadingAccount, list[Block]]:
    """Reads a log whose values count its rows: stamp of the cell -> row counted from 0, only fresh cells."""
    path = tmp_path / "log.csv"
    path.write_text(HEADER + "".join(f"{stamp},{i}\n" for i, stamp in enumerate(stamps)))
    blocks, account = read(path, mapping(channels=ONE, **changes))
    cells = {}
    for block in blocks:
        for i in np.flatnonzero(block.status[0] & 4):
            cells[block.t0 + int(i) * block.step] = float(block.values[0, i])
    return cells, account, blocks


def utc(text: str) -> int:
    """UTC nanoseconds of a UTC time."""
    return nanoseconds(datetime.fromisoformat(text + "+00:00"))


# Europe/Berlin goes from UTC+2 to UTC+1 on 25 October 2026 at 01:00 UTC and back on 29 March 2026 at 01:00 UTC:
# directive 2000/84/EC, last Sundays of October and March.


def test_the_hour_that_comes_twice_is_told_apart_by_order(tmp_path: Path) -> None:
    start = utc("2026-10-25 00:30:00")
    stamps = [start + i * 60 * 10**9 for i in range(180)]
    texts = [f"{moment(ns).astimezone(ZoneInfo('Europe/Berlin')):%Y-%m-%d %H:%M:%S}" for ns in stamps]
    assert texts.count("2026-10-25 02:30:00") == 2
    cells, account, _ = log(tmp_path, texts, time_zone="Europe/Berlin")
    assert cells == {ns: float(i) for i, ns in enumerate(stamps)}
    assert account.rows_set_aside == 0
    assert account.duplicates == 0
    assert any("put back" in s and "row 2:" in s for s in account.assumptions)


@pytest.mark.parametrize("begins", ["00:20", "01:20", "01:59"])
@pytest.mark.parametrize("step_s", [5, 60])
def test_a_log_that_begins_in_an_hour_that_comes_twice_tells_which_by_what_follows(
    tmp_path: Path, begins: str, step_s: int
) -> None:
    """02:20 twice: from the first pass rows step back once, from the second they run on into the next hour."""
    start = utc(f"2026-10-25 {begins}:00")
    stamps = [start + i * step_s * 10**9 for i in range(3 * 3600 // step_s)]
    texts = [f"{moment(ns).astimezone(ZoneInfo('Europe/Berlin')):%Y-%m-%d %H:%M:%S}" for ns in stamps]
    cells, account, _ = log(tmp_path, texts, time_zone="Europe/Berlin")

    assert list(cells) == stamps and not account.gaps and not account.rows_set_aside


@pytest.mark.parametrize("step_s", [1, 60, 1800, 3600])
def test_clock_back_at_any_step(tmp_path: Path, step_s: int) -> None:
    start = utc("2026-10-24 22:00:00")
    stamps = [start + i * step_s * 10**9 for i in range(6 * 3600 // step_s)]
    texts = [f"{moment(ns).astimezone(ZoneInfo('Europe/Berlin')):%d.%m.%Y %H:%M:%S}" for ns in stamps]
    cells, _, blocks = log(tmp_path, texts, time_zone="Europe/Berlin")
    assert list(cells) == stamps
    assert sum(block.n for block in blocks) == (stamps[-1] - stamps[0]) // 10**9 + 1


def test_the_hour_that_does_not_exist_is_noticed(tmp_path: Path) -> None:
    texts = [
        "2026-03-29 01:59:58",
        "2026-03-29 01:59:59",
        "2026-03-29 02:00:00",
        "2026-03-29 02:30:00",
        "2026-03-29 03:00:00",
    ]
    cells, account, _ = log(tmp_path, texts, time_zone="Europe/Berlin")
    assert cells == {utc("2026-03-29 00:59:58"): 0, utc("2026-03-29 00:59:59"): 1, utc("2026-03-29 01:00:00"): 4}
    assert account.set_aside_by_reason == {"local time that does not exist (clock change)": 2}
    assert [(one.row, one.text) for one in account.set_aside] == [
        (4, "2026-03-29 02:00:00"),
        (5, "2026-03-29 02:30:00"),
    ]
    assert any("row 4" in s and "Etc/GMT-1" in s for s in account.assumptions)


def test_clock_forward_leaves_no_gap(tmp_path: Path) -> None:
    start = utc("2026-03-29 00:59:50")
    stamps = [start + i * 10**9 for i in range(20)]
    texts = [f"{moment(ns).astimezone(ZoneInfo('Europe/Berlin')):%Y-%m-%d %H:%M:%S}" for ns in stamps]
    cells, account, _ = log(tmp_path, texts, time_zone="Europe/Berlin")
    assert list(cells) == stamps
    assert account.gap_count == account.rows_set_aside == 0


def test_offsets_in_the_stamp_win_over_the_zone(tmp_path: Path) -> None:
    texts = [
        "2026-10-25T02:30:00+02:00",
        "2026-10-25T02:30:00+01:00",
        "2026-10-25T01:30:01Z",
        "2026-10-25T08:00:02+0630",
    ]
    cells, account, _ = log(tmp_path, texts, time_zone="America/New_York")
    assert list(cells) == [utc("2026-10-25 00:30:00"), *(utc(f"2026-10-25 01:30:0{i}") for i in range(3))]
    assert account.rows_set_aside == 0


@settings(max_examples=60, deadline=None)
@given(
    zone=st.sampled_from(
        ["Europe/Berlin", "Europe/London", "Europe/Dublin", "America/St_Johns", "Australia/Lord_Howe", "UTC"]
    ),
    minute=st.integers(0, 366 * 24 * 60 * 3),
)
def test_local_clock_agrees_with_the_standard_library(zone: str, minute: int) -> None:
    # zoneinfo, PEP 495: fold 0 and 1 are the earlier and the later instant of a local time.
    local = datetime(2024, 1, 1) + timedelta(minutes=minute)
    first, second = (local.replace(tzinfo=ZoneInfo(zone), fold=fold).timestamp() for fold in (0, 1))
    exists = datetime.fromtimestamp(first, ZoneInfo(zone)).replace(tzinfo=None) == local
    instants = LocalClock(zone).instants(
        np.array([(local - EPOCH.replace(tzinfo=None)) // timedelta(microseconds=1) * 1000])
    )
    assert bool(instants.exists[0]) == exists
    if exists:
        assert (instants.first[0], instants.second[0]) == (first * 1e9, second * 1e9)


def test_a_little_disorder_is_sorted_and_counted(tmp_path: Path) -> None:
    seconds = [0, 1, 5, 3, 4, 15, 5, 16]
    cells, account, _ = log(tmp_path, [f"2026-03-06 10:00:{s:02d}" for s in seconds])
    # 3 and 4 stand behind 5; the second 5 stands exactly 10 s behind 15 and is the later row of its cell.
    assert [int((ns - utc("2026-03-06 10:00:00")) / 1e9) for ns in cells] == [0, 1, 3, 4, 5, 15, 16]
    assert cells[utc("2026-03-06 10:00:05")] == 6
    assert (account.out_of_order, account.duplicates, account.rows_set_aside) == (3, 1, 0)


def test_a_row_further_behind_is_set_aside_with_its_place(tmp_path: Path) -> None:
    seconds = [0, 1, 20, 9, 21]
    cells, account, _ = log(tmp_path, [f"2026-03-06 10:00:{s:02d}" for s in seconds])
    assert len(cells) == 4
    (aside,) = account.set_aside
    assert (aside.row, aside.reason, aside.text) == (5, "clock runs backwards", "2026-03-06 10:00:09")
    (step,) = account.clock_steps
    assert (step.row, step.back_s, step.rows) == (5, 11, 1)


def test_a_step_back_is_one_event_until_the_clock_caught_up(tmp_path: Path) -> None:
    minutes = [*range(60), *range(30, 70)]
    texts = [f"2026-03-06 {10 + m // 60}:{m % 60:02d}:00" for m in minutes]
    cells, account, _ = log(tmp_path, texts)
    (step,) = account.clock_steps
    assert (step.row, step.from_ns, step.to_ns, step.rows) == (
        62,
        utc("2026-03-06 10:59:00"),
        utc("2026-03-06 10:30:00"),
        29,
    )
    assert account.set_aside_by_reason == {"clock runs backwards": 29}
    assert account.duplicates == 30  # 29 set aside, and 10:59 which came a second time
    assert len(cells) == 70


@pytest.mark.parametrize("wrong", ["2026-03-07 10:00:00", "2036-01-01 00:00:00", "2026-03-06 13:00:00"])
@pytest.mark.parametrize("place", [0, 5, 19])
def test_a_lone_stamp_far_ahead_does_not_put_the_others_behind(tmp_path: Path, wrong: str, place: int) -> None:
    texts = [f"2026-03-06 10:00:{s:02d}" for s in range(20)]
    texts[place] = wrong
    cells, account, _ = log(tmp_path, texts)
    if place == 19:  # the last stamp of a log has no neighbour behind it to tell
        assert account.rows_set_aside == 0
        return
    assert account.set_aside_by_reason == {"stamp is far ahead of its neighbours": 1}
    assert account.set_aside[0].row == place + 2
    assert len(cells) == 19


def test_stamps_of_another_age_are_set_aside(tmp_path: Path) -> None:
    texts = ["1970-01-01 00:00:00", *(f"2026-03-06 10:00:{s:02d}" for s in range(5)), "2154-01-01 00:00:00"]
    cells, account, _ = log(tmp_path, texts)
    assert account.set_aside_by_reason == {"stamp is outside 1980 to 2100": 2}
    assert len(cells) == 5


def test_repeated_stamps(tmp_path: Path) -> None:
    cells, account, _ = log(tmp_path, ["2026-03-06 10:00:00"] * 3 + ["2026-03-06 10:00:01"])
    assert cells == {utc("2026-03-06 10:00:00"): 2, utc("2026-03-06 10:00:01"): 3}
    assert account.duplicates == 2


def day_texts(form: str, days: list[int]) -> list[str]:
    """Hourly stamps on days of March and April 2026 (day 32 is 1 April)."""
    return [
        f"{datetime(2026, 3, 1) + timedelta(days=day - 1, hours=hour):{form}}"
        for day in days
        for hour in range(0, 24, 3)
    ]


@pytest.mark.parametrize(
    ("form", "words"),
    [("%d/%m/%Y %H:%M:%S", "day first"), ("%m/%d/%Y %H:%M:%S", "month first"), ("%d-%m-%y %H:%M", "day first")],
)
class TestDayOrMonth:
    """Both orders, told apart in every way there is."""

    def test_a_day_beyond_the_twelfth(self, tmp_path: Path, form: str, words: str) -> None:
        cells, account, _ = log(tmp_path, day_texts(form, [11, 12, 13]))
        assert next(iter(cells)) == utc("2026-03-11 00:00:00")
        row = 2 + 16  # header, two days of eight rows
        assert any(f"dates are {words}, seen on row {row} (" in s for s in account.assumptions)

    def test_the_course_of_the_log(self, tmp_path: Path, form: str, words: str) -> None:
        cells, account, _ = log(tmp_path, day_texts(form, [4, 5, 6]))
        assert next(iter(cells)) == utc("2026-03-04 00:00:00")
        assert len(cells) == 24
        assert any(f"dates are taken as {words}: so the log spans 3 days" in s for s in account.assumptions)

    def test_another_file(self, tmp_path: Path, form: str, words: str) -> None:
        one, other = tmp_path / "a.csv", tmp_path / "b.csv"
        one.write_text(HEADER + "".join(f"{t},1\n" for t in day_texts(form, [4])))
        other.write_text(HEADER + "".join(f"{t},1\n" for t in day_texts(form, [15])))
        blocks, account = read([other, one], mapping(channels=ONE))
        assert blocks[0].t0 == utc("2026-03-04 00:00:00")
        assert any(f"dates are {words}, as in the other files" in s for s in account.assumptions)

    def test_a_row_far_into_a_large_file(self, tmp_path: Path, form: str, words: str) -> None:
        # The twelfth alone leaves it open for 600,000 bytes, more than is looked at first.
        texts = [f"{datetime(2026, 12, 12) + timedelta(seconds=i):{form}}" for i in range(30_000)]
        texts += [f"{datetime(2026, 12, 13) + timedelta(seconds=i):{form}}" for i in range(3)]
        cells, account, _ = log(tmp_path, texts)
        assert any(f"dates are {words}, seen on row 30002 (" in s for s in account.assumptions)
        assert len(cells) == (30_003 if "S" in form else 501)


@pytest.mark.parametrize(
    ("text", "words", "instant"),
    [
        ("03.04.2026 10:00:0{}", "day first, as is usual with points", "2026-04-03 10:00:00"),
        ("3/4/2026 10:00:0{} PM", "month first, as is usual with AM and PM", "2026-03-04 22:00:00"),
    ],
)
def test_custom_settles_what_the_log_does_not(tmp_path: Path, text: str, words: str, instant: str) -> None:
    cells, account, _ = log(tmp_path, [text.format(i) for i in range(9)])
    assert next(iter(cells)) == utc(instant)
    assert any(words in s for s in account.assumptions)


@pytest.mark.parametrize(
    ("form", "text"),
    [
        ("%d/%m/%Y %H:%M:%S", "03/04/2026 22:00:00"),
        ("%m/%d/%Y %I:%M:%S %p", "04/03/2026 10:00:00 PM"),
        ("%Y.%m.%d-%H.%M.%S", "2026.04.03-22.00.00"),
        ("%d %b %y %H%M%S", "03 Apr 26 220000"),
        ("%Y-%m-%dT%H:%M:%S.%f%z", "2026-04-03T23:00:00.000+01:00"),
    ],
)
def test_a_given_format(tmp_path: Path, form: str, text: str) -> None:
    cells, _, _ = log(tmp_path, [text] * 3, time_format=form)
    assert list(cells) == [utc("2026-04-03 22:00:00")]


def test_midnight_and_noon_on_a_half_day_clock(tmp_path: Path) -> None:
    texts = ["3/14/2026 12:00:00 AM", "3/14/2026 1:00:00 AM", "3/14/2026 12:00:00 PM", "3/14/2026 11:59:59 PM"]
    cells, _, _ = log(tmp_path, texts)
    assert [ns - utc("2026-03-14 00:00:00") for ns in cells] == [h * 10**9 for h in (0, 3600, 43200, 86399)]


def test_some_stamps_that_cannot_be_read(tmp_path: Path) -> None:
    texts = [f"2026-02-28 23:59:{s:02d}" for s in range(50, 60)] + [
        "2026-02-29 00:00:00",
        "",
        "2026-02-28 24:00:01",
        "soon",
    ]
    cells, account, _ = log(tmp_path, texts)
    assert len(cells) == 10
    assert [(one.row, one.text) for one in account.set_aside] == [
        (12, texts[10]),
        (13, ""),
        (14, texts[12]),
        (15, "soon"),
    ]


def test_gaps_are_recorded_and_long_ones_not_filled(tmp_path: Path) -> None:
    texts = [f"2026-03-06 10:00:{s:02d}" for s in range(30)]
    texts += [f"2026-03-06 11:00:{s:02d}" for s in range(30)]
    texts += [f"2026-03-06 18:00:{s:02d}" for s in range(30)]
    _, account, blocks = log(tmp_path, texts)
    assert [(g.row, g.filled, (g.to_ns - g.from_ns) / 1e9) for g in account.gaps] == [
        (32, True, 3571),
        (62, False, 25171),
    ]
    assert [(moment(b.t0).hour, b.n) for b in blocks] == [(10, 3600), (11, 30), (18, 30)]
    assert blocks[0].status[0, 31:].tolist() == [3] * 3569
    assert np.isnan(blocks[0].values[0, 31:]).all()
    assert (blocks[0].status[0, 30], blocks[0].values[0, 30]) == (0, 29)  # held for its second
