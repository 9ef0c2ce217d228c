"""What every test in a real browser needs: the browser, a served app, and a visit that remembers what went wrong.

Needs playwright and a chromium on the path; tests are skipped where one is missing, except on CI, where that is a
failure.
"""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections import defaultdict
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
    from playwright.sync_api import Browser, BrowserContext, Page
    from werkzeug.serving import BaseWSGIServer

MISSING = "no chromium on the path" if sync_playwright else "playwright is not installed"
READY = CHROMIUM is not None and sync_playwright is not None
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
WIDTHS = (1440, 820, 390)
QUESTIONS = "**/_dash-update-component*"
"""What a page asks the server, as an address to hold back: there is more behind a question mark."""

MARKS = [
    pytest.mark.skipif(not READY and os.environ.get("CI") != "true", reason=MISSING),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


TAKEN_UP = """() => document.getElementById('page')
  && window.dash_component_api.getLayout('width').props.data === window.dash_clientside.evenmelt.width()"""
"""Whether the page knows how wide it is: it takes that up 250 ms after the last change, and then asks anew."""
STANDS_STILL = """quiet => new Promise(done => {
  let last = performance.now(), frames = 0;
  const changed = () => { last = performance.now(); frames = 0; };
  const seen = new MutationObserver(changed);
  seen.observe(document, { subtree: true, childList: true, attributes: true, characterData: true });
  const look = () => {
    frames += 1;
    if (performance.now() - last < quiet || frames < quiet / 40) return requestAnimationFrame(look);
    seen.disconnect();
    done();
  };
  requestAnimationFrame(look);
})"""
"""Until nothing was changed for so long, ms, in which a busy page had turns too: 25 a second of the 60 there are."""

ASKED_AGAIN = """times => {
  const clock = document.querySelector('.page.live') && window.dash_component_api.getLayout('live-tick')?.props;
  return !clock || clock.interval > 1000 || (clock.n_intervals ?? 0) >= times;
}"""

_free_servers: list[BaseWSGIServer] = []
"""Servers that serve nothing now. One that is taken again has its old address, whose files a window has read before."""
_free_windows: dict[tuple[Browser, str, str], list[tuple[BrowserContext, Page]]] = defaultdict(list)
"""Windows that nobody is at, by browser, scheme and script: to open one and read every script anew takes seconds."""


def _nothing(environ: Any, start_response: Any) -> list[bytes]:
    """An app that is gone."""
    start_response("410 Gone", [])
    return []


def _started() -> BaseWSGIServer:
    from werkzeug.serving import make_server

    server = make_server("127.0.0.1", 0, _nothing, threaded=True)
    threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True).start()
    return server


@contextmanager
def served(data: JournalData, places: Places | None = None, *, lang: str = "en") -> Iterator[str]:
    """Address of the app on a free port of this computer. places: folders that its pages may write to."""
    server = _free_servers.pop() if _free_servers else _started()
    server.app = create_app(data, places=places, lang=lang).server
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.app = _nothing
        _free_servers.append(server)


def end_servers() -> None:
    """Ends the servers that serve nothing; at the end of all tests."""
    while _free_servers:
        server = _free_servers.pop()
        server.shutdown()
        server.server_close()


@contextmanager
def running_browser() -> Iterator[Browser]:
    """A browser without a window."""
    assert sync_playwright is not None and READY, f"{MISSING}, and on CI the browser tests must run"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield chromium
        for key in [key for key in _free_windows if key[0] is chromium]:
            del _free_windows[key]
        chromium.close()


class Visit:
    """A window with everything that went wrong in it.

    script: runs before those of every page. The window may have been used before; `leave` took all from it that a
    page could find again.
    """

    def __init__(
        self,
        browser: Browser,
        address: str,
        width: int = 1440,
        scheme: Any = "light",
        height: int = 900,
        script: str = "",
    ) -> None:
        self._free = _free_windows[browser, scheme, script]
        if self._free:
            self.context, self.page = self._free.pop()
            self.page.set_viewport_size({"width": width, "height": height})
        else:
            self.context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
            self.page: Page = self.context.new_page()
            if script:
                self.page.add_init_script(script)
        self.address = address
        self.wrong: list[str] = []
        self._heard: dict[Any, Any] = {
            "console": self._console,
            "pageerror": self._error,
            "requestfailed": self._failed,
            "requestfinished": self._answered,
            "request": self._request,
        }
        self._asked: set[Any] = set()
        for event, heard in self._heard.items():
            self.page.on(event, heard)

    def leave(self) -> None:
        """Leaves the window as if it were new: nothing kept by a page, held back, pointed at or still asked for."""
        for event, heard in self._heard.items():
            self.page.remove_listener(event, heard)
        self.page.unroute_all(behavior="ignoreErrors")
        for other in self.context.pages:
            if other is not self.page:
                other.close()
        if self.page.url.startswith(self.address):
            self.page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
        self.context.clear_cookies()
        self.page.mouse.move(0, 0)
        self.page.goto("about:blank")
        self._free.append((self.context, self.page))

    def _error(self, error: Any) -> None:
        self.wrong.append(str(error))

    def _failed(self, request: Any) -> None:
        self._asked.discard(request)
        self.wrong.append(f"failed {request.url}")

    def _answered(self, request: Any) -> None:
        self._asked.discard(request)

    def rest(self, quiet_ms: int, most_ms: int = 15_000) -> None:
        """Waits until the page has stood still for so long, with no question to the server open."""
        until = time.monotonic() + most_ms / 1000
        while True:
            self.page.evaluate(STANDS_STILL, quiet_ms)
            if not self._asked:
                return
            assert time.monotonic() < until, f"unanswered: {[request.url for request in self._asked]}"

    def widen(self, width: int) -> None:
        """Makes the window as wide as that, px; waits until the page has taken it up and has its answers."""
        self.page.set_viewport_size({"width": width, "height": 900})
        self.page.wait_for_function(TAKEN_UP)
        self.rest(100)

    def looked(self, times: int = 2) -> None:
        """Waits until a page that asks every second has done so for so many times; then, as on any page, rests."""
        self.page.wait_for_function(ASKED_AGAIN, arg=times)
        self.rest(200)

    def _console(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.wrong.append(message.text)

    def _request(self, request: Any) -> None:
        self._asked.add(request)
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
