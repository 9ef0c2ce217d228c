"""Every fault of the catalogue moves what it says, at its place and time, and lets go when it ends."""

from __future__ import annotations

import tomllib
from importlib import resources

import numpy as np
import pytest

from sample_logs.draw_plant import draw_plant
from sample_logs.draw_scenario import possible_faults, subjects
from sample_logs.fault_effects import _EFFECTS
from sample_logs.faults import FAULTS, Fault
from sample_logs.scenario import Event, Scenario
from sample_logs.simulate import simulate

START_S, END_S, SECONDS = 600.0, 1800.0, 2400.0
BEFORE, SOON, LATE, AFTER = slice(300, 600), slice(605, 620), slice(1500, 1800), slice(2200, 2400)

# fault: subject, (channel, when, least change, most change) as parts of the value before; '+' = absolute change
TWIN: dict[str, tuple[str, list[tuple[str, slice, float, float]]]] = {
    "feeder_bridged": ("F1", [("feeder_rate:F1", LATE, -1.0, -0.35), ("torque", LATE, -0.9, -0.15)]),
    "feeder_bridged_volumetric": (
        "F1",
        [("feeder_rate:F1", LATE, -0.02, 0.02), ("torque", LATE, -0.9, -0.2)],
    ),
    "feeder_tripped": ("F1", [("feeder_drive:F1", SOON, -1.0, -0.99), ("torque", LATE, -0.9, -0.2)]),
    "feeder_empty": ("F1", [("feeder_weight:F1", LATE, -1.01, -0.8), ("torque", LATE, -0.9, -0.2)]),
    "feeder_off_target": ("F1", [("feeder_rate:F1", LATE, -0.3, -0.1), ("feeder_drive:F1", LATE, 0.3, 9.0)]),
    "wrong_setpoint": ("F2", [("feeder_setpoint:F2", LATE, 0.1, 0.25), ("feeder_rate:F2", LATE, 0.1, 0.25)]),
    "scale_span": ("F1", [("feeder_rate:F1", LATE, -0.02, 0.02), ("torque", LATE, -0.2, -0.02)]),
    "path_blocked": ("", [("torque", SOON, -0.9, -0.25), ("melt_pressure:P1", slice(640, 660), -0.9, -0.1)]),
    "refill_flushing": ("F1", [("feeder_rate:F1", LATE, -0.1, 0.1)]),
    "flooded_intake": ("", [("torque", slice(640, 700), -0.4, -0.04), ("feeder_rate:F1", SOON, -0.05, 0.05)]),
    "viscous_lot": ("", [("melt_pressure:P1", LATE, 0.05, 0.6), ("torque", LATE, 0.005, 0.4)]),
    "screen_blinding": ("", [("melt_pressure:P1", LATE, 0.1, 0.6), ("melt_pressure:P2", LATE, -0.05, 0.05)]),
    "restricted": ("", [("melt_pressure:P1", LATE, 0.2, 0.7), ("melt_pressure:P2", LATE, -0.08, 0.05)]),
    "die_blocked": ("", [("screw_speed", LATE, -1.0, -1.0)]),
    "burst_disc": ("", [("melt_pressure:P1", SOON, -1.0, -0.95), ("torque", LATE, -0.25, 0.1)]),
    "pressure_frozen": ("", [("melt_pressure:P1", LATE, -0.05, 0.05)]),
    "pressure_drift": ("", [("melt_pressure:P1", LATE, 0.005, 0.1)]),
    "heater_dead": (
        "Z6",
        [("zone_temperature:Z6", LATE, -0.6, -0.05), ("zone_current:Z6", LATE, -1.0, -0.99)],
    ),
    "heater_partial": ("Z6", [("zone_output:Z6", LATE, 0.3, 3.0)]),
    "contactor_on": ("Z6", [("zone_current:Z6", LATE, 0.3, 9.0), ("zone_temperature:Z6", LATE, 0.01, 2.0)]),
    "cooling_stuck": ("Z6", [("zone_output:Z6", LATE, 0.2, 9.0)]),
    "thermocouple_open": (
        "Z6",
        [("zone_temperature:Z6", SOON, 0.5, 2.0), ("zone_current:Z6", LATE, -1.0, -1.0)],
    ),
    "thermocouple_shorted": (
        "Z6",
        [("zone_temperature:Z6", SOON, -1.0, -0.5), ("zone_output:Z6", LATE, 0.5, 9.0)],
    ),
    "thermocouple_frozen": ("Z6", [("zone_temperature:Z6", LATE, -0.001, 0.001)]),
    "thermocouple_loose": ("Z6", [("zone_output:Z6", slice(660, 780), 0.05, 9.0)]),
    "zone_hunting": ("Z6", []),
    "zone_over_temperature": (
        "Z6",
        [("zone_temperature:Z6", LATE, 0.04, 0.2), ("zone_setpoint:Z6", SOON, 0.04, 0.2)],
    ),
    "zone_under_temperature": ("Z6", [("zone_temperature:Z6", LATE, -0.2, -0.03)]),
    "melt_over_temperature": (
        "",
        [("melt_temperature:M1", LATE, 0.02, 0.2), ("melt_pressure:P1", LATE, -0.5, -0.03)],
    ),
    "melt_temperature_drift": ("", [("melt_temperature:M1", LATE, 0.0005, 0.05)]),
    "hot_hold": ("", [("screw_speed", LATE, -1.0, -1.0), ("zone_temperature:Z6", LATE, -0.1, 0.1)]),
    "feeding_stopped_screw": ("", [("screw_speed", SOON, -1.0, -1.0), ("feeder_rate:F1", SOON, -0.1, 0.1)]),
    "turning_empty": ("", [("screw_speed", LATE, -0.01, 0.01), ("torque", LATE, -0.95, -0.6)]),
    "coupling_gone": ("", [("torque", SOON, -1.0, -0.9), ("screw_speed", LATE, -0.01, 0.01)]),
    "vacuum_lost": ("", [("vacuum:V1", LATE, 1.0, 30.0)]),
    "vent_flooded": ("", [("melt_pressure:P1", LATE, -0.2, -0.005), ("torque", LATE, 0.0, 0.2)]),
}
SINGLE: dict[str, tuple[str, list[tuple[str, slice, float, float]]]] = {
    "throat_bridged": ("", [("torque", LATE, -0.9, -0.3), ("melt_pressure:P1", LATE, -0.9, -0.2),
                            ("line_rate", LATE, -0.9, -0.4)]),
    "hopper_empty": ("", [("hopper_level", LATE, -1.0, -0.9), ("torque", LATE, -1.0, -0.6)]),
    "surging": ("", [("torque", LATE, -0.3, -0.01), ("line_rate", LATE, -0.3, -0.01)]),
    "viscous_lot": ("", [("melt_pressure:P1", LATE, 0.04, 0.6), ("line_rate", LATE, -0.02, 0.02)]),
    "restricted": ("", [("melt_pressure:P1", LATE, 0.2, 0.7), ("line_rate", LATE, -0.3, -0.01)]),
    "coupling_gone": ("", [("torque", SOON, -1.0, -0.9), ("screw_speed", LATE, -0.01, 0.01)]),
    "heater_dead": ("Z3", [("zone_temperature:Z3", LATE, -0.6, -0.02)]),
}  # fmt: skip
CASES = [("twin", name) for name in TWIN] + [("single", name) for name in SINGLE]


