"""Takes the README's pictures from the running demo: `python -m dashboards.pictures.take [folder]`.

Only for contributors, from a checkout: needs playwright (in the `test` extra) and Chromium on the path. Pillow is used
to make the files smaller where it is installed; nothing asks for it. Without `folder` the pictures beside this file are
replaced. It takes about two minutes; look at every picture before it is committed.

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

from playwright.sync_api import Page, sync_playwright

from dashboards.pictures.smaller import smaller
from dashboards.urls import live_url, lot_url, upkeep_url

LINE, LOT = "twin 4", "L2043"
WIDTH_PX = 1440
SPEED = 60
START_S = 240
FINDING_MS = 150_000
SETTLED_MS = 2_500
"""Time for a page's charts to be drawn, wall clock."""
STANDS_MS = 4_000
"""From the finding's first sight to the picture: four plant minutes at the demo's speed."""
CHROMIUM_ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]


def take(folder: Path) -> None:
    """Write live.png, lot.png and upkeep.png into `folder`. Raises RuntimeError when the demo does not start."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise RuntimeError("no chromium on the path")
    with demo() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM_ARGS)
        page = browser.new_page(viewport={"width": WIDTH_PX, "height": 900}, color_scheme="light")

        page.goto(address + live_url(LINE))
        page.locator(".finding >> visible=true").first.wait_for(timeout=FINDING_MS)
        page.wait_for_timeout(STANDS_MS)
        shoot(page, folder / "live.png", height_px=1200)

        page.goto(address + upkeep_url())
        page.locator(".entry >> visible=true").first.wait_for()
        page.wait_for_timeout(SETTLED_MS)
        shoot(page, folder / "upkeep.png", height_px=1200)

        page.goto(address + lot_url(LINE, LOT))
        page.get_by_text(re.compile("bridged")).locator("visible=true").first.wait_for()
        page.wait_for_timeout(SETTLED_MS)
        shoot(page, folder / "lot.png", height_px=1200)
        browser.close()


def shoot(page: Page, path: Path, height_px: int) -> None:
    """The top `height_px` of the page."""
    page.set_viewport_size({"width": WIDTH_PX, "height": height_px})
    page.wait_for_timeout(SETTLED_MS)
    path.write_bytes(smaller(page.screenshot(animations="disabled")))
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
