"""A feeder that logs its rate alone: the rate stands to the digit while the others move."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.controller_stale import ControllerStale
from monitor.records import Finding
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.scripted_world import Script, scripted_line, scripted_recipe
from tests.monitor.world_path import line_without

FROM, F1, LOG_S = 5000, "feeder_rate:F1", 8000
LINE = line_without("feeder_drive", "feeder_weight", "feeder_refill")


def said(stands: float, for_s: int, step: float = 0.0, scatter: float = 1.0) -> list[Finding]:
    """stands: the rate it shows meanwhile, kg/h over its set-point. step: of its display."""
    s = Script(scripted_line(), LOG_S, 5)
    mean = s.x["feeder_setpoint:F1"] + np.where(np.arange(LOG_S) < FROM, step / 2, 0.9 * step)
    s.x[F1] = mean + scatter * np.random.default_rng(9).normal(0.0, 1.0, LOG_S)
    if step:
        s.x[F1] = step * np.rint(s.x[F1] / step)
    if stands:
        s.put(F1, FROM, FROM + for_s, float(s.x["feeder_setpoint:F1"][0]) + stands)
    return told(s, ControllerStale(), line=LINE, recipe=scripted_recipe())


@pytest.mark.parametrize("step", [0.0, 1.0])
def test_a_rate_that_moved_and_stands_beside_its_set_point_is_said_after_twenty_minutes(step: float) -> None:
    found = only(said(1.0, 2400, step))

    assert found.last.channel == F1 and 6190 <= (seconds(found.first_decided_at) or 0) <= 6240


def test_a_refill_by_hand_and_a_display_that_comes_to_rest_between_two_digits_are_none() -> None:
    assert said(1.0, 900) == []
    assert said(0.0, 0, step=1.0, scatter=0.08) == []