@pytest.fixture(scope="module")
def ran(twin, single):
    blocks = {}
    for which, plant, table in (("twin", twin, TWIN), ("single", single, SINGLE)):
        scenarios = [
            Scenario((Fault(name, subject, START_S, END_S, (FAULTS[name].low + FAULTS[name].high) / 2),))
            for name, (subject, _) in table.items()
        ]
        runs = simulate([plant] * len(scenarios), scenarios, SECONDS, 11)
        for i, name in enumerate(table):
            blocks[which, name] = runs.block(i), runs.truth(i)[0]
    return blocks


def _mean(block, key, when) -> float:
    return float(np.nanmean(block.values[block.channels.index(key)][when]))


@pytest.mark.parametrize(("which", "name"), CASES)
def test_fault_moves_what_it_says(ran, which, name):
    block, truth = ran[which, name]
    subject, expected = (TWIN if which == "twin" else SINGLE)[name]
    assert (truth.fault, truth.subject) == (name, subject)
    assert truth.start_ns - block.t0 == 600 * 10**9 and truth.end_ns - block.t0 == 1800 * 10**9
    for key, when, least, most in expected:
        before = _mean(block, key, BEFORE)
        change = (_mean(block, key, when) - before) / abs(before)
        assert least - 1e-9 <= change <= most + 1e-9, f"{key} changed by {change:.3f}"


def test_frozen_readings_stand_exactly_still(ran):
    for name, key in (
        ("pressure_frozen", "melt_pressure:P1"),
        ("thermocouple_frozen", "zone_temperature:Z6"),
    ):
        block, _ = ran["twin", name]
        during = block.values[block.channels.index(key)][605:1795]
        assert np.ptp(during) == 0.0
        assert np.ptp(block.values[block.channels.index(key)][300:595]) > 0.0


