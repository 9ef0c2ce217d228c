"""The main path of each of the three users with the keyboard alone; what has the focus is seen, and not covered."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.dashboards.in_browser import MARKS, Visit, served
from tests.dashboards.page_states import full_plant

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = MARKS
MOST_TABS = 90

SEEN = """() => {
  const el = document.activeElement;
  if (!el || el === document.body) return 'nothing has the focus';
  const rect = el.getBoundingClientRect();
  const name = el.outerHTML.slice(0, 90);
  if (!(rect.width > 0 && rect.height > 0)) return 'not to be seen: ' + name;
  if (rect.bottom <= 0 || rect.top >= innerHeight || rect.right <= 0 || rect.left >= innerWidth)
    return 'outside the window: ' + name;
  const top = document.elementFromPoint(Math.min(Math.max(rect.left + rect.width / 2, 1), innerWidth - 1),
                                        Math.min(Math.max(rect.top + rect.height / 2, 1), innerHeight - 1));
  if (top && !el.contains(top) && !top.contains(el) && !top.closest('label')) return 'covered: ' + name;
  // A ring round it, round what holds it, or, in a drawing, a thicker line round its mark.
  const style = e => getComputedStyle(e);
  const ringed = e => style(e).outlineStyle !== 'none' && parseFloat(style(e).outlineWidth) >= 2;
  const hit = el.querySelector(':scope > .hit');
  if (ringed(el) || (hit && parseFloat(style(hit).strokeWidth) >= 3 && style(hit).stroke !== 'none')) return '';
  for (let up = el.parentElement; up && up !== document.body; up = up.parentElement) if (ringed(up)) return '';
  return 'no ring: ' + name;
}"""


ARRIVED = f"""async ([selector, text]) => {{
  const frame = () => new Promise(requestAnimationFrame), until = performance.now() + 10_000;
  // What an answer draws anew this very moment has the focus again at once.
  while (document.activeElement === document.body && performance.now() < until) await frame();
  // And what an answer above it moves out of sight is back with the next frame.
  await frame();
  await frame();
  const el = document.activeElement;
  return [({SEEN})(), el.matches(selector) && el.textContent.includes(text)];
}}"""
"""What is wrong with the stop that Tab came to, and whether it is the one that was looked for."""


@pytest.fixture(params=[1440, 390])
def visit(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Visit]:
    """A plant of its own for each walk: walks leave something behind."""
    with served(full_plant()) as address:
        made = Visit(browser, address, request.param)
        yield made
        made.leave()
        assert made.wrong == []


def tab_to(page: Page, selector: str, text: str = "", most: int = MOST_TABS) -> int:
    """Presses Tab until an element that fits has the focus; gives how often. Every stop on the way must be seen."""
    for pressed in range(1, most + 1):
        page.keyboard.press("Tab")
        unseen, there = page.evaluate(ARRIVED, [selector, text])
        assert unseen == "", f"after {pressed} tabs"
        if there:
            return pressed
    raise AssertionError(f"{most} tabs did not lead to {selector} with '{text}'")


def to_the_page(page: Page) -> None:
    """The first stop of every page leads past its head."""
    tab_to(page, ".skip", most=1)
    page.keyboard.press("Enter")
    page.wait_for_function("document.activeElement.id === 'page'")


def test_shift_supervisor_from_all_lines_to_a_finding_seen(visit: Visit) -> None:
    """Which line is in trouble, what is it, what to check first; and: I have seen it."""
    page = visit.open("/", "Lines")
    page.wait_for_selector(".line-block")
    assert "Act now" in page.inner_text(".line-block:has-text('Line 7')")
    to_the_page(page)
    tab_to(page, ".line-block h2 a", "Line 7", most=12)
    page.keyboard.press("Enter")
    page.wait_for_selector("#live-form.can-seen")
    page.wait_for_selector(".finding")

    page.evaluate("document.getElementById('page').focus()")
    tab_to(page, ".finding h3 a", "talc T4 delivers")
    page.keyboard.press("Enter")
    page.wait_for_url("**channel=feeder_rate:F4*")
    page.wait_for_selector("#live-form.can-aside")
    tab_to(page, "#live-who")
    page.keyboard.type("Ana")
    tab_to(page, "#live-seen", most=3)
    page.keyboard.press("Enter")
    page.wait_for_selector(".finding .said >> text=Seen by Ana")


def test_quality_engineer_from_the_list_to_a_note_about_a_lot(visit: Visit) -> None:
    """Which lot had the vacuum finding, when, and a note to it."""
    page = visit.open("/", "Lines")
    page.wait_for_selector(".line-block")
    tab_to(page, "nav a", "Lots", most=6)
    page.keyboard.press("Enter")
    page.wait_for_selector("tbody tr")
    to_lots_search = tab_to(page, "#lots-find", most=30)
    assert to_lots_search < 30
    page.keyboard.type("vacuum")
    page.keyboard.press("Enter")
    page.wait_for_url("**find=vacuum*")
    page.wait_for_function("[...document.querySelectorAll('tbody tr')].every(r => r.textContent.includes('4416'))")
    tab_to(page, "tbody a.strong", "4416", most=12)
    page.keyboard.press("Enter")
    page.get_by_role("heading", level=1, name=re.compile("Lot 4416")).wait_for()
    page.wait_for_selector("#lot-sheet svg")
    page.wait_for_selector(".finding")

    page.evaluate("document.getElementById('page').focus()")
    tab_to(page, "#lot-sheet [data-key]")
    page.keyboard.press("Enter")
    page.wait_for_url("**channel=*")
    tab_to(page, "#lot-who", most=250)
    page.keyboard.type("Ana")
    page.keyboard.press("Tab")
    page.keyboard.type("bags held")
    tab_to(page, "#lot-write", most=2)
    page.keyboard.press("Enter")
    page.wait_for_selector("#lot-notes >> text=bags held")


def test_maintenance_from_the_list_to_a_repair(visit: Visit) -> None:
    """What stops a line first, what can be checked running, and: it is repaired."""
    page = visit.open("/", "Lines")
    page.wait_for_selector(".line-block")
    tab_to(page, "nav a", "Upkeep", most=7)
    page.keyboard.press("Enter")
    page.wait_for_selector(".entry.on")
    page.evaluate("document.getElementById('page').focus()")
    tab_to(page, ".entry", "feeder talc T4")
    page.keyboard.press("Enter")
    page.wait_for_url("**item=*")
    page.wait_for_selector("#upkeep-detail h2")
    tab_to(page, "#upkeep-who", most=120)
    page.keyboard.type("Vera")
    page.keyboard.press("Tab")
    page.keyboard.type("agitator freed")
    tab_to(page, "#upkeep-repaired", most=2)
    page.keyboard.press("Enter")
    page.wait_for_selector("#upkeep-said >> text=Written down at")


def test_nothing_holds_the_keyboard_fast(visit: Visit) -> None:
    """Tab leads through the whole live page and out of it again, and back the same way."""
    page = visit.open("/live/Line%203", "Line 3")
    page.wait_for_selector("#live-form.can-seen")
    page.wait_for_selector(".aside-block")
    tab_to(page, ".all-channels summary", most=120)
    tab_to(page, "footer summary", most=3)
    page.keyboard.press("Shift+Tab")
    assert page.evaluate("document.activeElement.matches('.all-channels summary')")


def test_what_stands_at_the_place_of_what_is_gone_has_the_focus(visit: Visit) -> None:
    """A finding ends while its link has the focus, and nothing like it is left."""
    page = visit.open("/", "Lines")
    page.wait_for_selector(".line-block h2 a")
    page.evaluate(
        "() => { const el = document.querySelector('.line-block h2 a'); el.setAttribute('href', '/gone');"
        " el.textContent = 'gone'; el.focus(); el.remove(); }"
    )
    page.wait_for_function("document.activeElement.closest('#page a, #page button')", timeout=2000)


def test_an_answer_that_shortens_the_page_moves_nothing_out_of_sight(visit: Visit) -> None:
    """What the keyboard is at is seen after an answer too, unless the reader has scrolled away from it."""
    page = visit.open("/upkeep", "Upkeep")
    page.wait_for_selector(".entry.on")
    page.evaluate(
        "() => { const high = document.createElement('div'); high.id = 'high'; high.style.height = '3000px';"
        " document.getElementById('page').append(high, Object.assign(document.createElement('button'), {id: 'low'}));"
        " document.getElementById('page').append(Object.assign(document.createElement('div'), {id: 'rest'}));"
        " document.getElementById('rest').style.height = '3000px';"
        " document.documentElement.style.overflowAnchor = 'none';"
        " document.getElementById('low').focus({focusVisible: true}); }"
    )
    page.wait_for_function("scrollY > 2000")
    page.evaluate("document.getElementById('high').style.height = '1000px'")
    page.wait_for_function("document.getElementById('low').getBoundingClientRect().top >= -1", timeout=2000)
    page.evaluate("scrollTo(0, 0)")
    page.wait_for_function("scrollY === 0")
    page.evaluate("document.getElementById('high').style.height = '2000px'")
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert page.evaluate("scrollY") == 0
