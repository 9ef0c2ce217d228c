"""All zone conditions at once, over steel under PI controllers: one fault one finding, and none where nothing is wrong.

Two plants: usual zones, and slow heavy ones that couple strongly. What is said of a fault may bring others that are
folded under it; those do not count.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from monitor.conditions.registry import CONDITIONS
from monitor.contract import Condition
from tests.monitor.conditions.heated_zones import N, Steel, heated, only_zone
from tests.monitor.conditions.told import told
from tests.monitor.world_heat import HEAT_RECIPE, HEAT_TARGETS, HEAT_ZONES, HeatScript

H = 3600
NAMES = (
    "zone_in_manual", "couples_swapped", "wrong_couple_type", "thermocouple_loose", "heater_dead", "contactor_stuck",
    "cooling_scaled", "cooling_passing", "heater_partial", "shear_overheating", "steam_flash", "zone_hunting",
    "setpoint_not_recipe", "cold_start",
)  # fmt: skip
ZONE_CONDITIONS: tuple[Condition, ...] = tuple(c for c in CONDITIONS if c.name in NAMES)
PLANTS = {
    "usual": Steel(),
    "slow": Steel(gain_c_pct=6.0, tau_s=2700.0, dead_s=180.0, coupling=0.3, band_pct_c=2.0, reset_s=1200.0),
}
SETS = np.array([HEAT_TARGETS[zone] for zone in HEAT_ZONES])
COLD = np.full(N, 25.0)
Then = Callable[[HeatScript], None]


def nothing(s: HeatScript) -> None:
    """Nothing more befalls the log."""


def stop(start_s: float, end_s: float) -> Then:
    return lambda s: s.stop(start_s, end_s)


def shear(start_s: float, end_s: float = 1e9) -> Callable[[float], object]:
    """Shear heat but for a stop."""
    return lambda t: 0.0 if start_s <= t < end_s else 90.0


def set_moved(zone: str, by_c: float, from_s: float, to_s: float) -> Callable[[float], object]:
    place = HEAT_ZONES.index(zone)
    return lambda t: SETS + by_c * (np.arange(N) == place) * (from_s <= t < to_s)


def relay(t: float) -> object:
    """Autotune of Z3: full heat and none in turn, 40 min."""
    out = np.full(N, np.nan)
    if 2 * H < t < 2 * H + 2400:
        out[HEAT_ZONES.index("Z3")] = 100.0 if t // 400 % 2 == 0 else 0.0
    return out


def rounded(s: HeatScript) -> None:
    s.round(1.0)


def logger_deadband(s: HeatScript) -> None:
    """Outputs are written when they have moved by 2 %."""
    for zone in HEAT_ZONES:
        values = s.x[f"zone_output:{zone}"]
        kept = values[0]
        for i, value in enumerate(values):
            kept = value if abs(value - kept) >= 2 else kept
            values[i] = kept


def spikes(s: HeatScript) -> None:
    for i in range(40, s.n, 131):
        s.x["zone_temperature:Z3"][i] = 400.0
        s.x["zone_output:Z2"][i + 5 : i + 6] = 0.0


def heating_only(s: HeatScript) -> None:
    for zone in HEAT_ZONES:
        s.x[f"zone_output:{zone}"] = np.fmax(s.x[f"zone_output:{zone}"], 0.0)


NUISANCES: dict[str, tuple[float, dict[str, object], Then]] = {
    "nothing": (4, {}, nothing),
    "mains 5 % down": (4, {"mains": lambda t: 0.9 if 2 * H < t < 3.5 * H else 1.0}, nothing),
    "the hall cools by 12 C": (4, {"ambient_c": lambda t: 25 - 12 * min(max((t - 2 * H) / H, 0), 1)}, nothing),
    "more shear everywhere": (4, {"shear_c": lambda t: 90.0 if t < 2 * H else 130.0}, nothing),
    "shear ripples": (4, {"shear_c": lambda t: 90 + 15 * np.sin(2 * np.pi * t / 1500)}, nothing),
    "heat-up, soak, start": (4, {"start_c": COLD, "shear_c": shear(0, 9000)}, stop(0, 9000)),
    "heat-up with limited output": (
        4, {"start_c": COLD, "shear_c": shear(0, 9000), "limit_pct": 60.0}, stop(0, 9000)),
    "a stop of 20 min": (4, {"shear_c": shear(2 * H, 2 * H + 1200)}, stop(2 * H, 2 * H + 1200)),
    "a stop of an hour": (6, {"shear_c": shear(2 * H, 3 * H)}, stop(2 * H, 3 * H)),
    "set-point 1.5 C up": (4, {"sets": set_moved("Z3", 1.5, 2 * H, 4 * H)}, nothing),
    "set-point up for a while": (4, {"sets": set_moved("Z3", 15.0, 2 * H, 2 * H + 200)}, nothing),
    "night set-back": (
        6, {"sets": lambda t: SETS - 60 * (SETS > 100) if 2 * H < t < 4 * H else SETS,
            "shear_c": shear(1.9 * H, 5.2 * H)}, stop(1.9 * H, 5.2 * H)),
    "cooled down and heated up again": (
        9, {"start_c": COLD, "shear_c": lambda t: 0.0,
            "sets": lambda t: np.where((t > 3 * H) & (t < 6 * H), 25.0, SETS)}, stop(0, 9 * H)),
    "second heat-up on weak mains": (
        9, {"start_c": COLD, "shear_c": lambda t: 0.0, "mains": lambda t: 0.75 if t > 4 * H else 1.0,
            "sets": lambda t: np.where((t > 3 * H) & (t < 6 * H), 25.0, SETS)}, stop(0, 9 * H)),
    "autotune": (4, {"manual": relay}, nothing),
    "display of 1 C": (4, {}, rounded),
    "logger deadband": (4, {"ambient_c": lambda t: 25 - 12 * min(max((t - 2 * H) / H, 0), 1)}, logger_deadband),
    "one-sample spikes": (4, {}, spikes),
    "only heating logged": (4, {}, heating_only),
}  # fmt: skip


@pytest.mark.parametrize("plant", PLANTS)
@pytest.mark.parametrize("name", NUISANCES)
def test_says_nothing_where_nothing_is_wrong(name: str, plant: str) -> None:
    hours, acts, then = NUISANCES[name]
    s = heated(int(hours * H), replace(PLANTS[plant], **acts))  # type: ignore[arg-type]
    then(s)

    assert [f.last.summary for f in told(s, *ZONE_CONDITIONS, line=s.line, recipe=HEAT_RECIPE)] == []


def test_a_noisy_couple_is_no_finding() -> None:
    s = heated(4 * H, Steel(), noise_c=0.6)

    assert told(s, *ZONE_CONDITIONS, line=s.line, recipe=HEAT_RECIPE) == []


def swapped(t: float, wall: np.ndarray) -> np.ndarray:
    """Couples of Z2 and Z3 in each other's place."""
    out, (a, b) = wall.copy(), (HEAT_ZONES.index("Z2"), HEAT_ZONES.index("Z3"))
    out[a], out[b] = wall[b], wall[a]
    return out


