"""A hopper filled by hand, bag by bag: the refill hold runs out and the reported rate is wrong for some minutes."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.conditions.feeder_stopped import FeederBridged
from monitor.conditions.rate_not_weight import RateNotWeight
from monitor.conditions.recipe_window import RecipeWindow
from monitor.conditions.share_wrong import ShareWrong
from monitor.contract import Condition
from tests.monitor.conditions.feeder_stories import FROM, calm
from tests.monitor.conditions.told import told
from tests.monitor.world_feeders import SETS, FeederScript, feeder_recipe

HAND_S, HOLD_S = 170, 100
CONDITIONS = (FeederBridged(), FeederOffTarget(), ShareWrong(), RateNotWeight(), RecipeWindow())


def filled_by_hand(s: FeederScript) -> None:
    """18 kg in three minutes; after its hold the controller sees the weight rise, shows no rate and speeds up, finds
    its rate again two minutes after the last bag and has fed too much meanwhile."""
    s.refill("F2", FROM, 18.0, over_s=HAND_S)
    s.put("feeder_rate:F2", FROM + HOLD_S, FROM + HAND_S + 90, 0.0)
    s.put("feeder_drive:F2", FROM + HOLD_S, FROM + HAND_S + 90, 100.0)
    back = s.span(FROM + HAND_S + 90, FROM + HAND_S + 240)
    s.x["feeder_rate:F2"][back] = SETS["F2"] * np.linspace(1.3, 1.0, len(s.x["feeder_rate:F2"][back]))
    s.loses("F2", FROM + HOLD_S, FROM + HAND_S + 90, SETS["F2"])


@pytest.mark.parametrize("condition", CONDITIONS, ids=lambda condition: condition.name)
def test_a_hopper_filled_by_hand_is_silent(condition: Condition) -> None:
    s = calm()
    filled_by_hand(s)

    assert [f.last.summary for f in told(s, condition, recipe=feeder_recipe())] == []


def test_a_feeder_that_does_not_find_its_rate_again_is_said() -> None:
    s = calm()
    filled_by_hand(s)
    s.put("feeder_rate:F2", FROM + HOLD_S, FROM + 1500, 0.2 * SETS["F2"])

    assert [f.last.condition for f in told(s, FeederBridged(), recipe=feeder_recipe())] == ["feeder_bridged"]
