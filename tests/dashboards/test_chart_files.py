"""Files of a chart: a table in the shown units with both clocks, and a drawing that stands alone."""

from __future__ import annotations

import csv
import io
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from dashboards.app import create_app
from dashboards.files_of import data_url
from dashboards.memory_data import MemoryData
from dashboards.shown_units import Choice
from dashboards.units_menu import COOKIE
from tests.dashboards.plant import END, SECOND

KEY = "feeder_rate:F4"
T0 = END - 600 * SECOND


@pytest.fixture(scope="module")
def client(data: MemoryData) -> Any:
    return create_app(data).server.test_client


def rows_of(reply: Any, part: str = ",") -> list[dict[str, str]]:
    assert reply.status_code == 200 and "attachment" in reply.headers["Content-Disposition"]
    return list(csv.DictReader(io.StringIO(reply.get_data(as_text=True).removeprefix("\ufeff")), delimiter=part))


def test_csv_has_every_reading_with_both_clocks(client: Any, data: MemoryData) -> None:
    rows = rows_of(client().get(data_url("Line 3", KEY, T0, END, "csv")))
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
    plain = rows_of(client().get(data_url("Line 3", KEY, T0, END, "csv")))
    turned = rows_of(american.get(data_url("Line 3", KEY, T0, END, "csv")), ";")
    value = float(turned[7]["talc T4 rate (lb/h)"].replace(",", "."))
    assert value == pytest.approx(float(plain[7]["talc T4 rate (kg/h)"]) * 2.2046226, rel=1e-4)


def test_a_gap_is_an_empty_field(client: Any, data: MemoryData) -> None:
    start = data.span("Line 3")[0] + 3000 * SECOND
    rows = rows_of(client().get(data_url("Line 3", KEY, start, start + 60 * SECOND, "csv")))
    assert {row["talc T4 rate (kg/h)"] for row in rows} == {""}


def test_derived_quantities_have_a_file_too(client: Any) -> None:
    rows = rows_of(client().get(data_url("Line 3", "share:F4", T0, END, "csv")))
    assert len(rows) == 60


def test_svg_stands_alone(client: Any) -> None:
    reply = client().get(data_url("Line 3", KEY, T0, END, "svg", look="dark"))
    assert reply.mimetype == "image/svg+xml"
    text = reply.get_data(as_text=True)
    ElementTree.fromstring(text)
    assert "<style>" in text and "var(--" not in text


@pytest.mark.parametrize(
    "path",
    ["/data/no%20such/torque.csv", "/data/Line%203/nothing.csv", "/data/Line%203/torque.exe", "/data/Line%203/torque"],
)
def test_what_is_not_there_is_not_found(client: Any, path: str) -> None:
    assert client().get(path).status_code == 404


@pytest.mark.parametrize("asked", ["?from=rubbish&to=", "?from=2030-01-01T00:00:00Z", "?to=1999-01-01T00:00:00Z"])
def test_any_stretch_answers(client: Any, asked: str) -> None:
    assert client().get("/data/Line%203/torque.csv" + asked).status_code == 200
