"""A heater that falls without current speaks for those that lost theirs with it, not for one whose pauses are met."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.heater_dead import HeaterDead
from monitor.line import Line
from tests.monitor.conditions.test_heater_dead import AMPS, FROM, LOG_S, TO, fuse_gone
from tests.monitor.conditions.told import told
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HeatScript

BESIDE = "zone_current:Z5"


@pytest.mark.parametrize(
    ("lost_s", "named"), [(FROM + 20, {"zone_output:Z4", "zone_output:Z5"}), (FROM - 400, {"zone_output:Z4"})]
)
def test_only_what_is_lost_at_once_is_lost_together(lost_s: int, named: set[str]) -> None:
    """Z5 holds its temperature: read at a contactor's own pace its current is none from then on, whatever it draws."""
    data = HEAT_LINE.model_dump()
    data["sensor"] = [*data["sensor"], {"tag": "zone_current.Z5", "role": "zone_current", "at": "Z5"}]
    line, s = Line.model_validate({**data, "version": "two currents"}), HeatScript(LOG_S)
    at = np.arange(s.n) * s.cadence
    fuse_gone(s)
    for key, since in ((AMPS, FROM), (BESIDE, lost_s)):
        due = np.clip(s.x[f"zone_output:{key[-2:]}"] / 100, 0, 1)
        s.x[key] = np.where((at >= since) & (at < TO), 0.0, 20 * due)

    assert {one.last.channel for one in told(s, HeaterDead(), line=line, recipe=HEAT_RECIPE)} == named
