"""The main path of somebody with a log of their own, in a real browser against the real server, clicks counted.

Drop a sample log, correct one tag, save the line file, check, arrive at the lot; then the files, their mistakes and
versions. The sample log's own truth (a flood-fed single screw that starves) must stand among its findings.
"""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from sample_logs import sample_path
from tests.dashboards.in_browser import MARKS
from tests.dashboards.test_accessible_in_browser import SIDEWAYS, problems

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = MARKS
LOG = sample_path("single_starved") / "log.csv.gz"
START_S, STEP_MS = 60, 90_000
AXE = importlib.util.find_spec("axe_playwright_python") is not None
SHOTS = os.environ.get("EVENMELT_SHOTS", "")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("served")


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    """A server over an empty folder, ended politely afterwards."""
    command = [sys.executable, "-u", "-m", "dashboards.command_line", "serve", "--new", "--port", "0"]
    places = ["--data", str(folder / "data"), "--lines", str(folder / "lines")]
    with (folder / "out.txt").open("w+", encoding="utf-8") as out:
        running = subprocess.Popen(
            [*command, *places], stdout=out, stderr=subprocess.STDOUT, cwd=Path(__file__).parent.parent.parent
        )
        try:
            until = time.monotonic() + START_S
            while not (found := re.search(r"http://127\.0\.0\.1:\d+", (folder / "out.txt").read_text("utf-8"))):
                assert running.poll() is None and time.monotonic() < until
                time.sleep(0.1)
            yield found.group()
        finally:
            running.terminate()
            running.wait(timeout=30)


class Walk:
    """A page, how often it was clicked, and what went wrong on it."""

    def __init__(self, browser: Browser, address: str, width: int = 1440, scheme: str = "light") -> None:
        self.context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)  # type: ignore[arg-type]
        self.page: Page = self.context.new_page()
        self.address, self.clicks, self.wrong = address, 0, list[str]()
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("console", lambda message: self.wrong.append(message.text) if message.type == "error" else None)

    def open(self, path: str, wait_for: str) -> Page:
        self.page.goto(self.address + path)
        self.page.locator(wait_for).first.wait_for(timeout=STEP_MS)
        return self.page

    def click(self, role: str, name: str | re.Pattern[str]) -> None:
        self.page.get_by_role(role, name=name).first.click()  # type: ignore[arg-type]
        self.clicks += 1

    def close(self) -> None:
        self.context.close()
        assert self.wrong == []


def settled(page: Page, name: str) -> None:
    """Nothing for the checker to find, nothing that scrolls sideways, and a picture where pictures are wanted."""
    page.wait_for_timeout(700)
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"{name}.png", full_page=True)
    assert page.evaluate(SIDEWAYS) <= 1
    if AXE:
        assert problems(page) == []


def test_a_dropped_log_that_is_refused_is_no_longer_on_its_way(browser: Browser, address: str) -> None:
    walk = Walk(browser, address)
    page = walk.open("/import", ".drop")
    for _ in range(2):  # the second refusal reads like the first
        page.set_input_files(
            ".drop input[type=file]",
            {"name": "empty.csv", "mimeType": "text/csv", "buffer": b""},  # type: ignore[arg-type]
        )
        page.wait_for_function("document.querySelector('#import-said').textContent.includes('empty.csv')")
        page.wait_for_function("!document.querySelector('#import-drop-said').textContent", timeout=10_000)
    walk.close()


def test_from_an_empty_page_to_the_lot_of_ones_own_log(browser: Browser, address: str, folder: Path) -> None:
    walk = Walk(browser, address)
    page = walk.open("/", "#begin-demo")
    settled(page, "begin")
    walk.click("link", "Bring a log of my line")
    page.locator(".drop").wait_for()
    settled(page, "import")
    page.set_input_files(".drop input[type=file]", LOG)
    walk.clicks += 1  # the drop
    page.locator(".entry.tag").first.wait_for(timeout=STEP_MS)
    page.get_by_text("dates are taken as day first").wait_for(timeout=STEP_MS)
    settled(page, "proposal")

    walk.click("link", re.compile("Füllstand %"))
    page.get_by_role("heading", name=re.compile("Füllstand %")).wait_for()
    walk.click("radio", "Cannot tell: leave it out")
    page.get_by_role("heading", name=re.compile("Füllstand %.*left out by you")).wait_for()
    page.get_by_text("32 tags; no mistake in it").wait_for()
    walk.click("button", "Save it as line 1.toml")
    page.get_by_text(re.compile("Saved as line 1.toml, version [0-9a-f]{12}")).wait_for()
    saved = tomllib.loads((folder / "lines" / "line 1.toml").read_text("utf-8"))
    assert "hopper_level" not in {sensor["role"] for sensor in saved["sensor"]} and len(saved["sensor"]) == 32
    assert len(list((folder / "lines" / "versions" / "line 1").glob("*.toml"))) == 1

    walk.click("button", "Check this log")
    page.locator(".checked").wait_for(timeout=STEP_MS)
    settled(page, "checked")
    walk.click("link", "To the run")
    page.get_by_role("heading", level=1, name=re.compile("line 1")).wait_for(timeout=STEP_MS)
    page.get_by_text(re.compile("starved", re.IGNORECASE)).locator("visible=true").first.wait_for(timeout=STEP_MS)
    assert walk.clicks <= 7
    walk.close()


