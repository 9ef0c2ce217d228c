"""Whatever way a plant writes its log, the same cells come out."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from tests.ingest.plain_log import (
    START,
    Row,
    Style,
    cells_of,
    expected_cells,
    mapping,
    nanoseconds,
    read,
    same_blocks,
    steady,
    time_names,
    write_csv,
    write_parquet,
)

DELIMITERS = (",", ";", "\t", "|")
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252")
TIMES = (
    "iso",
    "iso T offset",
    "iso Z",
    "iso milliseconds",
    "day first",
    "month first am pm",
    "month by name",
    "date and time",
    "epoch s",
    "epoch ms",
    "epoch us",
)


@pytest.mark.parametrize("packed", [False, True], ids=["plain", "gzip"])
@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("decimal", [".", ","], ids=["point", "comma"])
@pytest.mark.parametrize("delimiter", DELIMITERS, ids=["comma", "semicolon", "tab", "bar"])
def test_dialects(tmp_path: Path, delimiter: str, decimal: str, encoding: str, packed: bool) -> None:
    rows = steady(40)
    style = Style(delimiter, decimal, encoding, packed=packed, line_end="\r\n")
    blocks, account = read(write_csv(tmp_path / "log.csv", rows, style=style))
    assert cells_of(blocks) == expected_cells(rows, mapping())
    assert (account.rows_read, account.rows_accepted) == (40, 40)


@pytest.mark.parametrize("zone", ["UTC", "Europe/Madrid", "America/New_York", "Asia/Kolkata"])
@pytest.mark.parametrize("time", TIMES)
def test_times(tmp_path: Path, time: str, zone: str) -> None:
    rows = steady(30, step_ms=1000)
    style = Style(";", ",", time=time, zone=zone)
    line = mapping(time_zone=zone, time_columns=time_names(style))
    blocks, account = read(write_csv(tmp_path / "log.csv", rows, style=style), line)
    assert cells_of(blocks) == expected_cells(rows, line)
    assert account.rows_accepted == 30


@pytest.mark.parametrize("time", TIMES)
def test_the_time_is_found_by_looking(tmp_path: Path, time: str) -> None:
    rows = steady(30)
    path = write_csv(tmp_path / "log.csv", rows, style=Style(time=time))
    blocks, account = read(path, mapping(time_columns=()))
    assert cells_of(blocks) == expected_cells(rows, mapping())
    assert any("taken from column" in sentence for sentence in account.assumptions)


@pytest.mark.parametrize(
    "changes",
    [
        {"preamble": ("Line 1, extruder log", "", "printed 06.03.2026")},
        {"preamble": ("a;b;c",), "delimiter": ";"},
        {"units": True},
        {"quote": True},
        {"quote": True, "decimal": ",", "delimiter": ","},
        {"line_end": "\r"},
        {"line_end": "\r\n", "last_line_end": False},
        {"none": "---"},
        {"none": "n/a"},
    ],
    ids=lambda changes: " ".join(map(str, changes)),
)
def test_things_around_the_table(tmp_path: Path, changes: dict[str, object]) -> None:
    rows = steady(30)
    rows[7] = (rows[7][0], {**rows[7][1], "T1": None})
    path = write_csv(tmp_path / "log.csv", rows, style=Style(**changes))  # type: ignore[arg-type]
    blocks, account = read(path)
    assert cells_of(blocks) == expected_cells(rows, mapping())
    assert account.rows_read == account.rows_accepted == 30


def test_a_last_row_without_line_end_is_said(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "log.csv", steady(5), style=Style(last_line_end=False))
    _, account = read(path)
    assert [s for s in account.assumptions if "no line end" in s and "(6)" in s]


# '1,125' alone may be a thousand or not: what the reader makes of it is asserted elsewhere.
# So are numbers that stand for 'no reading' (test_channel_character.py).
_NONE = {*(32767, 32766, 65535, 65534, 9999, 9999.9, 99999, 999999, 3276.7, 3276.6, 6553.5, 6553.4), *(999, 999.9)}
_NONE |= {-one for one in _NONE} | {-32768, -3276.8, -327.68, -999.25, -999.99}
number = st.floats(-1e6, 1e6, allow_nan=False).filter(lambda one: one not in _NONE)
number = number | st.integers(-400, 4000).map(lambda i: i / 4)
value = st.none() | number.filter(lambda one: not re.fullmatch(r"-?[1-9]\d{0,2}\.\d{3}", repr(one)))


@st.composite
def logs(draw: st.DrawFn) -> list[Row]:
    """Rows at uneven steps in milliseconds, some a little late, some at one stamp, some empty."""
    at = nanoseconds(START)
    rows: list[Row] = []
    for step in draw(
        st.lists(st.integers(-9000, 20000) | st.sampled_from([0, 1000, 1000, 1000]), min_size=1, max_size=60)
    ):
        at = max(at, nanoseconds(START)) + max(step, 0) * 1_000_000
        stamp = at + min(step, 0) * 1_000_000
        rows.append((stamp, {name: draw(value) for name in ("T1", "P die", "SP1")}))
    return rows


styles = st.builds(
    Style,
    delimiter=st.sampled_from(DELIMITERS),
    decimal=st.sampled_from([".", ","]),
    encoding=st.sampled_from(ENCODINGS),
    time=st.sampled_from(
        ["iso milliseconds", "iso T offset", "iso Z", "day first", "date and time", "epoch s", "epoch ms"]
    ),
    zone=st.sampled_from(["UTC", "Europe/Berlin", "America/Chicago"]),
    line_end=st.sampled_from(["\n", "\r\n"]),
    units=st.booleans(),
    quote=st.booleans(),
    packed=st.booleans(),
    none=st.sampled_from(["", "NaN", "n/a", "---", "Bad", "#N/A", "null"]),
)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows=logs(), style=styles, cadence_s=st.sampled_from([0.5, 1.0, 7.0]))
@example(rows=steady(3), style=Style(decimal=",", delimiter=","), cadence_s=1.0)
def test_any_log(rows: list[Row], style: Style, cadence_s: float) -> None:
    line = mapping(time_zone=style.zone, cadence_s=cadence_s, time_columns=time_names(style))
    with tempfile.TemporaryDirectory() as folder:
        path = write_csv(Path(folder) / "log.csv", rows, style=style)
        blocks, account = read(path, line)
    assert account.rows_read == account.rows_accepted + account.rows_set_aside == len(rows)
    newest, late = rows[0][0], []
    for ns, _ in rows:
        late.append(ns < newest - 10 * 10**9)
        newest = max(newest, ns)
    assert account.set_aside_by_reason.get("clock runs backwards", 0) == sum(late)
    kept = [row for row, behind in zip(rows, late, strict=True) if not behind]
    assert cells_of(blocks) == expected_cells(kept, line)


@settings(max_examples=60, deadline=None)
@given(rows=logs(), group=st.integers(1, 40))
def test_csv_and_parquet_give_equal_blocks(rows: list[Row], group: int) -> None:
    typed = [(ns, {k: None if v is None else float(v) for k, v in values.items()}) for ns, values in rows]  # type: ignore[arg-type]
    with tempfile.TemporaryDirectory() as folder:
        csv = write_csv(Path(folder) / "log.csv", typed, style=Style(time="iso milliseconds"))
        parquet = write_parquet(Path(folder) / "log.parquet", typed, group=group)
        (one, first), (other, second) = read(csv), read(parquet)
    assert same_blocks(one, other)
    assert first.rows_accepted == second.rows_accepted
    assert first.set_aside_by_reason == second.set_aside_by_reason
    assert (first.duplicates, first.out_of_order) == (second.duplicates, second.out_of_order)
