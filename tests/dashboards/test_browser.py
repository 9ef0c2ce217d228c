"""Every page in a real browser: no errors, nothing fetched from elsewhere, stale data admitted.

Needs playwright and a chromium on the path; skipped where one is missing, except on CI, where that is a
failure.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from dashboards.urls import live_url, lot_url
from tests.dashboards.in_browser import MARKS, QUESTIONS, WIDTHS, Visit, served
from tests.dashboards.page_states import SHORT, Ticking, full_plant

if TYPE_CHECKING:
    from playwright.sync_api import Browser

PAGES = {
    "/": "Lines",
    live_url("Line 3"): "Line 3",
    live_url("Line 5"): "Line 5",
    "/lots": "Lots",
    lot_url("Line 3", "4417"): "Lot 4417 on Line 3",
    lot_url("Line 5", ""): "The whole log of Line 5",
    "/upkeep": "Upkeep",
    "/nowhere": "Nothing at this address",
}

pytestmark = MARKS
LEFT = "el => el.getBoundingClientRect().left"


@pytest.fixture
def visit(browser: Browser, address: str, request: pytest.FixtureRequest) -> Iterator[Visit]:
    made = Visit(browser, address, *getattr(request, "param", ()))
    yield made
    made.leave()


@pytest.mark.parametrize("path", PAGES)
def test_page_opens_without_errors_and_fits_every_screen(visit: Visit, path: str) -> None:
    page = visit.open(path, PAGES[path])
    for width in WIDTHS:
        visit.widen(width)
        room = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert room <= 1, f"the page must not scroll sideways at {width}"
    visit.looked()
    assert visit.wrong == []


def test_live_page_names_the_known_finding(visit: Visit) -> None:
    page = visit.open(live_url("Line 3"), "Line 3")
    page.wait_for_selector(".finding")
    assert "Outside" in page.inner_text(".verdict")
    assert "talc T4 delivers 83.8 kg/h" in page.inner_text(".finding")
    assert page.locator('.strip [data-key="feeder_rate:F4"][aria-pressed="true"]').count() == 1
    assert page.locator(".strip .fill.under").count() >= 1


def test_touch_and_keyboard_pick_a_channel_and_the_address_keeps_it(visit: Visit) -> None:
    page = visit.open(live_url("Line 3"), "Line 3")
    page.click('.strip [data-key="zone_temperature:Z4"][role="button"]')
    page.wait_for_url("**channel=zone_temperature:Z4*")
    page.wait_for_function("document.getElementById('live-chart-title')?.textContent.startsWith('Z4 temperature')")
    page.focus('.strip [data-key="vacuum:V1"]')
    page.keyboard.press("Enter")
    page.wait_for_url("**channel=vacuum:V1*")
    assert visit.wrong == [], "before the reload, which may cut a request short"
    page.reload()
    page.wait_for_function("document.getElementById('live-chart-title')?.textContent.startsWith('V1 vacuum')")


def test_focus_survives_ticks(visit: Visit) -> None:
    page = visit.open(live_url("Line 3"), "Line 3")
    page.wait_for_selector('.strip [data-key="torque"]')
    page.focus('.strip [data-key="torque"]')
    page.wait_for_timeout(2500)
    assert page.evaluate("document.activeElement.getAttribute('data-key')") == "torque"


def test_stopped_line_says_so_and_shows_no_figure(visit: Visit) -> None:
    page = visit.open(live_url("Line 5"), "Line 5")
    page.wait_for_selector(".verdict strong")
    assert "No data" in page.inner_text(".verdict")
    assert "no reading for" in page.inner_text("#newest")
    shown = page.evaluate("[...document.querySelectorAll('.strip text')].map(t => t.textContent)")
    assert "190" not in shown and "118" not in shown


def test_page_says_within_seconds_that_answers_stopped(browser: Browser) -> None:
    """As large as the word it takes the place of, with what to do; what is left below is grey."""
    with served(full_plant(Ticking())) as address:
        visit = Visit(browser, address)
        page = visit.open(live_url("Line 3"), "Line 3")
        page.wait_for_selector(".finding")
        assert page.locator("#live-strip").is_visible() and not page.locator(".no-answer").is_visible()
        size = "s => parseFloat(getComputedStyle(document.querySelector(s)).fontSize)"
        large, left = page.evaluate(size, ".verdict strong"), page.eval_on_selector(".verdict", LEFT)
        page.route(QUESTIONS, lambda route: route.abort())
        # both at once: an answer that was still on its way may come in between on a busy machine
        page.wait_for_function(
            "document.documentElement.classList.contains('unanswered')"
            " && document.getElementById('newest').textContent.includes('no answer from Evenmelt')",
            timeout=15_000,
        )
        assert not page.locator("#live-strip").is_visible()
        assert not page.locator(".verdict").is_visible()
        told = page.inner_text(".no-answer")
        assert "No answer" in told and "came at 07:" in told and "the line's own panel" in told and "is old" in told
        assert page.evaluate(size, ".no-answer strong") >= large
        assert page.eval_on_selector(".no-answer", LEFT) == left
        assert page.eval_on_selector(".two", "el => getComputedStyle(el).filter") == "grayscale(1)"
        top = page.evaluate("document.querySelector('.two').getBoundingClientRect().top")
        assert top < 450, "no hole where the picture of the line was"
        visit.leave()


def test_nothing_can_be_written_down_while_answers_stop(browser: Browser) -> None:
    """What is typed stays, a press does nothing, and the keyboard still finds the buttons; then all is as before."""
    usable = "(all) => all.map(el => el.getAttribute('aria-disabled'))"
    buttons = "#live-form button:visible, ul.aside button:visible"
    with served(full_plant(Ticking())) as address:
        visit = Visit(browser, address)
        page = visit.open(live_url("Line 3", channel=SHORT), "Line 3")
        page.click(".aside-block summary")
        page.wait_for_selector("ul.aside button")
        count = page.locator(buttons).count()
        assert count >= 2 and page.eval_on_selector_all(buttons, usable) == [None] * count
        page.fill("#live-text", "seen from the office")
        asked: list[str] = []
        page.route(QUESTIONS, lambda route: (asked.append(route.request.post_data or ""), route.abort()))
        page.wait_for_function("document.querySelector('#live-note').ariaDisabled === 'true'", timeout=15_000)
        assert page.eval_on_selector_all(buttons, usable) == ["true"] * count
        page.eval_on_selector("#live-note", "el => { el.focus(); el.click(); }")
        page.wait_for_timeout(300)
        assert page.evaluate("document.activeElement.id") == "live-note"
        assert not any("live-note" in body and '"changedPropIds":["live-note' in body for body in asked)
        assert page.input_value("#live-text") == "seen from the office"
        page.unroute(QUESTIONS)
        page.wait_for_function("document.querySelector('#live-note').ariaDisabled !== 'true'", timeout=15_000)
        assert page.eval_on_selector_all(buttons, usable) == [None] * count
        visit.leave()


def test_lot_drag_chooses_a_stretch_and_back(visit: Visit) -> None:
    page = visit.open(lot_url("Line 3", "4417"), "Lot 4417")
    page.wait_for_selector("#lot-sheet svg")
    assert "kg touched" in page.inner_text("#lot-stretch")
    box = page.locator("#lot-sheet svg").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 300, box["y"] + 120)
    page.mouse.down()
    page.mouse.move(box["x"] + 700, box["y"] + 120, steps=5)
    page.mouse.up()
    page.wait_for_url("**from=2026-03-03T*to=2026-03-03T*")
    page.wait_for_selector("text=all that follows is about this stretch")
    page.click("text=Show the whole lot")
    page.wait_for_selector("text=Drag across the map")
    assert visit.wrong == []


def test_search_is_kept_in_the_address(visit: Visit) -> None:
    page = visit.open("/lots", "Lots")
    page.wait_for_selector("table")
    page.fill("#lots-find", "vacuum")
    page.keyboard.press("Enter")
    page.wait_for_url("**find=vacuum*")
    page.wait_for_function("document.querySelectorAll('tbody tr').length === 1")
    assert "4416" in page.inner_text("tbody")


def test_upkeep_goes_from_the_machine_to_the_evidence(visit: Visit) -> None:
    page = visit.open("/upkeep", "Upkeep")
    page.wait_for_selector(".entry.on")
    assert "feeder talc T4" in page.inner_text(".entry.on")
    page.click('#upkeep-strip [data-key="zone_temperature:Z9"][role="button"]')
    page.wait_for_function("document.querySelector('#upkeep-detail h2')?.textContent.startsWith('zone Z9')")
    assert page.locator("#upkeep-chart .scatterlayer .trace").count() >= 3
    assert "mains voltage" in page.inner_text(".detail")


def test_a_note_is_written_and_shown(visit: Visit) -> None:
    page = visit.open(live_url("Line 3"), "Line 3")
    page.wait_for_selector(".finding")
    page.click("#live-note")
    page.wait_for_selector("text=Please give a name")
    page.fill("#live-who", "Ana")
    page.fill("#live-text", "bridge cleared")
    page.click("#live-note")
    page.wait_for_selector("text=Written down at")
    page.wait_for_selector(".finding .said >> text=bridge cleared")


def test_a_raw_lot_is_written_down_and_leads_to_its_containers(visit: Visit) -> None:
    """Written with one press behind a fold; from the number to the containers it is one search and one click."""
    page = visit.open(lot_url("Line 3", "4417"), "Lot 4417 on Line 3")
    page.wait_for_selector("#lot-raw >> text=None was written down")
    page.click("summary >> text=Write down which lot was filled in")
    page.fill("#lot-raw-who", "A. Person")
    page.fill("#lot-raw-rows", "2026-03-03 06:00; talc T9; R-17")
    page.click("#lot-raw-write")
    page.wait_for_selector("#lot-raw-said >> text=there is no one feeder 'talc T9'")
    page.fill("#lot-raw-rows", "2026-03-03 06:00; talc T4; R-17")
    page.click("#lot-raw-write")
    page.wait_for_selector("#lot-raw >> text=R-17")
    assert page.input_value("#lot-raw-rows") == ""

    page = visit.open("/lots", "Lots")
    page.fill("#lots-find", "R-17")
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelectorAll('#lots-body tbody tr').length === 1")
    page.click("#lots-body tbody a.strong")
    row = page.locator("#lot-raw tbody tr", has_text="R-17")
    row.wait_for()
    assert "talc T4" in row.inner_text() and "4417-2" in row.inner_text() and "all after 4417-2" in row.inner_text()
    assert page.locator("#lot-raw tbody tr", has_text="lot not known").count() == 4
    assert visit.wrong == []


def test_light_and_dark_by_button(visit: Visit) -> None:
    page = visit.open("/", "Lines")
    before = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    page.click("#look-button")
    page.wait_for_function("document.documentElement.dataset.theme === 'dark'")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") != before


def test_a_window_used_before_is_as_new(browser: Browser, address: str) -> None:
    """What one visit chose, was told or held back is nothing to the next in the same window."""
    first = Visit(browser, address)
    page = first.open("/", "Lines")
    page.click("#look-button")
    page.wait_for_function("document.documentElement.dataset.theme === 'dark'")
    page.evaluate("document.cookie = 'evenmelt-units=psi; path=/'")
    page.route(QUESTIONS, lambda route: route.abort())
    first.leave()

    second = Visit(browser, address, 390)
    page = second.open("/", "Lines")
    page.wait_for_selector(".line-block")
    assert second.page is first.page and page.viewport_size == {"width": 390, "height": 900}
    kept = page.evaluate("[document.documentElement.dataset.theme ?? '', document.cookie, localStorage.length]")
    assert kept == ["", "", 0]
    assert second.wrong == []
    second.leave()