def test_hunting_swings_regularly(ran):
    block, _ = ran["twin", "zone_hunting"]
    series = block.values[block.channels.index("zone_temperature:Z6")]
    assert np.ptp(series[1200:1800]) > 2.0 > 4.0 * np.ptp(series[300:600]) / 2.0


def test_flushing_adds_to_the_refill(ran):
    block, _ = ran["twin", "refill_flushing"]
    refill = block.values[block.channels.index("feeder_refill:F1")] > 0
    torque = block.values[block.channels.index("torque")]
    during = np.flatnonzero(refill[600:1800]) + 600 + 8
    assert torque[during].mean() > 1.02 * np.median(torque[600:1800])


@pytest.mark.parametrize("which", ["twin", "single"])
def test_line_recovers(ran, which):
    """But for stops and trips, all is as before ten minutes after the fault."""
    for (kind, name), (block, _) in ran.items():
        if kind == which and name not in ("die_blocked", "feeding_stopped_screw"):
            change = _mean(block, "torque", AFTER) / _mean(block, "torque", BEFORE) - 1.0
            assert abs(change) < 0.08, f"{name} leaves torque off by {change:.3f}"


def test_heater_dead_makes_the_neighbours_work(ran):
    block, _ = ran["twin", "heater_dead"]
    for zone in ("Z5", "Z7"):
        assert _mean(block, f"zone_output:{zone}", LATE) > _mean(block, f"zone_output:{zone}", BEFORE) + 0.5


def test_loose_couple_lets_the_neighbours_rest(ran):
    block, _ = ran["twin", "thermocouple_loose"]
    for zone in ("Z5", "Z7"):
        assert _mean(block, f"zone_output:{zone}", LATE) < _mean(block, f"zone_output:{zone}", BEFORE)


def test_catalogue_effects_and_tests_are_complete(twin, single):
    assert set(FAULTS) == set(_EFFECTS)
    here = tomllib.loads((resources.files("sample_logs") / "fault_catalogue.toml").read_text(encoding="utf-8"))
    elsewhere = {"cold_start", "cooling_dead", "flooded_torque"}
    assert set(here) - set(TWIN) - set(SINGLE) == elsewhere  # the other parts: test_more_faults.py
    for plant in (twin, single):
        for name in possible_faults(plant):
            assert subjects(plant, name)


def test_a_wrong_fault_is_refused(twin):
    with pytest.raises(ValueError, match="no fault 'gremlin'"):
        Fault("gremlin", "", 0.0, 1.0)
    with pytest.raises(ValueError, match="before it starts"):
        Fault("path_blocked", "", 5.0, 5.0)
    with pytest.raises(ValueError, match="no zone 'Z99'"):
        simulate([twin], [Scenario((Fault("heater_dead", "Z99", 1.0, 5.0),))], 10.0, 1)


def test_torque_limited_flooding_climbs_to_the_limit_and_costs_speed():
    plant = draw_plant(np.random.default_rng(2), "twin-screw", plain=False, cadence_s=1.0)
    assert "flooded_torque" in possible_faults(plant)
    block = simulate([plant], [Scenario((Fault("flooded_torque", "", 100, 900, 0.1),))], 400, 11).block(0)
    torque, speed = (block.values[block.channels.index(key)] for key in ("torque", "screw_speed"))
    assert 96.0 < torque[100:400].max() < 125.0
    assert speed[150:400].min() < 0.85 * plant.nominal.speed_rpm


def test_dead_cooling_shows_where_a_zone_must_cool():
    """A zone that melt heat alone would overheat: above set with the cooling saturated."""
    rng = np.random.default_rng(221)
    plant = draw_plant(rng, "twin-screw", plain=False, cadence_s=1.0)
    cold = "DIE"  # set so low that the melt keeps it hot
    wanted = plant.facts["steady"][f"zone_temperature:{cold}"] - 25.0
    scenario = Scenario((Fault("cooling_dead", cold, 1, 9000, 1.0),), (Event(0.0, "zone_setpoint", cold, wanted),))
    sound = Scenario(events=scenario.events)
    runs = simulate([plant, plant], [scenario, sound], 2400, 3)
    key = f"zone_temperature:{cold}"
    dead, good = (runs.block(i).values[plant.channels.index(key)][-200:].mean() for i in (0, 1))
    assert good < wanted + 2.0 < dead - 4.0
    output = runs.block(0).values[plant.channels.index(f"zone_output:{cold}")]
    assert output[-200:].mean() < -90.0
