"""Dates by week and by day of the year, against the calendar of the standard library."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from ingest.stamp_text import ORDINAL_DATE, WEEK_DATE, StampForm, decode, form_of_format
from tests.ingest.plain_log import cells_of, expected_cells, mapping, moment, read, steady

WAYS: dict[str, Callable[[datetime], str]] = {
    "week": lambda at: "{}-W{:02d}-{}".format(*at.isocalendar()),
    "week, short": lambda at: "{}W{:02d}{}".format(*at.isocalendar()),
    "ordinal": lambda at: f"{at:%Y-%j}",
}


@pytest.mark.parametrize(
    ("way", "form"),
    [("week", WEEK_DATE), ("week, short", WEEK_DATE), ("ordinal", ORDINAL_DATE), ("week", form_of_format("%G-W%V-%u")),
     ("ordinal", form_of_format("%Y-%j"))],
)  # fmt: skip
def test_every_day_from_1980_to_2100(way: str, form: StampForm) -> None:
    start = datetime(1980, 1, 1, tzinfo=UTC)
    days = [start + i * timedelta(days=1) for i in range((date(2100, 1, 1) - date(1980, 1, 1)).days)]
    ns, ok, zoned = decode(pa.array([WAYS[way](day) for day in days]), form)
    assert ok.all() and not zoned.any()
    assert np.array_equal(ns, [round(day.timestamp()) * 10**9 for day in days])


@pytest.mark.parametrize("text", ["2026-W54-1", "2025-W53-1", "2026-W00-1", "2026-W10-0", "2026-W10-8", "2026-W10"])
def test_weeks_that_do_not_exist(text: str) -> None:
    assert not decode(pa.array([text]), WEEK_DATE)[1].any()


@pytest.mark.parametrize("text", ["2025-366", "2026-000", "2024-367", "2026-21"])
def test_days_that_do_not_exist(text: str) -> None:
    assert not decode(pa.array([text]), ORDINAL_DATE)[1].any()
    assert decode(pa.array(["2024-366"]), ORDINAL_DATE)[1].all()


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("between", [" ", "T", ";"])
def test_a_log_over_new_year(tmp_path: Path, way: str, between: str) -> None:
    rows = steady(400, 60_000, datetime(2026, 12, 31, 21, tzinfo=UTC))
    head = "Date;Time" if between == ";" else "Time"
    lines = [f"{head};T1;P die;SP1"]
    for ns, values in rows:
        cells = ";".join(str(values[name]) for name in ("T1", "P die", "SP1"))
        lines.append(f"{WAYS[way](moment(ns))}{between}{moment(ns):%H:%M:%S};{cells}")
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    of = mapping(time_columns=(), cadence_s=60.0)
    blocks, account = read(path, of)
    assert account.rows_accepted == 400
    assert cells_of(blocks) == expected_cells(rows, of)
