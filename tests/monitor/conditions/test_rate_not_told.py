"""A line that logs rates and no set-points: another rate of all feeders at once is asked for, one feeder's is not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.conditions.feeder_stopped import FeederBridged
from monitor.conditions.flooded import Flooded
from monitor.conditions.sme_off import SmeOff
from monitor.conditions.starved import Starved
from monitor.line import Line
from tests.monitor.conditions.told import R1, TWIN, changed, told, twin, without
from tests.monitor.scripted_world import FEEDERS, Script

LOG_S, FROM = 7200, 3600
PLAIN = without(TWIN, "feeder_setpoint", "feeder_drive", "feeder_weight", "feeder_running", "screw_speed_setpoint")
LOAD = (Starved(), Flooded(), SmeOff(), FeederOffTarget(), FeederBridged())
SHARED = changed(R1, shares={name: 100 * rate / 300 for name, rate in FEEDERS.items()})
NO_RATE = changed(R1, recipe={"rate_kg_h": None})


def ramps(s: Script, key: str, to: float, over_s: int) -> None:
    part = s.x[key][FROM:]
    part *= [to if i >= over_s else 1 + (to - 1) * i / over_s for i in range(len(part))]


def trimmed(to: float, over_s: int) -> Script:
    """Ratio control takes all feeders to another rate; torque goes with it, pressure by the power law."""
    s = twin(LOG_S)
    for name in FEEDERS:
        ramps(s, f"feeder_rate:{name}", to, over_s)
    ramps(s, "torque", to**0.95, over_s)
    ramps(s, "melt_pressure:P1", to**0.35, over_s)
    return s


@pytest.mark.parametrize("recipe", [SHARED, NO_RATE], ids=["shares and rate", "no rate"])
@pytest.mark.parametrize(("to", "over_s"), [(1.1, 60), (1.12, 20), (0.85, 20), (0.73, 240), (0.8, 60)])
def test_another_rate_of_all_feeders_is_no_fault(to: float, over_s: int, recipe: object) -> None:
    found = told(trimmed(to, over_s), *LOAD, line=PLAIN, recipe=recipe)  # type: ignore[arg-type]

    assert [f.last.summary for f in found] == []


def test_a_small_trim_beside_a_thicker_lot_is_not_over_fed() -> None:
    """Too small a trim to be another rate: what it takes of torque counts as told all the same."""
    s = trimmed(1.035, 60)
    ramps(s, "torque", 1.09, 20)
    ramps(s, "melt_pressure:P1", 1.04, 20)

    assert told(s, Flooded(), line=PLAIN, recipe=SHARED) == []


@pytest.mark.parametrize("left", [0.0, 0.6])
def test_the_main_feeder_alone_is_still_found(left: float) -> None:
    s = twin(LOG_S)
    fed = 1 - 0.8 * (1 - left)
    s.scale("feeder_rate:F1", FROM, FROM + 900, left)
    s.scale("torque", FROM, FROM + 900, fed)
    s.scale("melt_pressure:P1", FROM + 20, FROM + 900, fed**0.35)
    found = told(s, Starved(), line=PLAIN, recipe=SHARED)

    assert len(found) == 1 and "less than set" in found[0].last.summary


def test_a_line_rate_of_unknown_unit_beside_them_hides_no_feeder() -> None:
    s = twin(LOG_S)
    s.x["line_rate"] = np.full(s.n, 50.0)
    s.scale("feeder_rate:F2", FROM, FROM + 900, 0.02)
    beside = PLAIN.model_dump()
    beside["sensor"] = [*beside["sensor"], {"tag": "share", "role": "line_rate", "unit": "relative"}]
    line = Line.model_validate({**beside, "version": "a rate of unknown unit"})
    found = told(s, FeederBridged(), line=line, recipe=SHARED)

    assert [f.last.channel for f in found] == ["feeder_rate:F2"]


def test_after_a_trim_a_loss_is_measured_against_the_new_rate() -> None:
    s = trimmed(0.8, 30)
    part = slice(FROM + 1800, FROM + 2400)
    s.x["feeder_rate:F1"][part] *= 0.6
    s.x["torque"][part] *= 0.68
    s.x["melt_pressure:P1"][part] *= 0.87
    found = told(s, Starved(), line=PLAIN, recipe=SHARED)

    assert len(found) == 1 and "feeders deliver 32 % less than set" in found[0].last.summary


def test_a_blocked_path_whose_feeders_back_up_is_still_found() -> None:
    s = twin(LOG_S)
    s.scale("torque", FROM, FROM + 1200, 0.45)
    s.scale("melt_pressure:P1", FROM + 20, FROM + 1200, 0.75)
    for name in FEEDERS:
        s.scale(f"feeder_rate:{name}", FROM + 240, FROM + 1200, 0.88)
    found = told(s, Starved(), Flooded(), line=PLAIN, recipe=SHARED)

    assert (
        found
        and found[0].last.condition == "starved"
        and "path blocked" in " ".join((found[0].last.summary, *found[0].last.cause_texts))
    )