def reads_low(t: float, wall: np.ndarray) -> np.ndarray:
    """The couple of Z3 slips after two hours: 25 C too little."""
    return wall - 25.0 * ((np.arange(N) == HEAT_ZONES.index("Z3")) & (t >= 2 * H))


def k_on_j(t: float, wall: np.ndarray) -> np.ndarray:
    """In the stop Z3 got a K couple on its J input: three quarters of what is above the hall."""
    changed = (np.arange(N) == HEAT_ZONES.index("Z3")) & (t >= 2.4 * H)
    return np.where(changed, 25 + 0.76 * (wall - 25), wall)


FAULTS: dict[str, tuple[float, dict[str, object], Then, str]] = {
    "one of three bands": (4, {"heater": only_zone("Z3", 2 / 3, 1.0, 2 * H)}, nothing, "heater_partial"),
    "one of three bands, display of 1 C": (
        4, {"heater": only_zone("Z3", 2 / 3, 1.0, 2 * H)}, rounded, "heater_partial"),
    "one of three bands, in the stop": (
        6, {"heater": only_zone("Z3", 2 / 3, 1.0, 2.4 * H), "shear_c": shear(2 * H, 3 * H)}, stop(2 * H, 3 * H),
        "heater_partial"),
    "one of three bands, while it was cold": (
        9, {"heater": only_zone("Z3", 2 / 3, 1.0, 4 * H), "start_c": COLD, "shear_c": lambda t: 0.0,
            "sets": lambda t: np.where((t > 3 * H) & (t < 6 * H), 25.0, SETS)}, stop(0, 9 * H), "heater_partial"),
    "all bands": (4, {"heater": only_zone("Z3", 0.0, 1.0, 2 * H)}, nothing, "heater_dead"),
    "all bands, at heat-up": (
        3, {"heater": only_zone("Z3", 0.0, 1.0), "start_c": COLD, "shear_c": lambda t: 0.0}, stop(0, 3 * H),
        "heater_dead"),
    "contactor stuck, running": (
        4, {"stuck": only_zone("Z3", 1, 0, 2 * H), "band_pct_c": 1.5}, nothing, "contactor_stuck"),
    "contactor stuck, standing": (
        4, {"stuck": only_zone("Z3", 1, 0, 2 * H), "shear_c": shear(1.5 * H), "band_pct_c": 1.5},
        stop(1.5 * H, 4 * H), "contactor_stuck"),
    "couple slipped": (4, {"reads": reads_low}, nothing, "thermocouple_loose"),
    "couples swapped": (
        1, {"reads": swapped, "start_c": COLD, "shear_c": lambda t: 0.0}, stop(0, 3 * H), "couples_swapped"),
    "couple of another type": (
        6, {"reads": k_on_j, "shear_c": shear(2 * H, 3 * H)}, stop(2 * H, 3 * H), "wrong_couple_type"),
    "left in manual": (4, {"manual": only_zone("Z3", 30.0, np.nan, 2 * H)}, nothing, "zone_in_manual"),
    "cooling passes": (4, {"passes": only_zone("Z3", 12.0, 0.0, 2 * H)}, nothing, "heater_partial"),
    "set-point wrong for eight minutes": (
        4, {"sets": set_moved("Z3", 15.0, 2 * H, 2 * H + 500)}, nothing, "setpoint_not_recipe"),
    "set-point left up": (4, {"sets": set_moved("Z3", 10.0, 2 * H, 5 * H)}, nothing, "setpoint_not_recipe"),
}  # fmt: skip


