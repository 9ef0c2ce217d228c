"""An invented plant in memory: Line 3 with a feeder going short just now, Line 5 whose data stopped."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from dashboards.memory_data import MemoryData
from tests.dashboards.in_browser import end_servers
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, SECOND


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


@pytest.fixture(scope="session", autouse=True)
def servers_end() -> Iterator[None]:
    """What was served for tests in a browser ends with the tests."""
    yield
    end_servers()
