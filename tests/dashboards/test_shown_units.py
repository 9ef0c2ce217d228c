"""Units, marks and clocks as a reader chooses them. Conversions after NIST SP 811 (2008), Appendix B.8 and B.9."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.app import create_app
from dashboards.clock import PlantClock
from dashboards.memory_data import MemoryData
from dashboards.names import figure, rate, unit_of
from dashboards.shown_units import AS_INSIDE, CHOICES, Choice, chosen, parted, shown_difference, shown_unit, shown_value
from dashboards.units_menu import COOKIE
from tests.dashboards.plant import END, twin_line

AMERICAN = Choice("F", "psi", "lb", "point", "12", "month")


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    token = chosen.set(AS_INSIDE)
    yield
    chosen.reset(token)


@pytest.mark.parametrize(
    ("unit", "value", "shown", "name"),
    [
        ("C", 100.0, 212.0, "°F"),
        ("C", -40.0, -40.0, "°F"),
        ("bar", 1.0, 14.50377, "psi"),
        ("kg", 1.0, 2.204623, "lb"),
        ("kg/h", 453.59237, 1000.0, "lb/h"),
        ("kWh/kg", 1.0, 0.45359237, "kWh/lb"),
        ("kg/h/rpm", 1.0, 2.204623, "lb/h/rpm"),
        ("bar/h", 2.0, 29.00755, "psi/h"),
        ("C/min", 5.0, 9.0, "°F/min"),
        ("C min", 10.0, 18.0, "°F min"),
        ("mbar", 100.0, 100.0, "mbar"),
        ("rpm", 480.0, 480.0, "rpm"),
        ("%", 20.0, 20.0, "%"),
    ],
)
def test_values_in_other_units(unit: str, value: float, shown: float, name: str) -> None:
    assert shown_value(value, unit) == value
    chosen.set(AMERICAN)
    assert shown_value(value, unit) == pytest.approx(shown, rel=1e-6)
    assert shown_unit(unit) == name


def test_a_difference_of_temperatures_has_no_offset() -> None:
    chosen.set(AMERICAN)
    assert shown_difference(10.0, "C") == pytest.approx(18.0)
    assert np.allclose(shown_value(np.array([0.0, 100.0]), "C"), [32.0, 212.0])


@given(st.text(max_size=40))
def test_any_cookie_gives_a_choice(text: str) -> None:
    choice = Choice.from_text(text)
    assert all(getattr(choice, name) in values for name, values in CHOICES.items())
    assert Choice.from_text(choice.as_text()) == choice


def test_names_follow_the_choice() -> None:
    line = twin_line()
    assert (figure(238.0, "melt_temperature:melt"), unit_of(line, "melt_temperature:melt")) == ("238", "°C")
    chosen.set(Choice("F", "psi", "lb", "comma"))
    assert (figure(238.0, "melt_temperature:melt"), unit_of(line, "melt_temperature:melt")) == ("460", "°F")
    assert (figure(15.3, "feeder_rate:F2"), unit_of(line, "feeder_rate:F2")) == ("33,7", "lb/h")
    assert (figure(56.0, "melt_pressure:P1"), unit_of(line, "melt_pressure:P1")) == ("812", "psi")
    assert rate(10.0) == "22,0"
    assert parted(10800) == "10\u202f800"


def test_a_channel_of_unknown_unit_is_never_turned(data: MemoryData) -> None:
    line = data.line("Line 5")
    assert line is not None
    chosen.set(AMERICAN)
    assert figure(44.0, "melt_pressure:P1", line) == "44"
    chart = data.chart("Line 5", "melt_pressure:P1", END - 7200 * 10**9, END, 100)
    assert np.nanmax(chart.trace.y) == pytest.approx(0.44)


@pytest.mark.parametrize(
    ("choice", "texts"),
    [
        (AS_INSIDE, ("07:29:00", "07:29", "3 Mar 07:29", "3 Mar 2026")),
        (AMERICAN, ("7:29:00\u202fam", "7:29\u202fam", "Mar 3 7:29\u202fam", "Mar 3, 2026")),
    ],
)
def test_clock_and_date(choice: Choice, texts: tuple[str, ...]) -> None:
    chosen.set(choice)
    clock = PlantClock("Europe/Madrid")
    assert (clock.time(END), clock.minute(END), clock.day_minute(END), clock.day(END)) == texts
    noon = END + (4 * 3600 + 31 * 60) * 10**9
    assert clock.minute(noon) == ("12:00" if choice == AS_INSIDE else "12:00\u202fpm")


def test_a_chart_is_whole_in_the_chosen_unit(data: MemoryData) -> None:
    key = "melt_pressure:P1"
    plain = data.chart("Line 3", key, END - 3600 * 10**9, END, 200)
    chosen.set(AMERICAN)
    turned = data.chart("Line 3", key, END - 3600 * 10**9, END, 200)
    factor = 14.503773773
    assert turned.unit == "psi"
    assert np.allclose(turned.trace.y, plain.trace.y * factor, equal_nan=True)
    assert turned.windows[0][2].high == pytest.approx(64 * factor)
    assert turned.limit == pytest.approx(120 * factor)


def _reply(app: Any, cookie: str, path: str) -> str:
    client = app.server.test_client()
    if cookie:
        client.set_cookie(COOKIE, cookie)
    return client.get(path).get_data(as_text=True)


def test_reports_and_files_follow_the_cookie_and_the_next_request_forgets_it(data: MemoryData) -> None:
    app = create_app(data)
    path = "/report/Line%203/4417.html"
    plain, turned = _reply(app, "", path), _reply(app, AMERICAN.as_text(), path)
    assert "°C" in plain and "°F" not in plain
    assert "lb/h" in turned and "°F" in turned
    assert not re.search(
        r"\d ?(?:°C|bar|kg(?!/m³))\b", re.sub(r"<style>.*?</style>", "", turned, flags=re.S).split("caution")[0]
    )
    assert _reply(app, "", path) == plain
