"""Charts of days at one reading a second: small answers, and no reading that stands out is lost, from either store.

How long they take for a month is measured by `python -m tests.benchmarks.chart_speed`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboards.clock import DAY, HOUR, MINUTE
from dashboards.data import JournalData
from dashboards.decimate import STILL_POINTS
from monitor.journal import Journal
from monitor.journal.with_archive import JournalWithArchive
from tests.benchmarks.chart_speed import START, asked, fill, lost

DAYS = 4.0


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("month")
    fill(made, DAYS)
    return made


@pytest.fixture(params=["journal", "archive"])
def door(folder: Path, request: pytest.FixtureRequest) -> Iterator[JournalData]:
    archive = str(folder / "archive")
    with (
        Journal(folder / "full.sqlite", create=False)
        if request.param == "journal"
        else JournalWithArchive(folder / "bare.sqlite", archive, create=False)
    ) as journal:
        yield JournalData(journal, clock=lambda: START + int(DAYS * DAY))


@pytest.mark.parametrize("key", ["melt_pressure:P1", "torque"])
@pytest.mark.parametrize(
    ("offset", "length"), [(0, 4 * DAY), (DAY, 2 * DAY), (DAY, DAY), (5 * HOUR, HOUR), (5 * HOUR, 10 * MINUTE)]
)
def test_small_and_nothing_lost(door: JournalData, key: str, offset: int, length: int) -> None:
    t0, t1 = START + offset, START + offset + length
    reply, chart = asked(door, key, t0, t1, STILL_POINTS)

    assert len(reply) < 200_000 and lost(chart, DAYS, t0, t1) == 0
    assert len(chart.trace.t) <= STILL_POINTS + 2  # type: ignore[attr-defined]
