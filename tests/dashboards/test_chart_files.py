"""Files of a chart: a table in the shown units with both clocks."""

from __future__ import annotations

import csv
import io
from typing import Any

import numpy as np
import pytest

from dashboards.app import create_app
from dashboards.memory_data import MemoryData
from dashboards.overlay import reference
from dashboards.shown_units import Choice
from dashboards.units_menu import COOKIE
from dashboards.urls import beside_table_url, data_url, instant_text, upkeep_table_url
from tests.dashboards.plant import END, SECOND

KEY = "feeder_rate:F4"
T0 = END - 600 * SECOND


@pytest.fixture(scope="module")
def client(data: MemoryData) -> Any:
    return create_app(data).server.test_client


def of(key: str, t0: int, t1: int) -> str:
    """Address of a channel's table over [t0, t1)."""
    return f"{data_url('Line 3', key)}?from={instant_text(t0)}&to={instant_text(t1)}"


def rows_of(reply: Any, part: str = ",") -> list[dict[str, str]]:
    assert reply.status_code == 200 and "attachment" in reply.headers["Content-Disposition"]
    return list(csv.DictReader(io.StringIO(reply.get_data(as_text=True).removeprefix("\ufeff")), delimiter=part))


def test_csv_has_every_reading_with_both_clocks(client: Any, data: MemoryData) -> None:
    rows = rows_of(client().get(of(KEY, T0, END)))
    assert len(rows) == 600
    first = rows[0]
    assert first["time_utc"] == "2026-03-03T06:19:00Z"
    assert first["time_Europe/Madrid"] == "2026-03-03T07:19:00+01:00"
    wanted = data.source.blocks("Line 3", T0, END, (KEY,)).values[0]
    assert np.allclose([float(row["talc T4 rate (kg/h)"]) for row in rows], wanted, rtol=1e-5)
    assert float(first["talc T4 rate, setpoint (kg/h)"]) == pytest.approx(102.2)
    assert float(first["talc T4 rate, low (kg/h)"]) == pytest.approx(102.2 * 0.97, rel=1e-5)
    assert first["phase"] == "steady"


def test_csv_follows_the_choice(client: Any) -> None:
    american = client()
    american.set_cookie(COOKIE, Choice(mass="lb", mark="comma").as_text())
    plain = rows_of(client().get(of(KEY, T0, END)))
    turned = rows_of(american.get(of(KEY, T0, END)), ";")
    value = float(turned[7]["talc T4 rate (lb/h)"].replace(",", "."))
    assert value == pytest.approx(float(plain[7]["talc T4 rate (kg/h)"]) * 2.2046226, rel=1e-4)


def test_a_gap_is_an_empty_field(client: Any, data: MemoryData) -> None:
    start = data.span("Line 3")[0] + 3000 * SECOND
    rows = rows_of(client().get(of(KEY, start, start + 60 * SECOND)))
    assert {row["talc T4 rate (kg/h)"] for row in rows} == {""}


def test_derived_quantities_have_a_file_too(client: Any) -> None:
    rows = rows_of(client().get(of("share:F4", T0, END)))
    assert len(rows) == 60


def test_upkeep_gives_what_its_chart_shows(client: Any, data: MemoryData) -> None:
    rows = rows_of(client().get(upkeep_table_url("Line 3/zone:Z9", "days")))
    assert len(rows) == 180 and rows[0]["time_Europe/Madrid"].endswith("+01:00")
    block = data.source.blocks("Line 3", T0, T0 + 60 * SECOND, ("zone_output:Z9",))
    row = next(row for row in rows if row["time_utc"] == instant_text(T0 + 30 * SECOND))
    for name, of_minute in (("mean", np.mean), ("lowest", np.min), ("highest", np.max)):
        assert float(row[f"Z9 heat and cool output, {name} (%)"]) == pytest.approx(of_minute(block.values[0]), rel=1e-4)
    assert float(row["Z9 temperature, set (°C)"]) == 209
    address = f"{upkeep_table_url('Line 3/zone:Z9', 'days')}&from={instant_text(T0)}&to={instant_text(END)}"
    assert len(rows_of(client().get(address))) == 10


def test_upkeep_in_the_units_chosen(client: Any) -> None:
    american = client()
    american.set_cookie(COOKIE, Choice(temperature="F").as_text())
    rows = rows_of(american.get(upkeep_table_url("Line 3/zone:Z9", "days")))
    assert float(rows[0]["Z9 temperature, set (°F)"]) == pytest.approx(209 * 1.8 + 32, rel=1e-5)


def test_runs_laid_over_each_other_have_a_table(client: Any, data: MemoryData) -> None:
    lots = {lot.number: lot for lot in data.lots("Line 3")}
    state = {"channel": "torque", "beside": reference(lots["4416"]), "over": "kg"}
    rows = rows_of(client().get(beside_table_url("Line 3", "4417", **state)))
    assert {row["lot"] for row in rows} == {"4416", "4417"}
    assert max(float(row["kg fed since the lot began"]) for row in rows) == pytest.approx(1000, rel=0.1)
    short = rows_of(client().get(beside_table_url("Line 3", "4417", **state) + "&from=100&to=200"))
    assert 0 < len(short) < len(rows) and all(100 <= float(row["kg fed since the lot began"]) <= 200 for row in short)


@pytest.mark.parametrize(
    "path",
    [
        "/data/upkeep.csv?item=nothing",
        "/data/upkeep.csv?item=Line%203/zone:Z9&chart=weeks",
        "/data/beside.csv?line=Line%203&lot=0",
        "/data/beside.csv",
    ],
)
def test_no_chart_no_table(client: Any, path: str) -> None:
    assert client().get(path).status_code == 404


@pytest.mark.parametrize(
    "path",
    ["/data/no%20such/torque.csv", "/data/Line%203/nothing.csv", "/data/Line%203/torque.exe", "/data/Line%203/torque"],
)
def test_what_is_not_there_is_not_found(client: Any, path: str) -> None:
    assert client().get(path).status_code == 404


@pytest.mark.parametrize("asked", ["?from=rubbish&to=", "?from=2030-01-01T00:00:00Z", "?to=1999-01-01T00:00:00Z"])
def test_any_stretch_answers(client: Any, asked: str) -> None:
    assert client().get("/data/Line%203/torque.csv" + asked).status_code == 200