def test_the_same_log_again_is_not_put_over_another_file_in_silence(browser: Browser, address: str) -> None:
    """After the walk before: the file is there; a further correction is offered as a new version, with its change."""
    walk = Walk(browser, address, 820, "dark")
    page = walk.open("/import", ".drop")
    page.set_input_files(".drop input[type=file]", LOG)
    page.get_by_text("Saved: line 1.toml holds just this.").wait_for(timeout=STEP_MS)
    page.get_by_label("Time zone of the plant").fill("Europe/Madrid")
    page.keyboard.press("Tab")
    page.get_by_role("button", name="Save as a new version of line 1.toml").wait_for()
    page.get_by_text("[line]: time_zone is 'Europe/Madrid', was 'UTC'").wait_for()
    settled(page, "new_version")
    page.get_by_label("Time zone of the plant").fill("Europe/Madird")
    page.keyboard.press("Tab")
    page.get_by_text("did you mean 'Europe/Madrid'?").wait_for()
    assert page.get_by_role("button", name="Save as a new version of line 1.toml").is_disabled()
    settled(page, "line_file_invalid")
    walk.close()


def test_a_line_file_is_changed_judged_while_typing_and_brought_back(browser: Browser, address: str) -> None:
    walk = Walk(browser, address, 390)
    page = walk.open("/files", "table")
    settled(page, "files")
    walk.click("link", "line 1.toml")
    editor = page.get_by_label("Text of line 1.toml")
    editor.wait_for()
    before = editor.input_value()
    editor.fill(before.replace('kind = "single-screw"', 'kind = "triple"'))
    page.get_by_text("line.kind = 'triple': allowed are 'twin-screw' or 'single-screw'").wait_for()
    assert page.get_by_role("button", name="Save as a new version").is_disabled()
    settled(page, "file_mistake")
    editor.fill(before)
    page.get_by_label("screw diameter, mm").fill("60")
    walk.click("button", "Put into the text")
    page.get_by_text("[geometry]: screw_diameter_mm").or_(page.get_by_text("[geometry] is new")).first.wait_for()
    walk.click("button", "Save as a new version")
    page.get_by_text(re.compile("Saved, version")).wait_for()
    page.get_by_text("60.0 mm").or_(page.get_by_text("60.0\u202fmm")).first.wait_for()
    page.locator(".versions > li").nth(1).wait_for()
    settled(page, "file_versions")
    page.locator(".versions > li").nth(1).get_by_role("link").click()
    page.get_by_text("This is an earlier version").wait_for()
    walk.click("button", "Bring this version back")
    page.locator(".versions > li").nth(2).wait_for()
    assert page.get_by_label("Text of line 1.toml").input_value() == before
    walk.close()


TOLD = """() => {
  window.told = [];
  const note = () => window.told.push((document.querySelector('[data-most] [role=alert]') || {}).textContent || '');
  new MutationObserver(note).observe(document.body, { subtree: true, childList: true, characterData: true });
}"""


def test_what_is_no_log_and_what_is_too_large_are_told(browser: Browser, address: str, tmp_path: Path) -> None:
    walk = Walk(browser, address, 390, "dark")
    page = walk.open("/import", ".drop")
    letter = tmp_path / "letter.txt"
    letter.write_text("hello this is a letter")
    with page.expect_file_chooser() as asked:
        page.get_by_role("button", name="or choose its files").focus()
        page.keyboard.press("Enter")
    asked.value.set_files(letter)
    page.get_by_text("no row of column names can be made out").wait_for(timeout=STEP_MS)
    settled(page, "no_log")
    page = walk.open("/import", ".drop")
    page.get_by_label("Place of the log").fill(str(tmp_path / "nothing.csv"))
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_text("Nothing is at").wait_for()
    page = walk.open("/import", ".drop")
    page.evaluate("document.querySelector('[data-most]').dataset.most = '1000'")
    page.evaluate(TOLD)
    page.set_input_files(".drop input[type=file]", LOG)
    # The server takes it all the same and reads it: what was said stands for a moment only.
    page.wait_for_function("window.told.some(text => /log\\.csv\\.gz has 1 MB/.test(text))")
    walk.close()


def test_one_tag_is_corrected_by_keyboard_alone(browser: Browser, address: str) -> None:
    walk = Walk(browser, address)
    page = walk.open("/import", ".drop")
    page.set_input_files(".drop input[type=file]", LOG)
    entry = page.get_by_role("link", name=re.compile("Drehzahl 1.min"))
    entry.wait_for(timeout=STEP_MS)
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent").startswith("Drehzahl 1/min"):
            break
    page.keyboard.press("Enter")
    page.get_by_role("heading", name=re.compile("Drehzahl 1.min likely")).wait_for()
    # The choices may be drawn once more while the tag's course arrives.
    page.wait_for_load_state("networkidle")
    page.get_by_role("radio", name=re.compile("^screw speed")).press("ArrowUp")
    page.get_by_role("heading", name=re.compile("Drehzahl 1.min left out by you")).wait_for()
    held = page.evaluate("document.activeElement.closest('#import-role') !== null")
    page.get_by_label("Another role").select_option("screw_speed")
    page.get_by_role("heading", name=re.compile("Drehzahl 1.min chosen by you")).wait_for()
    assert held, "the focus stays where the person is"
    walk.close()
