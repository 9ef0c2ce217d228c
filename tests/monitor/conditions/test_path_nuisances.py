"""Nothing of the pressure path, drive, vent, downstream and data speaks on what a sound line does all day."""

from __future__ import annotations

import pytest

from monitor.conditions.actual_is_setpoint import ActualIsSetpoint
from monitor.conditions.burst_disc_or_leak import BurstDiscOrLeak
from monitor.conditions.controller_stale import ControllerStale
from monitor.conditions.data_stopped import DataStopped
from monitor.conditions.die_plugging import DiePlugging
from monitor.conditions.diverter_on_scrap import DiverterOnScrap
from monitor.conditions.feeders_screw_stopped import FeedersScrewStopped
from monitor.conditions.freeze_off import FreezeOff
from monitor.conditions.gearbox import Gearbox
from monitor.conditions.moisture import Moisture
from monitor.conditions.pressure_missing_at_start import PressureMissingAtStart
from monitor.conditions.pressure_sensor_frozen import PressureSensorFrozen
from monitor.conditions.pressure_sensor_plugged import PressureSensorPlugged
from monitor.conditions.pressure_zero_drift import PressureZeroDrift
from monitor.conditions.screen_blinding import ScreenBlinding
from monitor.conditions.screen_ruptured import ScreenRuptured
from monitor.conditions.screw_turning_empty import ScrewTurningEmpty
from monitor.conditions.sme_off import SmeOff
from monitor.conditions.speed_deviation import SpeedDeviation
from monitor.conditions.strand_break import StrandBreak
from monitor.conditions.throat_warm import ThroatWarm
from monitor.conditions.torque_high import TorqueHigh
from monitor.conditions.toward_over_pressure import TowardOverPressure
from monitor.conditions.tramp_metal import TrampMetal
from monitor.conditions.vacuum_off import VacuumOff
from tests.monitor.conditions.path_nuisances import NUISANCES, feed_lost
from tests.monitor.conditions.told import Story, told
from tests.monitor.world_path import path_line, path_recipe, path_script

ALL = (
    TowardOverPressure(), BurstDiscOrLeak(), DataStopped(), ControllerStale(), FeedersScrewStopped(), TorqueHigh(),
    TrampMetal(), PressureMissingAtStart(), PressureSensorFrozen(), PressureSensorPlugged(), PressureZeroDrift(),
    ThroatWarm(), ScreenRuptured(), FreezeOff(), ScreenBlinding(), DiePlugging(), VacuumOff(), Moisture(),
    SpeedDeviation(), ScrewTurningEmpty(), StrandBreak(), Gearbox(), SmeOff(), DiverterOnScrap(), ActualIsSetpoint(),
)  # fmt: skip
ONE_SENSOR = path_line("twin-screw", P1="before_screen", P2="barrel")


@pytest.mark.parametrize("story", NUISANCES)
def test_silent(story: Story) -> None:
    s = path_script(10800)
    story(s)

    assert [f.last.summary for f in told(s, *ALL, recipe=path_recipe())] == []


@pytest.mark.parametrize("story", NUISANCES)
def test_silent_with_one_pressure_ahead_of_the_screen(story: Story) -> None:
    s = path_script(10800, ONE_SENSOR)
    story(s)

    assert [f.last.summary for f in told(s, *ALL, recipe=path_recipe())] == []


def test_a_lost_feed_is_none_of_their_business_but_for_the_work_per_kilogram() -> None:
    s = path_script(10800)
    feed_lost(s)

    assert {f.last.condition for f in told(s, *ALL, recipe=path_recipe())} <= {"sme_off"}
