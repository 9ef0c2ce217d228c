"""A planned stop with set-points left standing: feeders are switched off on purpose, nothing has failed."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.burst_disc_or_leak import BurstDiscOrLeak
from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.conditions.feeder_stopped import FeederBridged, FeederTripped
from monitor.conditions.feeders_screw_stopped import FeedersScrewStopped
from monitor.conditions.screw_turning_empty import ScrewTurningEmpty
from monitor.conditions.share_wrong import ShareWrong
from monitor.conditions.starved import Starved
from monitor.line import Line
from tests.monitor.conditions.told import TWIN, seconds, told, twin, without
from tests.monitor.scripted_world import FEEDERS, Script

LOG_S, STOP, SCREW_STANDS = 3600, 1800, 1875
ALL = (FeederBridged(), FeederTripped(), FeederOffTarget(), ShareWrong(), Starved(), FeedersScrewStopped())
PLAIN = without(TWIN, "feeder_drive", "feeder_weight", "feeder_refill", "torque")


def dies_away(s: Script, feeder: str, from_s: float, halves_in_s: float) -> None:
    """A filtered rate after its feeder was switched off, logged only when it moves by a third of a kilogram an hour."""
    part = s.span(from_s, s.n)
    fresh = FEEDERS[feeder] * 0.5 ** (np.arange(s.n)[part] / halves_in_s - s.span(from_s, s.n).start / halves_in_s)
    s.x[f"feeder_rate:{feeder}"][part] = np.ceil(fresh / 0.33) * 0.33


def planned_stop(s: Script, screw_stands: bool = True) -> None:
    """Feeders off within some seconds of each other, the screw run empty for a minute and stopped."""
    for lag, (feeder, halves_in_s) in enumerate((("F1", 4.0), ("F2", 6.0), ("F3", 9.0))):
        dies_away(s, feeder, STOP + 3 * lag, halves_in_s)
        s.put(f"feeder_drive:{feeder}", STOP + 3 * lag, LOG_S, 0)
    s.put("torque", STOP + 20, LOG_S, 9.0)
    s.put("melt_pressure:P1", STOP + 40, LOG_S, 4.0)
    if screw_stands:
        s.put("screw_speed", SCREW_STANDS, LOG_S, 0)
        s.put("torque", SCREW_STANDS, LOG_S, 0)


@pytest.mark.parametrize(
    "line", [TWIN, PLAIN, without(PLAIN, "feeder_setpoint")], ids=["rich", "plain", "no set-points"]
)
def test_a_planned_stop_with_set_points_standing_is_silent(line: Line) -> None:
    s = twin(LOG_S)
    planned_stop(s)

    assert [f.last.summary for f in told(s, *ALL, BurstDiscOrLeak(), line=line)] == []


def test_a_feeder_that_dies_away_alone_is_said() -> None:
    s = twin(LOG_S)
    dies_away(s, "F2", STOP, 4.0)
    found = told(s, FeederBridged(), line=PLAIN)

    assert [f.last.channel for f in found] == ["feeder_rate:F2"]
    assert (seconds(found[0].first_decided_at) or 0) <= STOP + 50


def test_the_main_feeder_is_said_though_a_small_one_is_lost_with_it() -> None:
    """Half of all and at least two are off, but the second large one goes on: nobody has stopped the line."""
    s = twin(LOG_S)
    dies_away(s, "F1", STOP, 4.0)
    dies_away(s, "F3", STOP, 4.0)

    assert "feeder_rate:F1" in [f.last.channel for f in told(s, FeederBridged(), line=PLAIN)]


def test_a_screw_left_turning_after_all_feeders_went_off_is_said_after_five_minutes() -> None:
    s = twin(LOG_S)
    planned_stop(s, screw_stands=False)
    found = told(s, *ALL, ScrewTurningEmpty())

    assert [f.last.condition for f in found] == ["screw_turning_empty"]


def test_feeders_that_go_on_into_a_standing_screw_are_said() -> None:
    s = twin(LOG_S)
    s.put("screw_speed", SCREW_STANDS, LOG_S, 0)

    assert [f.last.condition for f in told(s, FeedersScrewStopped())] == ["feeders_screw_stopped"]
