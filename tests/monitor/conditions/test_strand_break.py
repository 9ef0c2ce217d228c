"""Haul-off load down by a part in the number of strands, everything else the same."""

from __future__ import annotations

import re

import pytest

from monitor.conditions.strand_break import StrandBreak
from tests.monitor.conditions.path_nuisances import feed_lost, stop_and_start
from tests.monitor.conditions.told import Story, only, told
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import add, path_recipe, path_script


def slower_haul_off(s: Script) -> None:
    s.scale("haul_off_speed", 3000, 6000, 0.9)
    s.scale("haul_off_load", 3000, 6000, 0.9)


def fading(s: Script) -> None:
    add(s, "haul_off_load", 1000, 6000, 0, -6)


def less_melt(s: Script) -> None:
    """A path blocks at the throat: a filler holds the pressure up, the rates are on set, the strands get thinner."""
    s.scale("torque", 2980, 6000, 0.75)
    s.scale("haul_off_load", 3000, 6000, 0.85)


@pytest.mark.parametrize("strands", [4, 10, 20])
def test_one_of_so_many(strands: int) -> None:
    s = path_script(6000)
    s.scale("haul_off_load", 3000, 3200, 1 - 1 / strands)
    found = only(told(s, StrandBreak(), recipe=path_recipe()))
    said = int(re.findall(r"1 strand in (\d+)", found.last.summary)[0])
    assert abs(said - strands) <= max(1, strands // 5) and found.last.until is not None


@pytest.mark.parametrize("story", [slower_haul_off, fading, stop_and_start, feed_lost, less_melt])
def test_silent(story: Story) -> None:
    s = path_script(8000)
    story(s)
    assert told(s, StrandBreak(), recipe=path_recipe()) == []
