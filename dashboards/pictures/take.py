"""Takes the README's pictures from the running demo: `python -m dashboards.pictures.take [folder]`.

Only for contributors, from a checkout: needs playwright (in the `test` extra) and Chromium on the path. Pillow is used
to make the files smaller where it is installed; nothing asks for it. Without `folder` the pictures beside this file are
replaced. It takes about a minute; look at every picture before it is committed.

The demo's live line begins with a talc feeder that bridges about 25 plant minutes in, 25 s at the demo's speed. The
live page is taken once that finding stands, a few plant minutes later, so that its chart shows the fall.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import FloatRect, Page, sync_playwright

from dashboards import ids
from dashboards.command_line.demo_plant import START_NS, lot_at
from dashboards.pictures.smaller import smaller
from dashboards.urls import live_url, lot_url, upkeep_url

LINE, LOT = "twin 4", "L2043"
WIDTH_PX, LOWEST_PX, HIGHEST_PX = 1440, 1000, 1300
SPEED = 60
START_S = 240
FINDING_MS = 150_000
DRAWN_MS = 2_500
"""Time for a page's charts to be drawn, wall clock."""
STANDS_MS = 4_000
"""From the finding's first sight to the picture: four plant minutes at the demo's speed."""
CHROMIUM_ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]


def take(folder: Path) -> None:
    """Write live.png, upkeep.png and lot.png into `folder`. Raises RuntimeError without Chromium or a demo."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise RuntimeError("no chromium on the path")
    with demo() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM_ARGS)
        page = browser.new_page(viewport={"width": WIDTH_PX, "height": HIGHEST_PX}, color_scheme="light")

        open_live(page, address)
        page.locator(f"#{ids.LIVE_FINDINGS} .finding").first.wait_for(timeout=FINDING_MS)
        page.wait_for_timeout(STANDS_MS)
        shoot(page, folder / "live.png", last=f".map:has(#{ids.LIVE_AHEAD})")

        page.goto(address + upkeep_url())
        page.locator(".entry").first.wait_for()
        page.wait_for_timeout(DRAWN_MS)
        shoot(page, folder / "upkeep.png", last=f"#{ids.UPKEEP_CHART}")

        page.goto(address + lot_url(LINE, LOT))
        page.locator(f"#{ids.LOT_FINDINGS} .finding").first.wait_for()
        page.wait_for_timeout(DRAWN_MS)
        shoot(page, folder / "lot.png", last=f".map:has(#{ids.LOT_SHEET})")
        browser.close()


def open_live(page: Page, address: str) -> None:
    """The live page, opened anew until the live line has begun. Raises RuntimeError when it does not begin.

    Before that the page shows the line's newest finished lot, which has findings of its own, and looks again only
    every minute.
    """
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        page.goto(address + live_url(LINE))
        page.wait_for_timeout(DRAWN_MS)
        if lot_at(START_NS) in page.locator(f"#{ids.LIVE_FACTS}").inner_text():
            return
    raise RuntimeError(f"{LINE} did not begin in {START_S} s")


def shoot(page: Page, path: Path, last: str) -> None:
    """The page from its top to the lower edge of the element `last` (a CSS selector), within the picture's bounds.

    Raises RuntimeError when there is no such element.
    """
    box = page.locator(last).first.bounding_box()
    if box is None:
        raise RuntimeError(f"{path.name}: nothing on the page is {last}")
    height_px = round(min(max(box["y"] + box["height"], LOWEST_PX), HIGHEST_PX))
    clip: FloatRect = {"x": 0, "y": 0, "width": WIDTH_PX, "height": height_px}
    path.write_bytes(smaller(page.screenshot(animations="disabled", clip=clip)))
    print(f"{path.name}: {WIDTH_PX} x {height_px}, {path.stat().st_size / 1000:.0f} kB", flush=True)


@contextmanager
def demo() -> Iterator[str]:
    """Address, without a slash at its end, of a demo of its own; it is ended and its data thrown away afterwards."""
    with tempfile.TemporaryDirectory(prefix="evenmelt-pictures-") as kept:
        told = Path(kept) / "told.txt"
        command = [sys.executable, "-u", "-m", "dashboards.command_line", "demo", "--no-browser", "--port", "0"]
        with told.open("w", encoding="utf-8") as out:
            running = subprocess.Popen(
                [*command, "--speed", str(SPEED), "--data", str(Path(kept) / "data")],
                stdout=out, stderr=subprocess.STDOUT,
            )  # fmt: skip
            try:
                yield _address(running, told)
            finally:
                running.terminate()
                try:
                    running.wait(timeout=30)
                except subprocess.TimeoutExpired:
                    running.kill()
                    running.wait()


def _address(running: subprocess.Popen[bytes], told: Path) -> str:
    until = time.monotonic() + START_S
    while time.monotonic() < until and running.poll() is None:
        found = re.search(r"http://127\.0\.0\.1:\d+", told.read_text(encoding="utf-8"))
        if found:
            return found.group()
        time.sleep(0.2)
    raise RuntimeError(f"the demo did not start: {told.read_text(encoding='utf-8')}")


if __name__ == "__main__":
    take(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
