"""No word of a drawing is cut off by its edge or runs into the next, on a telephone, a tablet and a desk screen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from dashboards.urls import live_url, lot_url, upkeep_url
from tests.dashboards.in_browser import MARKS, Visit, served
from tests.dashboards.page_states import SHORT, Ticking, folders, full_plant
from tests.dashboards.weeks_world import weeks

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = MARKS
CUT = """selector => [...document.querySelectorAll(selector + ' svg text')].filter(text => {
  const box = text.getBoundingClientRect(), sheet = text.ownerSVGElement.getBoundingClientRect();
  return text.textContent && box.width && (box.left < sheet.left - 0.5 || box.right > sheet.right + 0.5);
}).map(text => text.textContent)"""
CROSSED = """selector => [...document.querySelectorAll(selector + ' svg')].flatMap(svg => {
  const all = [...svg.querySelectorAll('text')].filter(text => text.textContent)
    .map(text => [text.textContent, text.getBoundingClientRect()]);
  return all.flatMap(([one, a], i) => all.slice(i + 1).filter(([, b]) => a.left < b.right - 1 && b.left < a.right - 1
    && a.top < b.bottom - 5 && b.top < a.bottom - 5).map(([other]) => one + ' | ' + other));
})"""


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    places = folders(tmp_path_factory.mktemp("words"), empty=False)
    with served(full_plant(Ticking()), places) as address:
        yield address


def shown(visit: Visit, path: str, heading: str, selector: str) -> Page:
    page = visit.open(path, heading)
    page.wait_for_selector(f"{selector} svg text", state="attached")
    page.wait_for_timeout(300)
    return page


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_labels_of_rows_are_whole(browser: Browser, plant: str, width: int) -> None:
    """Also the one that is chosen, in bold, and how pressing a finding is, beside its bar."""
    visit = Visit(browser, plant, width)
    page = shown(visit, live_url("Line 7", channel="melt_pressure:P1"), "Line 7", "#live-sheet")
    assert page.locator("#live-sheet .touch.on text.strong").count() == 1
    assert page.evaluate(CUT, "#live-sheet") == []
    page = shown(visit, lot_url("Line 3", "4417"), "Lot 4417", "#lot-sheet")
    assert page.evaluate(CUT, "#lot-sheet") == []
    visit.leave()


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_figures_of_a_recipe_stand_apart_and_none_is_left_out(browser: Browser, plant: str, width: int) -> None:
    visit = Visit(browser, plant, width)
    page = shown(visit, "/files/recipe.toml", "recipe.toml", ".wide")
    told = page.text_content(".wide svg") or ""
    assert "no limit" in told
    assert page.evaluate(CROSSED, ".wide") == [] and page.evaluate(CUT, ".wide") == []
    visit.leave()


@pytest.mark.parametrize("width", [820, 1440])
def test_figures_of_neighbouring_gauges_stand_apart(browser: Browser, plant: str, width: int) -> None:
    visit = Visit(browser, plant, width)
    page = shown(visit, live_url("Line 7"), "Line 7", "#live-strip")
    gauges = '#live-strip [data-key^="melt_pressure"]'
    assert page.locator(f"{gauges} text.over").count() == 1, "a figure in bold, the widest there is"
    boxes = page.eval_on_selector_all(
        f"{gauges} text", "all => all.map(t => t.getBoundingClientRect()).map(b => [b.left, b.right, b.top])"
    )
    for left, right, top in boxes:
        beside = [b for b in boxes if abs(b[2] - top) < 8 and b[0] >= left and b != [left, right, top]]
        assert all(b[0] - right >= 4 for b in beside)
    frame = page.eval_on_selector(f"{gauges}.on > .hit", "el => [el.getBBox().x, el.getBBox().width]")
    inside = page.eval_on_selector(f"{gauges} text.over", "el => [el.getBBox().x, el.getBBox().width]")
    assert frame[0] <= inside[0] and inside[0] + inside[1] <= frame[0] + frame[1]
    visit.leave()


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_a_title_over_a_chart_of_upkeep_is_whole(browser: Browser, width: int) -> None:
    with served(weeks()) as address:
        visit = Visit(browser, address, width)
        page = visit.open(upkeep_url(item="Line 8/zone:Z2"), "Upkeep")
        page.wait_for_selector("#upkeep-weeks .annotation text")
        page.wait_for_timeout(300)
        assert "set-point" in (page.text_content("#upkeep-weeks .annotation") or "")
        assert page.evaluate(CUT, "#upkeep-weeks") == []
        visit.leave()


def test_a_feeder_outside_its_window_has_one_mark(browser: Browser, plant: str) -> None:
    visit = Visit(browser, plant, 820)
    page = shown(visit, live_url("Line 7"), "Line 7", "#live-strip")
    assert page.locator(f'#live-strip [data-key="{SHORT}"] path.fill.under').count() == 1
    visit.leave()
