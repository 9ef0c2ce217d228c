"""Every page and state under an automatic checker for WCAG 2.2 A and AA, light and dark, wide and narrow.

The checker is axe-core, an open-source library (MPL-2.0) that comes with the test dependency axe-playwright-python. It
finds what a program can find, about a third to a half of what the guidelines ask (its makers' own figure, from memory);
the rest is in the keyboard walks and in looking.
"""

from __future__ import annotations

import importlib.util
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from dashboards.report.lot_report import lot_report
from tests.dashboards.in_browser import MARKS, WIDTHS, Visit, served
from tests.dashboards.page_states import STATES, Ticking, bring_about, empty_plant, folders, full_plant
from tests.dashboards.plant import END

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

AXE = importlib.util.find_spec("axe_playwright_python")
pytestmark = [
    *MARKS,
    pytest.mark.skipif(AXE is None and os.environ.get("CI") != "true", reason="axe-playwright-python is not installed"),
]
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]
FULL = ("lines", "live, a finding", "live, set aside and latched", "lot", "upkeep")
"""What is looked at dark on a large screen too; dark on a telephone is everything."""
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
SHOTS = os.environ.get("EVENMELT_SHOTS", "")
"""A folder for a picture of every page that is checked, for looking at; empty = none."""


@pytest.fixture(scope="module")
def addresses(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[bool, str]]:
    """Address of the full plant and of the empty one, by whether it is empty."""
    places = [folders(tmp_path_factory.mktemp("places"), empty=empty) for empty in (False, True)]
    with served(full_plant(Ticking()), places[0]) as full, served(empty_plant(), places[1]) as empty:
        yield {False: full, True: empty}


def problems(page: Page) -> list[str]:
    """What the checker found: rule, how grave, where, why."""
    assert AXE is not None and AXE.origin is not None
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(Path(AXE.origin).with_name("axe.min.js").read_text(encoding="utf-8"))
    run: Any = {
        "runOnly": {"type": "tag", "values": TAGS},
        "rules": {"target-size": {"enabled": True}},
        "resultTypes": ["violations"],
    }
    found = page.evaluate("run => axe.run(document, run)", run)
    assert found["passes"], "the checker must have had something to check"
    return [
        f"{rule['id']} ({rule['impact']}) at {json.dumps(node['target'])}: {node['failureSummary']} {node['html'][:99]}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


@pytest.fixture(scope="module")
def visits(browser: Browser, addresses: dict[bool, str]) -> Iterator[dict[tuple[str, bool], Visit]]:
    """One window for each plant, on a screen of either kind: by how it is lit when a page is opened."""
    made = {
        (scheme, empty): Visit(browser, addresses[empty], width, scheme)
        for scheme, width in (("light", 1440), ("dark", 390))
        for empty in (False, True)
    }
    yield made
    for visit in made.values():
        visit.leave()


@pytest.mark.parametrize("name", STATES)
def test_nothing_for_the_checker_to_find(visits: dict[tuple[str, bool], Visit], name: str) -> None:
    """Opened once, then made narrow and dark, as by a hand at the window and an evening: light at 1440 px, sideways at
    every width, dark at 390 px. Every other state is opened dark and narrow, so that both ways of opening are seen."""
    state = STATES[name]
    looks = [*(("light", width) for width in WIDTHS), ("dark", 390)]  # one step changes one of them, but for the last
    if list(STATES).index(name) % 2:
        looks.reverse()
    if name in FULL:
        looks = [*looks, ("dark", 1440)]
    visit = visits[looks[0][0], state.empty]
    page = visit.open(state.path, state.heading)
    bring_about(page, state)
    try:
        for place, (scheme, width) in enumerate(looks):
            if place:
                page.emulate_media(color_scheme=scheme)
                visit.widen(width)
            _shoot(page, f"{name}, {scheme}, {width} px")
            if (scheme, width) in (("light", 1440), ("dark", 390), ("dark", 1440)):
                assert problems(page) == [], f"{scheme}, {width} px"
            if scheme == "light":
                assert page.evaluate(SIDEWAYS) <= 1, f"the page must not scroll sideways at {width} px"
    finally:
        page.unroute_all(behavior="ignoreErrors")
        page.goto("about:blank")  # a live page that nobody looks at would go on asking
        scheme, width = looks[0]
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 900})


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_cut_off(browser: Browser, addresses: dict[bool, str], width: int) -> None:
    """The choice of units lies inside the window, and the last hours of every line are seen to their end."""
    visit = Visit(browser, addresses[False], width)
    page = visit.open("/", "Lines")
    page.wait_for_selector(".line-block svg")
    page.wait_for_timeout(500)
    hidden = page.evaluate(
        "[...document.querySelectorAll('.line-block .what')].map(e => e.scrollWidth - e.clientWidth).filter(x => x > 1)"
    )
    assert hidden == []
    page.click(".units summary")
    box = page.locator(".units-sheet").bounding_box()
    visit.leave()
    assert box is not None and box["x"] >= 0 and box["x"] + box["width"] <= width


