"""The lines page in a real browser: when the answers stop, nothing that was live is left standing as if it were."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from dashboards.memory_data import MemoryData
from tests.dashboards.in_browser import MARKS, QUESTIONS, Visit, served
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = MARKS
SEEN = "all => all.map(block => getComputedStyle(block.querySelector('.what')).visibility)"


STEP_MS = 500
UNANSWERED = "document.documentElement.classList.contains('unanswered')"


def step_on(page: Page) -> None:
    """The clock of the browser goes on by a step, after which the server has a moment to answer."""
    page.clock.run_for(STEP_MS)
    page.wait_for_timeout(40)


def until(page: Page, unanswered: bool, most_ms: int) -> int:
    """How long it took the page to say that there is no answer, or no longer to say so, ms of its clock."""
    for gone in range(0, most_ms, STEP_MS):
        if page.evaluate(UNANSWERED) == unanswered:
            return gone
        step_on(page)
    raise AssertionError(f"not within {most_ms} ms")


def test_when_the_answers_stop_the_page_says_so_and_hides_what_was_live(browser: Browser) -> None:
    # The plant's clock stands: that is no sign of a silent server, and no lack of one either.
    data = MemoryData([twin(), replace(single(), source="finished log")], clock=lambda: END)
    with served(data) as address:
        visit = Visit(browser, address)
        page = visit.page
        page.clock.install()
        visit.open("/", "Lines")
        page.wait_for_selector(".line-block")
        assert page.inner_text("#newest").startswith("read at 07:")
        assert page.eval_on_selector_all(".line-block", SEEN) == ["visible", "visible"]

        for _ in range(0, 24_000, STEP_MS):
            step_on(page)
            assert not page.evaluate(UNANSWERED)

        page.route(QUESTIONS, lambda route: route.abort())
        assert until(page, True, 60_000) >= 15_000

        page.wait_for_selector("#newest >> text=no answer from Evenmelt for")
        # What a finished log held is as true as before.
        assert page.eval_on_selector_all(".line-block", SEEN) == ["hidden", "visible"]

        page.unroute(QUESTIONS)  # a page that nobody reloads comes back when the server does
        until(page, False, 30_000)
        assert page.eval_on_selector_all(".line-block", SEEN) == ["visible", "visible"]
        visit.context.close()  # its clock is not that of the next
