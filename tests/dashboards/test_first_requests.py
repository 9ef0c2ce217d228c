"""Browsers that ask at once, the moment the server is there."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from dash import Dash

from dashboards.app import create_app
from dashboards.memory_data import MemoryData
from dashboards.texts import language

CALLERS = 4


def test_each_of_the_first_pages_brings_its_scripts_and_styles(monkeypatch: pytest.MonkeyPatch) -> None:
    gather = Dash._walk_assets_directory

    def slowly(app: Any) -> None:
        time.sleep(0.3)
        gather(app)

    monkeypatch.setattr(Dash, "_walk_assets_directory", slowly)
    app = create_app(MemoryData())

    def asked(_: int) -> str:
        return app.server.test_client().get("/live/twin").get_data(as_text=True)

    with ThreadPoolExecutor(CALLERS) as callers:
        pages = list(callers.map(asked, range(CALLERS)))

    assert all("assets/page.js" in page for page in pages)
    assert all(".css" in page for page in pages)


def test_whoever_builds_an_app_keeps_their_language() -> None:
    """The request that sets it up is made in a context of its own."""
    token = language.set("another")
    try:
        create_app(MemoryData())
        assert language.get() == "another"
    finally:
        language.reset(token)
