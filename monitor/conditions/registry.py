"""Every condition, in the order in which simultaneous decisions are recorded: causes before effects."""

from __future__ import annotations

from monitor.conditions.actual_is_setpoint import ActualIsSetpoint
from monitor.conditions.backed_up import BackedUp
from monitor.conditions.burst_disc_or_leak import BurstDiscOrLeak
from monitor.conditions.cold_start import ColdStart
from monitor.conditions.composition_at_die import CompositionAtDie
from monitor.conditions.contactor_stuck import ContactorStuck
from monitor.conditions.controller_stale import ControllerStale
from monitor.conditions.cooling_passing import CoolingPassing
from monitor.conditions.cooling_scaled import CoolingScaled
from monitor.conditions.couples_swapped import CouplesSwapped
from monitor.conditions.coupling_gone import CouplingGone
from monitor.conditions.data_stopped import DataStopped
from monitor.conditions.die_plugging import DiePlugging
from monitor.conditions.diverter_on_scrap import DiverterOnScrap
from monitor.conditions.drift import Drift
from monitor.conditions.feed_factor_moved import FeedFactorMoved
from monitor.conditions.feeder_drive_near_limit import FeederDriveNearLimit
from monitor.conditions.feeder_in_bursts import FeederInBursts
from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.conditions.feeder_stopped import FeederBridged, FeederTripped
from monitor.conditions.feeder_weight_still import FeederWeightStill
from monitor.conditions.feeders_screw_stopped import FeedersScrewStopped
from monitor.conditions.flooded import Flooded
from monitor.conditions.flushing import Flushing
from monitor.conditions.freeze_off import FreezeOff
from monitor.conditions.gearbox import Gearbox
from monitor.conditions.heater_dead import HeaterDead
from monitor.conditions.heater_partial import HeaterPartial
from monitor.conditions.hot_hold import HotHold
from monitor.conditions.liquid_injection import LiquidNozzlePlugged, LiquidPrimeLost
from monitor.conditions.material_changed import MaterialChanged
from monitor.conditions.melt_pump import MeltPumpStarved
from monitor.conditions.melt_pump_worn import MeltPumpWorn
from monitor.conditions.moisture import Moisture
from monitor.conditions.multivariate import OutOfPattern
from monitor.conditions.over_temperature import MeltOverTemperature, OverTemperature
from monitor.conditions.pressure_missing_at_start import PressureMissingAtStart
from monitor.conditions.pressure_sensor_frozen import PressureSensorFrozen
from monitor.conditions.pressure_sensor_plugged import PressureSensorPlugged
from monitor.conditions.pressure_zero_drift import PressureZeroDrift
from monitor.conditions.rate_not_weight import RateNotWeight
from monitor.conditions.recipe_window import RecipeWindow
from monitor.conditions.refill_not_answered import HopperRunningEmpty, RefillNotAnswered
from monitor.conditions.refill_valve_leaking import RefillValveLeaking
from monitor.conditions.restricted import Restricted
from monitor.conditions.scale_jumped import ScaleJumped
from monitor.conditions.scale_wrong import ScaleWrong
from monitor.conditions.screen_blinding import ScreenBlinding
from monitor.conditions.screen_ruptured import ScreenRuptured
from monitor.conditions.screw_turning_empty import ScrewTurningEmpty
from monitor.conditions.setpoint_not_recipe import SetpointNotRecipe
from monitor.conditions.share_wrong import ShareWrong
from monitor.conditions.shear_overheating import ShearOverheating
from monitor.conditions.side_feeder_backing_up import SideFeederBackingUp
from monitor.conditions.sme_off import SmeOff
from monitor.conditions.soak_short import SoakShort
from monitor.conditions.speed_deviation import SpeedDeviation
from monitor.conditions.speed_not_recipe import SpeedNotRecipe
from monitor.conditions.start_order import StartOrder
from monitor.conditions.starved import Starved
from monitor.conditions.stopped_under_load import StoppedUnderLoad
from monitor.conditions.strand_break import StrandBreak
from monitor.conditions.surging import Surging
from monitor.conditions.thermocouple_frozen import ThermocoupleFrozen
from monitor.conditions.thermocouple_loose import ThermocoupleLoose
from monitor.conditions.thermocouple_open import ThermocoupleOpen
from monitor.conditions.throat_hopper_emptying import ThroatHopperEmptying
from monitor.conditions.throat_warm import ThroatWarm
from monitor.conditions.torque_high import TorqueHigh
from monitor.conditions.toward_over_pressure import TowardOverPressure
from monitor.conditions.tramp_metal import TrampMetal
from monitor.conditions.under_temperature import MeltUnderTemperature, UnderTemperature
from monitor.conditions.vacuum_off import VacuumOff
from monitor.conditions.vent_flooded import VentFlooded
from monitor.conditions.viscous_lot import ViscousLot
from monitor.conditions.volumetric_too_long import VolumetricTooLong
from monitor.conditions.wrong_couple_type import WrongCoupleType
from monitor.conditions.wrong_material import WrongMaterial
from monitor.conditions.zone_hunting import SteamFlash, ZoneHunting
from monitor.conditions.zone_in_manual import ZoneInManual
from monitor.contract import Condition

