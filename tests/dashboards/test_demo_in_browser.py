"""The real demo in a real browser: every page opens, and a finding known from the plant's own truth stands on it.

The plant's truth file says feeder F4 of 'twin 4' bridged in lot L2043. Skipped where Chromium or playwright is missing,
except with CI=true, where that is a failure.
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from dashboards.urls import live_url, lot_url, upkeep_url
from tests.dashboards.filled_demos import FilledDemos
from tests.dashboards.in_browser import MARKS, MISSING, READY, Visit

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PAGES = {
    "/": "Lines",
    live_url("twin 4"): "twin 4",
    "/lots": "Lots",
    lot_url("twin 4", "L2043"): "Lot L2043",
    upkeep_url(): "Upkeep",
}
START_S = 240

pytestmark = MARKS


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, filled_demos: FilledDemos) -> Iterator[str]:
    """Address of a running demo; it is ended politely afterwards.

    It goes on with what a demo before it filled, if there was one: that it fills an empty folder, from start to end, is
    in command_line/test_demo.py.
    """
    assert READY, f"{MISSING}, and with CI=true the browser tests must run"
    folder = tmp_path_factory.mktemp("demo")
    filled_demos.begin_with(folder / "data")
    command = [sys.executable, "-u", "-m", "dashboards.command_line", "demo", "--port", "0", "--no-browser"]
    with (folder / "out.txt").open("w+", encoding="utf-8") as out:
        running = subprocess.Popen(
            [*command, "--data", str(folder / "data")], stdout=out, stderr=subprocess.STDOUT,
            cwd=Path(__file__).parent.parent.parent,
        )  # fmt: skip
        try:
            yield _address(running, folder / "out.txt")
        finally:
            running.terminate()
            running.wait(timeout=30)
        filled_demos.leave(folder / "data")


def _address(running: subprocess.Popen[bytes], out: Path) -> str:
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        found = re.search(r"http://127\.0\.0\.1:\d+", out.read_text(encoding="utf-8"))
        if found:
            return found.group()
        assert running.poll() is None, out.read_text(encoding="utf-8")
        time.sleep(0.2)
    raise AssertionError(f"no address in {START_S} s: {out.read_text(encoding='utf-8')}")


@pytest.fixture
def visit(browser: Browser, demo: str) -> Iterator[Visit]:
    made = Visit(browser, demo)
    yield made
    made.leave()


def opened(visit: Visit, path: str, heading: str) -> Page:
    visit.page.goto(visit.address + path)
    visit.page.get_by_role("heading", level=1, name=re.compile(heading)).wait_for(timeout=60_000)
    return visit.page


@pytest.mark.parametrize("path", PAGES)
def test_every_page_of_the_demo_opens_without_errors(visit: Visit, path: str) -> None:
    opened(visit, path, PAGES[path])
    visit.looked()

    assert visit.wrong == []


def test_the_bridged_feeder_stands_on_its_lot(visit: Visit) -> None:
    page = opened(visit, lot_url("twin 4", "L2043"), "Lot L2043")

    page.get_by_text(re.compile("F4.*bridged")).locator("visible=true").first.wait_for(timeout=60_000)


def test_the_clean_lot_is_said_to_be_clean(visit: Visit) -> None:
    """Lot L2042 of the clean log has no finding: the page must not show one, and must have the lot."""
    page = opened(visit, lot_url("twin 4", "L2042"), "Lot L2042")
    page.wait_for_selector("#lot-sheet svg")
    visit.rest(400)

    assert page.get_by_text(re.compile("bridged|starved|flooded")).count() == 0


def test_the_live_page_moves(visit: Visit) -> None:
    """Plant time on the live page goes on by itself."""
    from playwright.sync_api import expect

    page = opened(visit, live_url("twin 4"), "twin 4")
    newest = page.get_by_text(re.compile("newest reading")).first
    newest.wait_for(timeout=60_000)
    before = newest.inner_text()

    expect(newest).not_to_have_text(before, timeout=5000, use_inner_text=True)
