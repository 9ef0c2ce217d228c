"""The list of what stands on a long page, in a real browser: every place is there, by pointer, key and address."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from dashboards.memory_data import MemoryData
from dashboards.urls import lot_url
from tests.dashboards.in_browser import MARKS, Visit, served
from tests.dashboards.lines import twin
from tests.dashboards.lots_world import nine_lots
from tests.dashboards.test_alarm_states import Clock

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = MARKS
LOT = lot_url("Line 3", "4417")
PLACES = {LOT: "Lot 4417", "/upkeep": "Upkeep"}
STILL_MS = 700
OWN_WINDOW = "/* a window that no other test was in */"
TOP = "id => Math.round(document.getElementById(id).getBoundingClientRect().top)"
THERE = """id => {
  const top = document.getElementById(id)?.getBoundingClientRect().top, end = document.documentElement.scrollHeight - 2;
  return -2 <= top && (top <= 14 || (window.innerHeight + window.scrollY >= end && top < window.innerHeight));
}"""


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served(MemoryData([twin()], clock=Clock())) as found:
        yield found


def arrived(page: Page, place: str) -> None:
    """The place comes to stand at the top of the window, or in it where the page is at its end."""
    page.wait_for_function(THERE, arg=place)


@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("path", PLACES)
def test_every_section_is_in_the_list_and_reached_by_it(browser: Browser, address: str, path: str, width: int) -> None:
    visit = Visit(browser, address, width)
    page = visit.open(path, PLACES[path])
    page.wait_for_selector("#account, #checks")
    links = page.eval_on_selector_all(".contents a", "all => all.map(a => a.getAttribute('href').slice(1))")
    begins = page.evaluate("() => document.querySelector('.contents').getBoundingClientRect().top")
    assert begins < 700, "in the first screen"
    if path == LOT:
        headings = page.eval_on_selector_all("#page .row > h2", "all => all.map(h => h.closest('[id]').id)")
        # Containers stand under what is touched, and are named with it.
        assert set(headings) - {"lot-held"} <= set(links), "a section that the list does not name"
    tops = [page.evaluate(f"id => ({TOP})(id) + window.scrollY", link) for link in links]
    if width == 390 or path == LOT:
        assert tops == sorted(tops), "the list is in the order of the page"
    for link in links:
        page.click(f".contents a[href='#{link}']")
        arrived(page, link)
    assert page.url.endswith(f"#{links[-1]}")
    assert not visit.wrong
    visit.leave()


@pytest.mark.parametrize(("path", "place"), [(LOT, "raw"), (LOT, "account"), ("/upkeep", "checks")])
def test_an_address_with_a_place_opens_there(browser: Browser, address: str, path: str, place: str) -> None:
    """The section is there only after the first answers, which also move it."""
    visit = Visit(browser, address, 820)
    page = visit.open(f"{path}#{place}", PLACES[path])
    page.wait_for_selector("#account, #checks")
    arrived(page, place)
    page.wait_for_timeout(STILL_MS)
    arrived(page, place)

    page.keyboard.press("Home")  # whoever moves is not taken back
    page.wait_for_timeout(STILL_MS)
    assert page.evaluate("() => window.scrollY") == 0
    visit.leave()


def test_by_keyboard_a_place_is_reached_and_the_next_stop_is_in_it(browser: Browser, address: str) -> None:
    visit = Visit(browser, address)
    page = visit.open(LOT, "Lot 4417")
    page.wait_for_selector("#account")
    page.focus(".contents a[href='#raw']")
    page.keyboard.press("Enter")
    arrived(page, "raw")
    page.keyboard.press("Tab")
    assert page.evaluate("() => !!document.activeElement.closest('#raw')")
    page.go_back()
    page.wait_for_timeout(STILL_MS)
    assert page.url.endswith("/4417") and page.evaluate("() => window.scrollY") < 200
    visit.leave()


def test_a_part_that_is_chosen_on_a_telephone_shows_its_evidence(browser: Browser, address: str) -> None:
    visit = Visit(browser, address, 390)
    page = visit.open("/upkeep", "Upkeep")
    page.wait_for_selector(".entry.on")
    page.locator(".entry:not(.on)").first.click()
    page.wait_for_function("() => location.search.includes('item=')")
    arrived(page, "evidence")
    visit.leave()


def test_lots_laid_over_each_other_are_what_is_shown_first(browser: Browser) -> None:
    with served(nine_lots()) as address:
        visit = Visit(browser, address, script=OWN_WINDOW)
        page = visit.open("/lots", "Lots")
        for chosen in (1, 2):
            page.locator("a.tick", has_text="☐").first.click()
            page.locator("a.tick", has_text="☑").nth(chosen - 1).wait_for()
        page.click("text=Lay them over each other")
        page.wait_for_selector("#lot-beside-chart .main-svg")
        arrived(page, "others")
        visit.context.close()
