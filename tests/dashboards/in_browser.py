"""What every test in a real browser needs: the browser, a served app, and a visit that remembers what went wrong.

Needs playwright and a chromium on the path; tests are skipped where one is missing, except on CI, where that is a
failure.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest

from dashboards.app import create_app
from dashboards.data import JournalData
from dashboards.workshop.places import Places

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
try:
    from playwright.sync_api import sync_playwright
except ImportError:  # pragma: no cover
    sync_playwright = None  # type: ignore[assignment]
if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

MISSING = "no chromium on the path" if sync_playwright else "playwright is not installed"
READY = CHROMIUM is not None and sync_playwright is not None
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
WIDTHS = (1440, 820, 390)

MARKS = [
    pytest.mark.skipif(not READY and os.environ.get("CI") != "true", reason=MISSING),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@contextmanager
def served(data: JournalData, places: Places | None = None, *, lang: str = "en") -> Iterator[str]:
    """Address of the app on a free port of this computer. places: folders that its pages may write to."""
    from werkzeug.serving import make_server

    server = make_server("127.0.0.1", 0, create_app(data, places=places, lang=lang).server, threaded=True)
    # It looks this often whether it is to end; half a second, as usual, is most of a short test.
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join(timeout=5)
        server.server_close()


@contextmanager
def running_browser() -> Iterator[Browser]:
    """A browser without a window."""
    assert sync_playwright is not None and READY, f"{MISSING}, and on CI the browser tests must run"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield chromium
        chromium.close()


class Visit:
    """A page with everything that went wrong on it."""

    def __init__(
        self, browser: Browser, address: str, width: int = 1440, scheme: Any = "light", height: int = 900
    ) -> None:
        self.context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
        self.page: Page = self.context.new_page()
        self.address = address
        self.wrong: list[str] = []
        self.page.on("console", self._console)
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("requestfailed", lambda request: self.wrong.append(f"failed {request.url}"))
        self.page.on("request", self._request)

    def _console(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.wrong.append(message.text)

    def _request(self, request: Any) -> None:
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.wrong.append(f"fetched {request.url}")

    def open(self, path: str, heading: str) -> Page:
        """The page at a path, once its heading is there."""
        self.page.goto(self.address + path)
        self.page.wait_for_function(
            "text => [...document.querySelectorAll('h1')].some(h => h.textContent.startsWith(text))",
            arg=heading,
        )
        return self.page
