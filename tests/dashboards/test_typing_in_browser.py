"""What a person types stays as typed: on a busy computer, and while answers of the server are late."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from dashboards.urls import live_url, lot_url, upkeep_url
from sample_logs import sample_path
from tests.dashboards.in_browser import MARKS, QUESTIONS, Visit, served
from tests.dashboards.page_states import SHORT, folders, full_plant

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

pytestmark = MARKS
PROPOSED_MS = 90_000
BUSY = """
const soon = window.setTimeout;
window.setTimeout = (what, ms, ...more) => soon(what, Math.max(ms || 0, 70), ...more);
"""
"""What is to be done at once is done 70 ms later: after the next two keys."""

FIELDS = {
    ("/lots", "Lots"): ("#lots-find", "#lots-from"),
    (live_url("Line 7", channel=SHORT), "Line 7"): ("#live-who", "#live-text"),
    (lot_url("Line 3", "4417"), "Lot 4417"): ("#lot-text", "#lot-raw-rows", "#lot-lab-rows"),
    (upkeep_url(line="Line 7", item="feeder:F4"), "Upkeep"): ("#upkeep-text",),
    ("/import", "Import a log"): ("#import-place",),
    ("/files/new/recipe", "Write a recipe"): ("#file-name",),
    ("/files/line.toml", "line.toml"): ("#file-text",),
}
"""Address and heading of a page, and its fields."""


@pytest.fixture
def visit(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> Iterator[Visit]:
    """A window, with a script that runs before those of every page where a test gives one."""
    with served(full_plant(), folders(tmp_path_factory.mktemp("files"), empty=False)) as address:
        made = Visit(browser, address, script=getattr(request, "param", ""))
        yield made
        made.leave()
        assert made.wrong == []


class Late:
    """Holds back what the page asks the server until it is let go.

    of: words of the question; without them every question is held back.
    """

    def __init__(self, page: Page, of: str = "") -> None:
        self.page, self.of = page, of
        self.held: list[Route] = []
        page.route(QUESTIONS, self._hold)

    def _hold(self, route: Route) -> None:
        if self.of in (route.request.post_data or ""):
            self.held.append(route)
        else:
            route.continue_()

    def let_go(self) -> None:
        """All that was held back is answered now; nothing is held back any more."""
        self.page.wait_for_timeout(300)
        assert self.held, "nothing was asked"
        self.of = "nothing of the kind"
        for route in self.held:
            with self.page.expect_response(lambda answer, url=route.request.url: answer.url == url):
                route.continue_()
        self.page.wait_for_timeout(500)


def at_the_end(page: Page, selector: str) -> None:
    """Sets the place of typing behind all that stands in a field, opening what it is folded into."""
    page.eval_on_selector(
        selector,
        "el => { const fold = el.closest('details'); if (fold) fold.open = true;"
        " el.focus(); el.setSelectionRange(el.value.length, el.value.length); }",
    )


@pytest.mark.parametrize("visit", [BUSY], ids=["busy"], indirect=True)
@pytest.mark.parametrize("where", FIELDS, ids=lambda where: where[1])
def test_letters_stay_in_order_on_a_busy_computer(visit: Visit, where: tuple[str, str]) -> None:
    """Keys faster than the page follows, in one field after the other."""
    page = visit.open(*where)
    for selector in FIELDS[where]:
        page.wait_for_selector(selector, state="attached")
        visit.rest(200)
        at_the_end(page, selector)
        before = page.input_value(selector)
        page.keyboard.type("vacuum of V1", delay=30)
        page.wait_for_timeout(400)
        assert page.input_value(selector) == before + "vacuum of V1", selector


def test_a_search_goes_on_while_its_list_is_late(visit: Visit) -> None:
    """The list comes for what was typed first; what was typed since stays, and is what is looked for next."""
    page = visit.open("/lots", "Lots")
    page.wait_for_selector("tbody tr")
    at_the_end(page, "#lots-find")
    late = Late(page)
    page.keyboard.type("vacuum")
    page.keyboard.press("Enter")
    page.keyboard.type(" 4416")
    late.let_go()
    page.wait_for_url("**find=vacuum*")
    assert page.input_value("#lots-find") == "vacuum 4416"
    page.keyboard.type(" ")
    page.keyboard.press("Enter")
    page.wait_for_url("**find=vacuum*4416*")
    assert page.input_value("#lots-find") == "vacuum 4416 "


@pytest.mark.parametrize(
    ("field", "said"),
    [("#lot-text", "lot-said"), ("#lot-raw-rows", "lot-raw-said"), ("#lot-lab-rows", "lot-lab-said")],
)
def test_a_page_that_is_late_writes_nothing_into_a_field(visit: Visit, field: str, said: str) -> None:
    """Typed, and left, before the page had its first answer about what the field belongs to."""
    late = Late(visit.page, f".{said}.children.")
    page = visit.open(lot_url("Line 3", "4417"), "Lot 4417")
    page.wait_for_selector(field, state="attached")
    at_the_end(page, field)
    page.keyboard.type("bags held")
    page.keyboard.press("Tab")
    late.let_go()
    assert page.input_value(field) == "bags held"


@pytest.mark.parametrize(
    ("path", "heading", "field", "button", "ready"),
    [
        (lot_url("Line 3", "4417"), "Lot 4417", "lot", "#lot-write", "#lot-sheet svg"),
        (live_url("Line 7", channel=SHORT), "Line 7", "live", "#live-note", "#live-form.can-seen"),
        (upkeep_url(line="Line 7", item="feeder:F4"), "Upkeep", "upkeep", "#upkeep-repaired", "#upkeep-detail h2"),
    ],
)
def test_what_is_typed_after_it_was_sent_stays(
    visit: Visit, path: str, heading: str, field: str, button: str, ready: str
) -> None:
    """A field is emptied when what stands in it was written down, and only then."""
    page = visit.open(path, heading)
    page.wait_for_selector(ready)
    page.fill(f"#{field}-who", "Ana")
    page.fill(f"#{field}-text", "bags held")
    page.click(button)
    page.wait_for_function("id => document.getElementById(id).value === ''", arg=f"{field}-text")

    page.fill(f"#{field}-text", "bags are")
    late = Late(page, f".{field}-said.children.")
    page.click(button)
    at_the_end(page, f"#{field}-text")
    page.keyboard.type(" let go")
    page.keyboard.press("Tab")
    late.let_go()
    assert page.input_value(f"#{field}-text") == "bags are let go"


def test_a_refusal_leaves_what_is_typed(visit: Visit) -> None:
    """Nobody's name was given: that is said, and the text goes on."""
    page = visit.open(lot_url("Line 3", "4417"), "Lot 4417")
    page.wait_for_selector("#lot-sheet svg")
    page.fill("#lot-text", "bags")
    late = Late(page, ".lot-said.children.")
    page.click("#lot-write")
    at_the_end(page, "#lot-text")
    page.keyboard.type(" held")
    late.let_go()
    page.wait_for_function("document.getElementById('lot-said').textContent !== ''")
    assert page.input_value("#lot-text") == "bags held"


