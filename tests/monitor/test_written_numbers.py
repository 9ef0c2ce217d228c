"""Numbers that stand for no reading are none where nothing else says so; a reading that may be one stays."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeder_weight_still import FeederWeightStill
from monitor.line import Line
from monitor.written_numbers import WrittenNumbers
from monitor.zeroed import Zeroed
from tests.monitor.conditions.told import TWIN, told
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe


def line_with(**sensor: object) -> Line:
    """A line that logs the weight of a feeder and one more sensor."""
    data = TWIN.model_dump()
    weight = {"tag": "W", "role": "feeder_weight", "at": TWIN.feeder[0].name}
    return Line.model_validate({**data, "sensor": [weight, {"tag": "x", **sensor}], "version": str(sensor)})


RATE = {"role": "feeder_rate", "at": TWIN.feeder[0].name}


@pytest.mark.parametrize(
    ("sensor", "number", "none"),
    [
        pytest.param(RATE, 32767.0, True, id="largest of 16 bits"),
        pytest.param(RATE, 6553.5, True, id="with a decimal"),
        pytest.param(RATE, -999.0, True, id="nines"),
        pytest.param(RATE, float(np.float32(3276.7)), True, id="out of four bytes"),
        pytest.param({**RATE, "unit": "lb/h"}, 32767.0 * 0.45359237, True, id="written in pounds"),
        pytest.param(RATE, 6553.0, False, id="a rate of a large line"),
        pytest.param(RATE, -0.4, False, id="a scale that drifts"),
        pytest.param({**RATE, "range": (0.0, 8000.0)}, 6553.5, False, id="its range lets it"),
        pytest.param({**RATE, "unit": "relative"}, 32767.0, False, id="counts of a converter"),
        pytest.param({"role": "feeder_setpoint", "at": RATE["at"]}, 9999.0, False, id="typed"),
        pytest.param({"role": "feeder_setpoint", "at": RATE["at"]}, 32767.0, True, id="nobody types this"),
        pytest.param({"role": "packed_total"}, 9999.0, False, id="a total passes through it"),
    ],
)
def test_which_numbers_are_no_readings(sensor: dict[str, object], number: float, none: bool) -> None:
    line = line_with(**sensor)
    values = np.array([[20.0, 19.9, 19.8], [30.0, number, 30.0]])
    for found in (WrittenNumbers(line).of(values), Zeroed(line).of(values)):
        assert (found is not None and found.tolist() == [[False] * 3, [False, True, False]]) == none
        assert none or found is None


def test_what_is_not_known_is_none_of_them() -> None:
    assert WrittenNumbers(line_with(**RATE)).of(np.full((2, 4), np.nan)) is None


def test_a_feeder_that_stands_still_is_said_whatever_is_written_in_between() -> None:
    at, key = range(900, 1500), "feeder_weight:F2"
    s = FeederScript(2400)
    s.x[key][at] = s.x[key][900]
    s.put("feeder_refill:F2", 900, 1500, 0)
    line, recipe = feeder_line(), feeder_recipe()
    clean = told(s, FeederWeightStill(), line=line, recipe=recipe)
    s.x[key][list(at)[::50]] = 32767.0
    written = told(s, FeederWeightStill(), line=line, recipe=recipe)
    assert [f.last.channel for f in clean] == [f.last.channel for f in written] == [key]
