"""What an open page keeps does not grow with every look it takes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.dashboards.in_browser import MARKS, Visit, served
from tests.dashboards.page_states import full_plant

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = MARKS
LOOKS = 30


@pytest.mark.parametrize(
    ("path", "title", "clock"), [("/", "Lines", "lines-tick"), ("/live/Line%207", "Line 7", "live-tick")]
)
def test_what_the_inputs_were_before_is_not_kept(browser: Browser, path: str, title: str, clock: str) -> None:
    """Thirty looks leave no thirty entries, and the looks go on."""
    with served(full_plant()) as address:
        visit = Visit(browser, address)
        page = visit.open(path, title)
        page.wait_for_selector("svg.drawing")
        page.evaluate("clock => window.dash_clientside.set_props(clock, { interval: 50 })", clock)
        looked = """([clock, looks]) => {
          const n = window.dash_component_api.getLayout(clock).props.n_intervals;
          window.began ??= n;
          return n >= window.began + looks;
        }"""
        page.wait_for_function(looked, arg=[clock, LOOKS])
        page.evaluate("clock => window.dash_clientside.set_props(clock, { interval: 100000 })", clock)
        page.wait_for_function("window.store.getState().history.past.length < 3", timeout=5000)
        visit.leave()
        assert visit.wrong == []