def test_values_that_are_late_do_not_replace_a_text_written_since(visit: Visit) -> None:
    """The quick values go into the text they were given for; one that was written on meanwhile stays."""
    page = visit.open("/files/line.toml", "line.toml")
    page.wait_for_selector("textarea")
    quick = ".quick input"
    page.fill(quick, "7")
    page.click("#file-quick")
    page.wait_for_function("before => document.querySelector('textarea').value !== before", arg="")
    late = Late(page, '"output":"file-text.')
    page.fill(quick, "8")
    page.click("#file-quick")
    at_the_end(page, "textarea")
    page.keyboard.type("# mine")
    late.let_go()
    assert page.input_value("textarea").endswith("# mine")


def test_an_import_page_drawn_anew_keeps_what_is_typed(visit: Visit) -> None:
    """A name was told; while the page is drawn anew for it, the time zone is typed."""
    page = visit.open("/import", "Import a log")
    page.fill("#import-place", str(sample_path("single_starved") / "log.csv.gz"))
    page.click("#import-read")
    page.wait_for_selector("#import-zone", timeout=PROPOSED_MS)
    page.wait_for_timeout(2500)
    late = Late(page, ".import-facts.children.")
    page.fill("#import-name", "single 9")
    page.keyboard.press("Enter")
    page.fill("#import-zone", "")
    page.keyboard.type("Europe/Vie")
    late.let_go()
    assert page.input_value("#import-zone") == "Europe/Vie"
    page.keyboard.type("nna")
    page.keyboard.press("Enter")
    page.wait_for_timeout(2000)
    assert (page.input_value("#import-name"), page.input_value("#import-zone")) == ("single 9", "Europe/Vienna")
