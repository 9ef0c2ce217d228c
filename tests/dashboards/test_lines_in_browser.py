"""The lines page in a real browser: when the answers stop, nothing that was live is left standing as if it were."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from dashboards.memory_data import MemoryData
from tests.dashboards.in_browser import MARKS, QUESTIONS, Visit, served
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = MARKS
SEEN = "all => all.map(block => getComputedStyle(block.querySelector('.what')).visibility)"


def test_when_the_answers_stop_the_page_says_so_and_hides_what_was_live(browser: Browser) -> None:
    # The plant's clock stands: that is no sign of a silent server, and no lack of one either.
    data = MemoryData([twin(), replace(single(), source="finished log")], clock=lambda: END)
    with served(data) as address:
        visit = Visit(browser, address)
        page = visit.open("/", "Lines")
        page.wait_for_selector(".line-block")
        assert page.inner_text("#newest").startswith("read at 07:")
        assert page.eval_on_selector_all(".line-block", SEEN) == ["visible", "visible"]

        page.wait_for_timeout(9500)
        assert not page.evaluate("document.documentElement.classList.contains('unanswered')")

        page.route(QUESTIONS, lambda route: route.abort())
        page.wait_for_function("document.documentElement.classList.contains('unanswered')", timeout=60_000)

        page.wait_for_selector("#newest >> text=no answer from Evenmelt for")
        # What a finished log held is as true as before.
        assert page.eval_on_selector_all(".line-block", SEEN) == ["hidden", "visible"]

        page.unroute(QUESTIONS)  # a page that nobody reloads comes back when the server does
        page.wait_for_function("!document.documentElement.classList.contains('unanswered')", timeout=30_000)
        assert page.eval_on_selector_all(".line-block", SEEN) == ["visible", "visible"]
        visit.leave()
