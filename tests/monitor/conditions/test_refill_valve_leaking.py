"""A hopper that fills by itself, slowly; refills, hands and gas are not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.refill_valve_leaking import RefillValveLeaking
from tests.monitor.conditions.feeder_stories import FROM, Story, calm
from tests.monitor.conditions.told import only, told
from tests.monitor.world_feeders import FeederScript, feeder_recipe

TO = FROM + 1500


def stands(s: FeederScript) -> None:
    for what in ("rate", "setpoint", "drive"):
        s.put(f"feeder_{what}:F3", FROM, TO, 0)
    s.put("feeder_weight:F3", FROM, TO, 30)


def leaks_standing(s: FeederScript) -> None:
    stands(s)
    s.put("feeder_weight:F3", FROM + 60, TO, 30, slope_s=5 / 3600)


def leaks_feeding(s: FeederScript) -> None:
    """More comes in than the 3 kg/h it feeds."""
    s.even_weight("F3", 30, FROM, TO)
    s.loses("F3", FROM, TO, -9)


def hand(s: FeederScript) -> None:
    stands(s)
    s.x["feeder_weight:F3"][s.span(FROM + 300, TO)] += 2


def drifts_a_little(s: FeederScript) -> None:
    """The hall warms up: 100 g in ten minutes."""
    stands(s)
    s.put("feeder_weight:F3", FROM, TO, 30, slope_s=0.1 / 600)


def filled_by_hand(s: FeederScript) -> None:
    stands(s)
    weight = s.x["feeder_weight:F3"]
    part = s.span(FROM, FROM + 600)
    weight[part] = np.linspace(10, 50, len(weight[part]))
    s.put("feeder_weight:F3", FROM + 600, TO, 50)


@pytest.mark.parametrize(("story", "leak", "confidence"), [(leaks_standing, 5, "high"), (leaks_feeding, 9, "medium")])
def test_speaks(story: Story, leak: float, confidence: str) -> None:
    s = calm()
    story(s)
    last = only(told(s, RefillValveLeaking(), recipe=feeder_recipe())).last

    assert last.confidence == confidence and "creeps up" in last.summary
    assert next(e.value for e in last.evidence if e.what == "comes in") == pytest.approx(leak, rel=0.15)


@pytest.mark.parametrize("story", [stands, hand, drifts_a_little, filled_by_hand])
def test_stays_silent(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, RefillValveLeaking(), recipe=feeder_recipe()) == []
