"""The real demo in a real browser: every page opens, and a finding known from the plant's own truth stands on it.

The plant's truth file says feeder F4 of 'twin 4' bridged in lot L2043. Skipped where Chromium or playwright is missing,
except with CI=true, where that is a failure.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboards.urls import live_url, lot_url, upkeep_url

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
try:
    from playwright.sync_api import Page, expect, sync_playwright
except ImportError:
    sync_playwright = None  # type: ignore[assignment]

READY = CHROMIUM is not None and sync_playwright is not None
MISSING = "needs playwright and chromium on the path"
ARGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PAGES = {
    "/": "Lines",
    live_url("twin 4"): "twin 4",
    "/lots": "Lots",
    lot_url("twin 4", "L2043"): "Lot L2043",
    upkeep_url(): "Upkeep",
}
START_S = 240

pytestmark = pytest.mark.skipif(not READY and os.environ.get("CI") != "true", reason=MISSING)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a running demo; it is ended politely afterwards."""
    assert READY, f"{MISSING}, and with CI=true the browser tests must run"
    folder = tmp_path_factory.mktemp("demo")
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


def _address(running: subprocess.Popen[bytes], out: Path) -> str:
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        found = re.search(r"http://127\.0\.0\.1:\d+", out.read_text(encoding="utf-8"))
        if found:
            return found.group()
        assert running.poll() is None, out.read_text(encoding="utf-8")
        time.sleep(0.2)
    raise AssertionError(f"no address in {START_S} s: {out.read_text(encoding='utf-8')}")


@pytest.fixture(scope="module")
def page(demo: str) -> Iterator[Page]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
        browser.close()


@pytest.mark.parametrize("path", PAGES)
def test_every_page_of_the_demo_opens_without_errors(demo: str, page: Page, path: str) -> None:
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
    page.goto(demo + path)
    page.get_by_role("heading", level=1, name=re.compile(PAGES[path])).wait_for(timeout=60_000)
    page.wait_for_timeout(2500)

    assert wrong == []


def test_the_bridged_feeder_stands_on_its_lot(demo: str, page: Page) -> None:
    page.goto(demo + lot_url("twin 4", "L2043"))

    page.get_by_text(re.compile("F4.*bridged")).locator("visible=true").first.wait_for(timeout=60_000)


def test_the_clean_lot_is_said_to_be_clean(demo: str, page: Page) -> None:
    """Lot L2042 of the clean log has no finding: the page must not show one, and must have the lot."""
    page.goto(demo + lot_url("twin 4", "L2042"))
    page.get_by_role("heading", level=1, name=re.compile("Lot L2042")).wait_for(timeout=60_000)
    page.wait_for_timeout(1500)

    assert page.get_by_text(re.compile("bridged|starved|flooded")).count() == 0


def test_the_live_page_moves(demo: str, page: Page) -> None:
    """Plant time on the live page goes on by itself."""
    page.goto(demo + live_url("twin 4"))
    newest = page.get_by_text(re.compile("newest reading")).first
    newest.wait_for(timeout=60_000)
    before = newest.inner_text()

    expect(newest).not_to_have_text(before, timeout=5000, use_inner_text=True)
