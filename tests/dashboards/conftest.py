"""An invented plant in memory: Line 3 with a feeder going short just now, Line 5 whose data stopped. And a browser."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from dashboards.memory_data import MemoryData
from tests.dashboards.filled_demos import FilledDemos
from tests.dashboards.in_browser import end_servers, running_browser, served
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, SECOND

if TYPE_CHECKING:
    from playwright.sync_api import Browser


@pytest.fixture(scope="session")
def data() -> MemoryData:
    """Line 3 half a second after its newest reading, Line 5 two hours after its."""
    return MemoryData([twin(), single()], clock=lambda: END + SECOND // 2)


@pytest.fixture(scope="session")
def end_ns() -> int:
    """End of Line 3's log."""
    return END


@pytest.fixture(scope="session")
def empty_data() -> MemoryData:
    """A journal with no line in it."""
    return MemoryData([], clock=lambda: END)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser without a window, for the tests of one file."""
    with running_browser() as chromium:
        yield chromium


@pytest.fixture(scope="module")
def address(data: MemoryData) -> Iterator[str]:
    """Where the pages of this plant are served."""
    with served(data) as at:
        yield at


@pytest.fixture(scope="session")
def filled_demos(tmp_path_factory: pytest.TempPathFactory) -> FilledDemos:
    """Journals of demos, for all processes of this test run."""
    base = tmp_path_factory.getbasetemp()
    at = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "demos"
    at.mkdir(exist_ok=True)
    return FilledDemos(at)


@pytest.fixture(scope="session", autouse=True)
def servers_end() -> Iterator[None]:
    """What was served for tests in a browser ends with the tests."""
    yield
    end_servers()