@pytest.mark.parametrize("plant", PLANTS)
@pytest.mark.parametrize("name", FAULTS)
def test_one_fault_is_one_finding_of_the_right_name(name: str, plant: str) -> None:
    hours, acts, then, condition = FAULTS[name]
    s = heated(int(hours * H), replace(PLANTS[plant], **acts))  # type: ignore[arg-type]
    then(s)

    found = [f.last for f in told(s, *ZONE_CONDITIONS, line=s.line, recipe=HEAT_RECIPE) if not f.last.part_of]
    assert {last.condition for last in found} == {condition}, [last.summary for last in found]
    zones = {last.channel.split(":")[1] for last in found}
    assert zones == ({"Z2"} if condition == "couples_swapped" else {"Z3"})


def test_pump_off_is_one_finding_and_not_one_for_each_zone() -> None:
    """Strong shear, all zones cooled; after two hours hardly any cooling is left."""
    s = heated(4 * H, Steel(shear_c=lambda t: 330.0, cooling=lambda t: 0.02 if t > 2 * H else 1.0))
    found = [f.last for f in told(s, *ZONE_CONDITIONS, line=s.line, recipe=HEAT_RECIPE) if not f.last.part_of]

    assert [last.condition for last in found] == ["cooling_scaled"]
    assert "pump, chiller or header" in found[0].summary
