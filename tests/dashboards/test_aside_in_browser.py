"""Two people at two screens on one journal: set aside, seen by the other, brought back, back by itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from dashboards.memory_data import MemoryData
from dashboards.urls import live_url
from tests.dashboards.in_browser import MARKS, QUESTIONS, Visit, served
from tests.dashboards.lines import single, twin
from tests.dashboards.page_states import Ticking
from tests.dashboards.test_alarm_states import MINUTE, Clock, harm

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = MARKS
LINE = live_url("Line 3", channel="feeder_rate:F4")
SHORTEST_PX = 44
"""A thumb's width: WCAG 2.2 asks for 24 px (2.5.8, AA), 44 px is its stricter value (2.5.5, AAA)."""


@pytest.fixture
def clock() -> Clock:
    return Ticking()


@pytest.fixture
def people(browser: Browser, clock: Clock) -> Iterator[tuple[Visit, Visit]]:
    """Ana at a desk, Ben at a phone."""
    held = twin()
    data = MemoryData([replace(held, findings=[*held.findings, harm()]), single()], clock=clock)
    with served(data) as address:
        ana, ben = Visit(browser, address), Visit(browser, address, 390)
        yield ana, ben
        for visit in (ana, ben):
            visit.leave()
            assert visit.wrong == []


def opened(visit: Visit, path: str = LINE) -> Page:
    page = visit.open(path, "Line 3")
    page.wait_for_selector(".finding")
    page.wait_for_function("document.querySelector('#live-form').className.includes('can-')")
    return page


def takes_away(page: Page, button: str, without_reason: str, reason: str, done: str) -> None:
    """Ana presses without a reason, is refused, gives one, and is told that it is done."""
    page.fill("#live-who", "Ana")
    page.click(button)
    page.wait_for_selector(f"text={without_reason}")
    page.fill("#live-text", reason)
    page.click(button)
    page.wait_for_selector(f"text={done}")


def test_set_aside_on_one_screen_is_seen_on_the_other_and_brought_back(people: tuple[Visit, Visit]) -> None:
    ana, ben = opened(people[0]), opened(people[1])
    assert "talc T4 delivers" in ana.inner_text("#live-about")
    told = "Set aside; it comes back by itself at 07:59"
    takes_away(ana, "#live-aside-30", "Please write why it is set aside.", "hopper is being cleaned", told)

    ben.wait_for_selector("summary >> text=1 set aside until 07:59, by Ana")
    assert ben.locator(".finding", has_text="talc T4 delivers").count() == 0
    assert "1 set aside until 07:59, by Ana" in ben.inner_text(".verdict")
    ben.click("summary >> text=1 set aside")
    assert "hopper is being cleaned" in ben.inner_text("ul.aside")
    ben.click("ul.aside button")
    ben.wait_for_selector("text=Please give a name")
    ben.fill("#live-who", "Ben")
    ben.click("ul.aside button")

    ana.wait_for_selector(".finding >> text=talc T4 delivers")
    ana.wait_for_selector(".finding .said >> text=Brought back by Ben")


def test_it_comes_back_by_itself(people: tuple[Visit, Visit], clock: Clock) -> None:
    page = opened(people[0])
    page.fill("#live-who", "Ana")
    page.fill("#live-text", "hopper is being cleaned")
    page.click("#live-aside-60")
    page.wait_for_selector("summary >> text=1 set aside until 08:29")
    clock.now += 60 * MINUTE  # the readings stay behind, which the page says on its own account
    page.wait_for_selector(".finding >> text=talc T4 delivers")
    assert page.locator("summary >> text=set aside").count() == 0


def test_both_press_at_once_and_only_one_is_written(people: tuple[Visit, Visit]) -> None:
    """Ben's page has not heard of it when he presses: his is refused, with who was faster."""
    ana, ben = opened(people[0]), opened(people[1])
    for page, who in ((ana, "Ana"), (ben, "Ben")):
        page.fill("#live-who", who)
        page.fill("#live-text", f"reason of {who}")
    held = []
    # No news reaches Ben; what he presses is sent.
    ben.route(
        QUESTIONS,
        lambda route: route.continue_() if "live-aside-120" in (route.request.post_data or "") else held.append(route),
    )
    ben.wait_for_timeout(1500)
    assert held
    ana.click("#live-aside-60")
    ana.wait_for_selector("text=Set aside; it comes back")
    assert ben.locator("#live-aside-120").is_enabled()
    ben.evaluate("document.querySelector('#live-aside-120').click()")
    ben.wait_for_selector("text=Ana has set it aside already, until 08:29")
    assert ben.input_value("#live-text") == "reason of Ben"
    people[1].wrong.clear()


def test_out_of_service_on_one_screen_is_named_on_the_other_and_put_back(people: tuple[Visit, Visit]) -> None:
    ana, ben = opened(people[0]), opened(people[1])
    told = "Out of service until somebody puts it back"
    takes_away(ana, "#live-out", "Please write why it is taken out of service.", "load cell is being changed", told)

    ben.wait_for_selector("summary >> text=1 out of service: talc T4 rate, since 07:29, by Ana")
    assert ben.locator(".finding", has_text="talc T4 delivers").count() == 0
    assert "1 out of service" in ben.inner_text(".verdict")
    ben.click("summary >> text=1 out of service")
    assert "load cell is being changed" in ben.inner_text(".out-block ul.aside")
    ben.fill("#live-who", "Ben")
    ben.click(".out-block ul.aside button")

    ana.wait_for_selector(".finding >> text=talc T4 delivers")
    ana.wait_for_selector(".finding .said >> text=Put back in service by Ben")


def test_act_now_cannot_be_set_aside_and_says_why(people: tuple[Visit, Visit]) -> None:
    page = opened(people[0], live_url("Line 3", channel="melt_pressure:P1"))
    assert "may come to harm" in page.inner_text("#live-about")
    assert not page.is_visible("#live-aside-30") and page.is_visible("#live-seen")
    assert not page.is_visible("#live-out")


def test_by_keyboard_alone(people: tuple[Visit, Visit]) -> None:
    page = opened(people[0])
    page.focus("#live-who")
    page.keyboard.type("Ana")
    page.keyboard.press("Tab")
    page.keyboard.type("hopper is being cleaned")
    for _ in range(3):  # seen, note, then how long
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "live-aside-30"
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Set aside; it comes back by itself at 07:59")
    page.focus(".aside-block summary")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith("Bring back: talc T4")
    page.keyboard.press("Enter")
    page.wait_for_selector(".finding >> text=talc T4 delivers")


def test_controls_are_as_large_as_a_thumb(people: tuple[Visit, Visit]) -> None:
    page = opened(people[1])
    small = page.evaluate(
        """least => [...document.querySelectorAll('#live-form button, #live-form .field, ul.aside button')]
          .filter(e => e.offsetParent && e.getBoundingClientRect().height < least)
          .map(e => e.outerHTML.slice(0, 80))""",
        SHORTEST_PX,
    )
    assert small == []
    assert page.locator("#live-form button:visible").count() == 7
