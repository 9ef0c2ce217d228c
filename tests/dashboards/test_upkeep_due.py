"""What upkeep leaves alone on a line that stands, what it lists as due, and what it takes for usual."""

from __future__ import annotations

import pytest

from dashboards.memory_data import MemoryData
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_items import upkeep_items
from tests.dashboards.lines import twin
from tests.dashboards.plant import END


def item(data: MemoryData, line: str, name: str) -> UpkeepItem:
    return next(i for i in upkeep_items(data, line) if i.name == f"{line}/{name}")


@pytest.mark.parametrize(
    ("still", "named", "calls"),
    [({"screw_speed": 0.0}, "stands", False), ({"feeder_setpoint:F3": 0.0}, "stands", False), ({}, "-100", True)],
)
def test_a_feeder_that_is_not_asked_to_feed_is_not_far_from_its_set_rate(
    still: dict[str, float], named: str, calls: bool
) -> None:
    held = twin()
    for key, value in {**still, "feeder_rate:F3": 0.0, "feeder_drive:F3": 0.0}.items():
        held.block.values[held.block.channels.index(key), -400:] = value
    held.findings = []
    found = item(MemoryData([held], clock=lambda: END), "Line 3", "feeder:F3")

    assert found.calls is calls and named in found.words.replace("\u2212", "-")


def test_a_feeder_that_feeds_on_without_the_screws_is_not_called_idle() -> None:
    held = twin()
    held.block.values[held.block.channels.index("screw_speed"), -400:] = 0.0
    found = item(MemoryData([held], clock=lambda: END), "Line 3", "feeder:F3")

    assert "stands" not in found.words