@pytest.mark.parametrize("width", [1440, 390])
def test_nothing_to_find_in_a_report(browser: Browser, tmp_path: Path, width: int) -> None:
    data = full_plant()
    lot = data.lot("Line 3", "4417")
    assert lot is not None
    file = tmp_path / "lot.html"
    file.write_text(lot_report(data, lot, END), encoding="utf-8")
    page = browser.new_context(viewport={"width": width, "height": 900}).new_page()
    page.goto(file.as_uri())
    _shoot(page, f"report, {width} px")
    assert problems(page) == []
    assert page.evaluate(SIDEWAYS) <= 1
    page.context.close()


CAPITALS = 0.7
"""Height of capitals over the font size, of the fonts that page.css names; 0.70 to 0.73, from memory."""
MM_PX = 43 * 25.4 * 16 / np.hypot(16, 9) / 1920
"""A pixel of a 43-inch screen of 1920 x 1080, mm."""
LEAST_ARC, PREFERRED_ARC = 16.0, 20.0
"""Arc minutes: ISO 9241-303, values from memory."""


def test_what_is_to_be_read_from_three_metres(browser: Browser, addresses: dict[bool, str]) -> None:
    """As stated in DEVELOPERS.md. 200 % in the browser halves the width that a page has."""
    for width, zoom, wanted in (
        (1920, 1, {".verdict strong": PREFERRED_ARC, "h1": LEAST_ARC}),
        (960, 2, {".verdict strong": PREFERRED_ARC, "h1": PREFERRED_ARC, ".verdict p": LEAST_ARC}),
    ):
        visit = Visit(browser, addresses[False], width)
        page = visit.open("/live/Line%207", "Line 7")
        page.wait_for_selector(".verdict strong")
        for selector, least in wanted.items():
            px = page.evaluate("s => parseFloat(getComputedStyle(document.querySelector(s)).fontSize)", selector)
            arc = np.degrees(np.arctan(px * zoom * CAPITALS * MM_PX / 3000)) * 60
            assert arc >= least, f"{selector}: {px} px are {arc:.1f} arc minutes"
        visit.leave()


def test_the_checker_bites(browser: Browser, addresses: dict[bool, str]) -> None:
    """Were something wrong, it would be found."""
    visit = Visit(browser, addresses[False])
    page = visit.open("/", "Lines")
    page.evaluate(
        "document.querySelector('main').insertAdjacentHTML('beforeend',"
        ' \'<p style="color:#bbb;background:#fff">pale</p><img src="data:,"><button></button>\')'
    )
    found = " ".join(problems(page))
    visit.leave()
    assert all(rule in found for rule in ("color-contrast", "image-alt", "button-name"))


def _shoot(page: Page, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"{name.replace(', ', '-').replace(' ', '_')}.png", full_page=True)
