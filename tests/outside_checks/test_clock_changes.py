"""Every clock change of eight zones over ten years, against the IANA time zone database as `zoneinfo` gives it.

Source: IANA tz database (Python's `tzdata` or the system's), PEP 495 for what a repeated and a missing time mean.
The zones have changes of an hour and of half an hour, of the northern and southern half of the world, at midnight, and
rules that were given up inside the ten years (Sao Paulo 2019, Amman 2022).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.ingest.test_clock import log

ZONES = (
    "Europe/Berlin",
    "Europe/London",
    "America/New_York",
    "America/Sao_Paulo",
    "America/St_Johns",
    "Australia/Sydney",
    "Australia/Lord_Howe",
    "Asia/Amman",
)
FIRST, YEARS = 2016, 10
MINUTE = timedelta(minutes=1)


def changes(zone: str) -> list[tuple[datetime, timedelta]]:
    """UTC moments at which the offset of a zone changes, to the minute, and by how much, from zoneinfo alone."""
    info, found = ZoneInfo(zone), []
    at, end = datetime(FIRST, 1, 1, tzinfo=UTC), datetime(FIRST + YEARS, 1, 1, tzinfo=UTC)

    def offset(moment: datetime) -> timedelta:
        return moment.astimezone(info).utcoffset() or timedelta(0)

    while at < end:
        if offset(at) != offset(at + timedelta(hours=6)):
            low, high = at, at + timedelta(hours=6)
            while high - low > MINUTE:
                middle = low + MINUTE * ((high - low) // MINUTE // 2)
                low, high = (middle, high) if offset(middle) == offset(at) else (low, middle)
            found.append((high, offset(high) - offset(low)))
        at += timedelta(hours=6)
    return found


@pytest.mark.parametrize("zone", ZONES)
def test_rows_through_every_change_come_out_at_their_instants(tmp_path: Path, zone: str) -> None:
    info, there = ZoneInfo(zone), changes(zone)
    assert len(there) >= 6 and {by > timedelta(0) for _, by in there} == {True, False}
    for number, (moment, by) in enumerate(there):
        stamps = [moment + MINUTE * i for i in range(-150, 150)]
        texts = [f"{one.astimezone(info):%Y-%m-%d %H:%M:%S}" for one in stamps]
        twice = len(texts) - len(set(texts))
        assert twice == max(0, -int(by / MINUTE))
        folder = tmp_path / str(number)
        folder.mkdir()
        cells, account, _ = log(folder, texts, time_zone=zone, cadence_s=60.0)
        assert list(cells) == [int(one.timestamp()) * 10**9 for one in stamps], moment
        assert (account.rows_set_aside, account.duplicates, account.gap_count) == (0, 0, 0)
        assert any("put back" in one for one in account.assumptions) == (by < timedelta(0))


@pytest.mark.parametrize("zone", ZONES)
def test_times_that_the_clock_skipped_are_set_aside(tmp_path: Path, zone: str) -> None:
    """A logger that was never told of the change writes the hour that was not."""
    info = ZoneInfo(zone)
    for number, (moment, by) in enumerate(one for one in changes(zone) if one[1] > timedelta(0)):
        before = (moment - MINUTE).astimezone(info).replace(tzinfo=None)
        length = int(by / MINUTE)
        texts = [f"{before + MINUTE * i:%Y-%m-%d %H:%M:%S}" for i in range(length + 5)]
        folder = tmp_path / str(number)
        folder.mkdir()
        cells, account, _ = log(folder, texts, time_zone=zone, cadence_s=60.0)
        assert account.set_aside_by_reason == {"local time that does not exist (clock change)": length}, moment
        assert [one.row for one in account.set_aside] == list(range(3, 3 + min(20, length)))
        assert len(cells) == 5
