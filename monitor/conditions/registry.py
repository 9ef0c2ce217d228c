"""Every condition, in the order in which simultaneous decisions are recorded: causes before effects."""

from __future__ import annotations

from monitor.conditions.cold_start import ColdStart
from monitor.conditions.drift import Drift
from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.conditions.feeder_stopped import FeederBridged, FeederTripped
from monitor.conditions.feeder_weight_still import FeederWeightStill
from monitor.conditions.feeders_screw_stopped import FeedersScrewStopped
from monitor.conditions.flooded import Flooded
from monitor.conditions.heater_dead import HeaterDead
from monitor.conditions.hot_hold import HotHold
from monitor.conditions.over_temperature import MeltOverTemperature, OverTemperature
from monitor.conditions.recipe_window import RecipeWindow
from monitor.conditions.share_wrong import ShareWrong
from monitor.conditions.soak_short import SoakShort
from monitor.conditions.starved import Starved
from monitor.conditions.thermocouple_frozen import ThermocoupleFrozen
from monitor.conditions.thermocouple_open import ThermocoupleOpen
from monitor.conditions.toward_over_pressure import TowardOverPressure
from monitor.conditions.under_temperature import MeltUnderTemperature, UnderTemperature
from monitor.contract import Condition

CONDITIONS: tuple[Condition, ...] = (
    TowardOverPressure(),
    FeedersScrewStopped(),
    ColdStart(),
    SoakShort(),
    HotHold(),
    ThermocoupleOpen(),
    ThermocoupleFrozen(),
    HeaterDead(),
    FeederTripped(),
    FeederBridged(),
    FeederWeightStill(),
    FeederOffTarget(),
    ShareWrong(),
    Starved(),
    Flooded(),
    OverTemperature(),
    MeltOverTemperature(),
    UnderTemperature(),
    MeltUnderTemperature(),
    RecipeWindow(),
    Drift(),
)
