"""Every chart by keyboard and by button: pan, zoom, whole; the read-out; what is shown as CSV, PNG and SVG."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import pytest

from dashboards import ids
from dashboards.memory_data import MemoryData
from dashboards.overlay import reference
from dashboards.urls import live_url, lot_url, upkeep_url
from tests.dashboards.in_browser import MARKS, Visit

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = MARKS
HOUR_MS = 3_600_000
RANGE = """id => document.getElementById(id).querySelector('.js-plotly-plot').layout.xaxis.range
  .map(v => typeof v === 'number' ? v : Date.parse(String(v).replace(' ', 'T') + 'Z'))"""


@pytest.fixture
def visit(browser: Browser, address: str) -> Iterator[Visit]:
    made = Visit(browser, address)
    yield made
    made.leave()
    assert made.wrong == []


def pages(data: MemoryData) -> dict[str, tuple[str, str]]:
    """Address and heading of a page with each chart."""
    other = next(lot for lot in data.lots("Line 3") if lot.number == "4416")
    return {
        ids.LIVE_CHART: (live_url("Line 3", channel="torque"), "Line 3"),
        ids.LOT_CHART: (lot_url("Line 3", "4417", channel="torque"), "Lot 4417"),
        ids.LOT_BESIDE_CHART: (lot_url("Line 3", "4417", channel="torque", beside=reference(other)), "Lot 4417"),
        ids.UPKEEP_CHART: (upkeep_url(item="Line 3/zone:Z9"), "Upkeep"),
    }


def drawn(visit: Visit, data: MemoryData, chart: str) -> Page:
    """The page with the chart, once it is drawn."""
    page = visit.open(*pages(data)[chart])
    page.wait_for_selector(f"#{chart} .main-svg", state="attached")
    page.wait_for_function(  # not the words that stand in its place until it comes
        "id => (document.querySelector(`#${id} .js-plotly-plot`)?.data ?? []).length > 0", arg=chart
    )
    page.wait_for_function(f"id => ({RANGE})(id)[1] > ({RANGE})(id)[0]", arg=f"{chart}-hold")
    visit.rest(150)
    return page


def across(page: Page, chart: str) -> list[float]:
    return page.evaluate(RANGE, f"{chart}-hold")


def pressed(visit: Visit, chart: str, key: str) -> list[float]:
    """Presses a key on the chart and waits until it has moved and stands still."""
    page = visit.page
    before = across(page, chart)
    page.focus(f"#{chart}-hold")
    page.keyboard.press(key)
    moved = "([id, was]) => { const now = (RANGE)(id); return now[0] !== was[0] || now[1] !== was[1]; }"
    page.wait_for_function(moved.replace("RANGE", RANGE), arg=[f"{chart}-hold", before])
    visit.rest(250)
    return across(page, chart)


@pytest.mark.parametrize("chart", [ids.LIVE_CHART, ids.LOT_CHART, ids.LOT_BESIDE_CHART, ids.UPKEEP_CHART])
def test_keys_move_every_chart(visit: Visit, data: MemoryData, chart: str) -> None:
    page = drawn(visit, data, chart)
    whole = across(page, chart)
    width = whole[1] - whole[0]

    near = pressed(visit, chart, "+")
    assert near[1] - near[0] == pytest.approx(width / 2, rel=0.01)
    assert (near[0] + near[1]) / 2 == pytest.approx((whole[0] + whole[1]) / 2, abs=width * 0.01)
    assert page.evaluate("document.activeElement.id") == f"{chart}-hold"
    earlier = pressed(visit, chart, "ArrowLeft")
    assert near[0] - earlier[0] == pytest.approx(width / 8, rel=0.02)
    later = pressed(visit, chart, "ArrowRight")
    assert later == pytest.approx(near, abs=width * 0.002)
    assert pressed(visit, chart, "-")[0] == pytest.approx(whole[0], abs=width * 0.01)
    pressed(visit, chart, "+")
    assert pressed(visit, chart, "0") == pytest.approx(whole, abs=width * 0.01)
    pressed(visit, chart, "+")
    assert pressed(visit, chart, "Home") == pytest.approx(whole, abs=width * 0.01)


def test_keys_are_named_beside_the_chart_that_has_the_focus(visit: Visit, data: MemoryData) -> None:
    page = drawn(visit, data, ids.LIVE_CHART)
    words = page.locator(f"#{ids.LIVE_CHART}-keys")
    assert not words.is_visible()
    page.focus(f"#{ids.LIVE_CHART}-hold")
    assert words.is_visible() and "Arrow keys" in words.inner_text() and "Home" in words.inner_text()


def test_a_stretch_of_the_live_chart_stays_while_readings_come(visit: Visit, data: MemoryData) -> None:
    """It stands in the address, reaches back beyond the hour, and one link leads back."""
    page = drawn(visit, data, ids.LIVE_CHART)
    hour = across(page, ids.LIVE_CHART)
    far = pressed(visit, ids.LIVE_CHART, "ArrowLeft")
    assert hour[0] - far[0] == pytest.approx(HOUR_MS / 4, rel=0.01)
    assert "from=2026-03-03T05:14" in page.url
    page.wait_for_timeout(2500)
    assert across(page, ids.LIVE_CHART) == far
    page.click("text=back to the last hour")
    page.wait_for_function("!location.search.includes('from=')")
    page.wait_for_timeout(1500)
    assert across(page, ids.LIVE_CHART)[1] == pytest.approx(hour[1], abs=5000)


def test_the_read_out_is_in_plant_time_and_shown_units(visit: Visit, data: MemoryData) -> None:
    page = drawn(visit, data, ids.UPKEEP_CHART)
    pressed(visit, ids.UPKEEP_CHART, "+")
    said = page.locator(".chart-frame .chart-said").first.inner_text()
    found = re.match(r"3 Mar 05:\d\d:\d\d to 3 Mar 06:\d\d:\d\d UTC\+1, Europe/Madrid: lowest ([\d.]+), highest", said)
    assert found, said
    assert said.endswith("%") and 5 < float(found.group(1)) < 20


@pytest.mark.parametrize("chart", [ids.LIVE_CHART, ids.LOT_CHART, ids.LOT_BESIDE_CHART, ids.UPKEEP_CHART])
def test_what_is_shown_is_given_away(visit: Visit, data: MemoryData, chart: str, tmp_path: Path) -> None:
    page = drawn(visit, data, chart)
    pressed(visit, chart, "+")
    shown = across(page, chart)
    saved: dict[str, Path] = {}
    for kind in ("csv", "png", "svg"):
        with page.expect_download() as caught:
            page.click(f".chart-frame:has(#{chart}) [data-do={kind}]")
        saved[kind] = tmp_path / caught.value.suggested_filename
        assert saved[kind].suffix == f".{kind}"
        caught.value.save_as(saved[kind])
    rows = list(csv.DictReader(io.StringIO(saved["csv"].read_text(encoding="utf-8-sig"))))
    places = [place_of(row) for row in rows]
    wide = (shown[1] - shown[0]) * 0.02
    assert len(rows) > 20 and shown[0] - wide <= min(places) and max(places) <= shown[1] + wide
    assert max(places) - min(places) > 0.9 * (shown[1] - shown[0])
    assert saved["png"].read_bytes().startswith(b"\x89PNG") and saved["png"].stat().st_size > 5000
    drawing = ElementTree.fromstring(saved["svg"].read_text(encoding="utf-8"))
    text = " ".join("".join(node.itertext()) for node in drawing.iter("{http://www.w3.org/2000/svg}text"))
    assert ("torque" if chart != ids.UPKEEP_CHART else "zone Z9") in text


LEGEND = ".chart-frame:has(#{}) .chart-marks span:visible"


def legend(page: Page, chart: str) -> list[str]:
    """What stands under a chart about its marks."""
    return page.locator(LEGEND.format(chart)).all_inner_texts()


@pytest.mark.parametrize("width", [1440, 390])
def test_what_stands_on_the_time_axis_is_told_under_the_chart(visit: Visit, width: int) -> None:
    """Where there is one: the talc ran short in this lot, and nothing is found about the torque."""
    visit.page.set_viewport_size({"width": width, "height": 900})
    page = visit.open(lot_url("Line 3", "4417", channel="feeder_rate:F4"), "Lot 4417")
    page.wait_for_selector(f"#{ids.LOT_CHART} .shapelayer path[style*='stroke-width: 2px']", state="attached")
    page.wait_for_function("document.querySelector('[data-mark=begins].there')")
    assert "a finding begins" in legend(page, ids.LOT_CHART)
    page.goto(visit.address + lot_url("Line 3", "4417", channel="melt_temperature:melt"))
    page.wait_for_function("document.getElementById('lot-chart-title')?.textContent.startsWith('melt temperature')")
    page.wait_for_selector(f"#{ids.LOT_CHART} .main-svg", state="attached")
    page.wait_for_timeout(700)
    assert legend(page, ids.LOT_CHART) == []


def test_a_picture_takes_along_what_its_marks_mean(visit: Visit, tmp_path: Path) -> None:
    page = visit.open(lot_url("Line 3", "4417", channel="feeder_rate:F4"), "Lot 4417")
    page.wait_for_function("document.querySelector('[data-mark=begins].there')")
    with page.expect_download() as caught:
        page.click(f".chart-frame:has(#{ids.LOT_CHART}) [data-do=svg]")
    caught.value.save_as(tmp_path / "chart.svg")
    assert "a finding begins" in (tmp_path / "chart.svg").read_text(encoding="utf-8")


LOOKED = """() => { const ask = document.querySelectorAll.bind(document);
  window.looked = 0;
  document.querySelectorAll = what => { window.looked += what === '.chart-frame'; return ask(what); }; }"""


def test_marks_are_looked_for_when_something_is_drawn_and_not_on_a_page_at_rest(visit: Visit) -> None:
    page = visit.open(lot_url("Line 3", "4417", channel="feeder_rate:F4"), "Lot 4417")
    page.wait_for_function("document.querySelector('[data-mark=begins].there')")
    visit.rest(400)
    page.evaluate(LOOKED)
    page.wait_for_timeout(1500)
    assert page.evaluate("window.looked") == 0
    page.evaluate("() => { for (let i = 0; i < 9; i += 1) document.body.append(document.createElement('i')); }")
    page.wait_for_function("window.looked === 1", timeout=2000)


def place_of(row: dict[str, Any]) -> float:
    """Where a row lies on the axis of its chart: milliseconds of the plant's wall clock, or hours."""
    if "hours since the lot began" in row:
        return float(row["hours since the lot began"])
    import datetime as dt

    local = dt.datetime.fromisoformat(row["time_Europe/Madrid"])
    return local.replace(tzinfo=dt.UTC).timestamp() * 1000
