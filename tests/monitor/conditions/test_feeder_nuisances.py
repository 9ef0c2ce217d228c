"""Every feeder condition stays silent on what happens at feeders every day, at several cadences."""

from __future__ import annotations

import pytest

from monitor.conditions.registry import CONDITIONS
from tests.monitor.conditions.feeder_stories import LOG_S, STORIES, Story, calm
from tests.monitor.conditions.told import told
from tests.monitor.world_feeders import feeder_recipe

FEEDING = tuple(
    condition
    for condition in CONDITIONS
    if condition.family in ("feeder", "composition") or condition.name == "start_order"
)
ONLY_SAID = {"emptied": {"share_wrong", "composition_at_die"}}
"""A feeder switched off while the recipe wants it is no nuisance for the shares."""


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.__name__)
@pytest.mark.parametrize("cadence_s", [1.0, 5.0])
def test_stays_silent(story: Story, cadence_s: float) -> None:
    s = calm(LOG_S, cadence_s=cadence_s)
    story(s)
    found = told(s, *FEEDING, recipe=feeder_recipe())
    allowed = ONLY_SAID.get(story.__name__, set())

    assert [(f.last.condition, f.last.summary) for f in found if f.last.condition not in allowed] == []