CONDITIONS: tuple[Condition, ...] = (
    TowardOverPressure(),
    BurstDiscOrLeak(),
    DataStopped(),
    ControllerStale(),
    TorqueHigh(),
    TrampMetal(),
    PressureMissingAtStart(),
    FeedersScrewStopped(),
    CouplingGone(),
    StoppedUnderLoad(),
    ColdStart(),
    StartOrder(),
    SoakShort(),
    HotHold(),
    ThermocoupleOpen(),
    ThermocoupleFrozen(),
    PressureSensorFrozen(),
    PressureSensorPlugged(),
    PressureZeroDrift(),
    SetpointNotRecipe(),
    ZoneInManual(),
    CouplesSwapped(),
    WrongCoupleType(),
    ThermocoupleLoose(),
    HeaterDead(),
    ContactorStuck(),
    CoolingScaled(),
    CoolingPassing(),
    HeaterPartial(),
    ShearOverheating(),
    SteamFlash(),
    ZoneHunting(),
    RefillValveLeaking(),
    RefillNotAnswered(),
    HopperRunningEmpty(),
    ThroatHopperEmptying(),
    Flushing(),
    LiquidPrimeLost(),
    LiquidNozzlePlugged(),
    FeederTripped(),
    FeederBridged(),
    FeederWeightStill(),
    RateNotWeight(),
    VolumetricTooLong(),
    WrongMaterial(),
    MaterialChanged(),
    ScaleWrong(),
    ScaleJumped(),
    FeedFactorMoved(),
    FeederDriveNearLimit(),
    FeederInBursts(),
    FeederOffTarget(),
    SideFeederBackingUp(),
    ShareWrong(),
    CompositionAtDie(),
    ThroatWarm(),
    ScreenRuptured(),
    FreezeOff(),
    ScreenBlinding(),
    DiePlugging(),
    VacuumOff(),
    Restricted(),
    ViscousLot(),
    Starved(),
    Flooded(),
    MeltPumpStarved(),
    MeltPumpWorn(),
    Moisture(),
    SpeedDeviation(),
    SpeedNotRecipe(),
    ScrewTurningEmpty(),
    StrandBreak(),
    Gearbox(),
    SmeOff(),
    DiverterOnScrap(),
    ActualIsSetpoint(),
    BackedUp(),
    VentFlooded(),
    Surging(),
    OverTemperature(),
    MeltOverTemperature(),
    UnderTemperature(),
    MeltUnderTemperature(),
    RecipeWindow(),
    Drift(),
    OutOfPattern(),
)
