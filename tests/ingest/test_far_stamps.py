"""Wrong stamps far in the future: one, a burst, several bursts, at the start of a log and at the end of a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from ingest.clock import LOOK_AHEAD_ROWS
from tests.ingest.plain_log import mapping, read, same_blocks
from tests.ingest.test_clock import HEADER, ONE, log

GOOD = [f"2026-03-06 10:{i // 60:02d}:{i % 60:02d}" for i in range(1200)]
FAR = "stamp is far ahead of its neighbours"


def damaged(bursts: dict[int, int], year: str = "2036") -> list[str]:
    """GOOD with so many rows from a place on in another year."""
    texts = list(GOOD)
    for place, count in bursts.items():
        for i in range(place, place + count):
            texts[i] = year + texts[i][4:]
    return texts


@pytest.mark.parametrize("bursts", [{100: 2}, {0: 3}, {100: 60}, {5: 1, 50: 7, 300: 200}, {0: 400}, {700: 499}])
def test_bursts_are_set_aside_and_nothing_else(tmp_path: Path, bursts: dict[int, int]) -> None:
    cells, account, _ = log(tmp_path, damaged(bursts))
    count = sum(bursts.values())
    assert account.set_aside_by_reason == {FAR: count}
    assert len(cells) == len(GOOD) - count
    first = min(bursts)
    assert account.set_aside[0].row == first + 2


def test_a_burst_longer_than_is_looked_at_is_taken_for_the_clock(tmp_path: Path) -> None:
    _, account, _ = log(tmp_path, damaged({100: LOOK_AHEAD_ROWS + 100}))
    assert account.rows_read == account.rows_accepted + account.rows_set_aside == len(GOOD)
    assert account.set_aside_by_reason["clock runs backwards"] == len(GOOD) - 100 - LOOK_AHEAD_ROWS - 100


def test_pieces_do_not_show(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    texts = damaged({0: 2, 50: 7, 300: 90})[:600]
    path.write_text(HEADER + "".join(f"{stamp},{i}\n" for i, stamp in enumerate(texts)))
    whole, account = read(path, mapping(channels=ONE))
    for size in (1, 77, 4000):
        blocks, other = read(path, mapping(channels=ONE), block_bytes=size)
        assert same_blocks(whole, blocks)
        assert other.as_dict() == account.as_dict()


def test_at_the_end_of_a_file_the_next_one_tells(tmp_path: Path) -> None:
    texts = damaged({590: 10})
    paths = [tmp_path / "a.csv", tmp_path / "b.csv"]
    for path, some in zip(paths, (texts[:600], texts[600:]), strict=True):
        path.write_text(HEADER + "".join(f"{stamp},1\n" for stamp in some))
    _, account = read(paths, mapping(channels=ONE))
    assert account.set_aside_by_reason == {FAR: 10}
    assert [(one.rows, one.rows_accepted, one.set_aside_by_reason) for one in account.files] == [
        (600, 590, {FAR: 10}),
        (600, 600, {}),
    ]


@pytest.mark.parametrize("zone", ["UTC", "Asia/Shanghai", "America/New_York"])
def test_a_real_step_back_is_no_burst(tmp_path: Path, zone: str) -> None:
    """Set back by three hours after ten minutes: what stood before it is right, wherever the plant is."""
    texts = [*GOOD[:600], *(stamp.replace(" 10:", " 07:") for stamp in GOOD[600:])]
    _, account, _ = log(tmp_path, texts, time_zone=zone)
    assert account.set_aside_by_reason == {"clock runs backwards": 600}
    assert account.clock_steps[0].row == 602


def test_a_stop_of_hours_is_no_burst(tmp_path: Path) -> None:
    texts = [*GOOD[:600], *(stamp.replace(" 10:", " 16:") for stamp in GOOD[600:])]
    _, account, _ = log(tmp_path, texts)
    assert account.rows_set_aside == 0
    assert account.gap_count == 1
