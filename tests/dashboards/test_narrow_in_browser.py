"""What is wider than a small screen: where a drawing begins, and what must not lie off to the side."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from dashboards import ids
from dashboards.memory_data import MemoryData
from dashboards.urls import live_url, lot_url
from tests.dashboards.in_browser import MARKS, Visit, served
from tests.dashboards.lines import twin
from tests.dashboards.page_states import Ticking, full_plant

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = MARKS
BEGUN = "document.querySelector('.wide:has(.drawing-holder.strip)')?.dataset.begun === 'yes'"
SCROLLED = """() => { const el = document.querySelector('.wide:has(.drawing-holder.strip)');
  return [el.scrollLeft, el.scrollWidth - el.clientWidth]; }"""
IN_SIGHT = """key => { const room = document.querySelector('.wide:has(.drawing-holder.strip)').getBoundingClientRect();
  const box = document.querySelector(`.strip [data-key="${key}"]`).getBoundingClientRect();
  return box.left >= room.left - 1 && box.right <= room.right + 1; }"""
DRIVE, FIRST, LAST = "torque", "feeder_rate:F1", "zone_temperature:Z10"


@pytest.fixture
def narrow(browser: Browser, address: str) -> Iterator[Visit]:
    made = Visit(browser, address, 390)
    yield made
    made.leave()
    assert made.wrong == []


def begun(visit: Visit, path: str) -> Page:
    """The page of Line 3, once its drawing of the barrel has begun somewhere."""
    page = visit.open(path, "Line 3")
    page.wait_for_function(BEGUN)
    return page


def test_the_barrel_begins_at_feeders_and_drive(browser: Browser) -> None:
    """Where nothing is outside."""
    calm = replace(twin(), recipes=[], findings=[])
    with served(MemoryData([calm], clock=Ticking())) as address:
        visit = Visit(browser, address, 390)
        page = begun(visit, live_url("Line 3"))
        at, room = page.evaluate(SCROLLED)
        assert room > 100, "the drawing must be wider than the screen, else this says nothing"
        assert at == 0
        assert page.evaluate(IN_SIGHT, DRIVE) and page.evaluate(IN_SIGHT, FIRST) and not page.evaluate(IN_SIGHT, LAST)
        visit.leave()


def test_the_barrel_begins_at_the_part_that_the_word_is_about(browser: Browser) -> None:
    """P1 at the end of the barrel is what the line is told to act on now."""
    with served(full_plant(Ticking())) as address:
        visit = Visit(browser, address, 390)
        page = visit.open(live_url("Line 7"), "Line 7")
        page.wait_for_function(BEGUN)
        assert page.evaluate(IN_SIGHT, "melt_pressure:P1") and not page.evaluate(IN_SIGHT, DRIVE)
        visit.leave()


def test_the_barrel_begins_at_what_the_address_chooses(narrow: Visit) -> None:
    page = begun(narrow, live_url("Line 3", channel=LAST))
    assert page.evaluate(SCROLLED)[0] > 100
    assert page.evaluate(IN_SIGHT, LAST) and not page.evaluate(IN_SIGHT, DRIVE)


def test_tables_of_a_lot_and_of_lots_need_no_scrolling_sideways(browser: Browser, address: str) -> None:
    """A table that is too wide scrolls in its own frame, so that the page is no wider and nothing else would tell.

    Opened on the smallest screen, which asks most of it, and made wider.
    """
    visit = Visit(browser, address, 390)
    for path, heading, tables in (
        (lot_url("Line 3", "4417"), "Lot 4417", (f"#{ids.AT_COMPOSITION} .table", f"#{ids.AT_PACKED} .table")),
        ("/lots", "Lots", (f"#{ids.LOTS_BODY} .table",)),
    ):
        page = visit.open(path, heading)
        for table in tables:
            page.wait_for_selector(f"{table} td")
        for width in (390, 820, 1110, 1440):
            visit.widen(width)
            for table in tables:
                hidden = page.eval_on_selector_all(table, "all => all.map(el => el.scrollWidth - el.clientWidth)")
                assert max(hidden) <= 1, (table, width)
    visit.leave()


def test_a_lot_of_which_only_the_least_is_known_lies_inside_a_phone(narrow: Visit) -> None:
    page = narrow.open("/lots", "Lots")
    page.wait_for_selector(f"#{ids.LOTS_BODY} .table td")
    page.evaluate(
        "document.querySelectorAll('.lots td:nth-child(3)')"
        ".forEach(td => { td.innerHTML = '<strong>at least 1,343 kg</strong>'; })"
    )
    off = "id => { const el = document.querySelector(`#${id} .table`); return el.scrollWidth - el.clientWidth; }"
    assert page.evaluate(off, ids.LOTS_BODY) <= 1


def test_on_a_phone_all_that_is_outside_is_listed_under_the_word(browser: Browser) -> None:
    """The picture of the line is seen in part; on a wide screen it shows them."""
    with served(full_plant(Ticking())) as address:
        for width in (390, 1440):
            visit = Visit(browser, address, width)
            page = visit.open(live_url("Line 7"), "Line 7")
            page.wait_for_selector(".all-out", state="attached")
            assert page.locator(".all-out").is_visible() == (width == 390)
            if width == 390:
                told = page.inner_text(".all-out").replace("\u202f", " ")
                assert "talc T4 rate 83.9 kg/h, limit 99.1" in told and "P1 melt pressure 1" in told
                assert "limit 64" in told and page.locator(".all-out li").count() == 2
            visit.leave()
