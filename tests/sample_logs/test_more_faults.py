"""Faults of the further catalogue parts: directions and sizes as CONDITIONS of the trade have them, against the same
run, same noise, free of faults. Numbers beside each: what the mechanism gives, never what a monitor says."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from importlib import resources

import numpy as np
import pytest

from sample_logs.cooled_barrel import cooled_barrels
from sample_logs.draw_plant import draw_plants
from sample_logs.fault_scenes import run_of, scene_of
from sample_logs.fault_subjects import subjects
from sample_logs.faults import CATALOGUE, FAULTS, Fault
from sample_logs.log_views import plain_log
from sample_logs.rich_plant import enriched
from sample_logs.scenario import Scenario
from sample_logs.simulate import simulate

START_S, END_S, SECONDS = 600.0, 3000.0, 3000.0
LATE, SOON = slice(2400, 3000), slice(604, 640)
SIZE = {"zone_in_manual": 6.0, "wrong_material": 0.3}
# fault: (channel with {s} for its subject and {n} for the zone after, when, least, most change of the mean)
# '%' = relative to the run free of faults, else in the channel's unit
MOVES: dict[str, list[tuple[str, slice, float, float, str]]] = {
    "rate_echoed": [("feeder_rate:{s}", LATE, -0.01, 0.01, "%"), ("feeder_drive:{s}", LATE, 0.5, 3.0, "%")],
    "feeder_runs_through": [("feeder_rate:{s}", LATE, 0.2, 2.0, "%"), ("feeder_drive:{s}", LATE, -1.0, -0.6, "%")],
    "rat_holing": [("feeder_rate:{s}", LATE, -0.35, 0.05, "%"), ("feeder_drive:{s}", LATE, 0.05, 1.5, "%")],
    "feed_factor_drift": [("feeder_rate:{s}", LATE, -0.03, 0.03, "%"), ("feeder_drive:{s}", LATE, 0.05, 0.3, "%")],
    "wrong_material": [("feeder_rate:{s}", LATE, -0.05, 0.05, "%"), ("feeder_drive:{s}", LATE, 0.25, 0.6, "%")],
    "refill_valve_leaks": [("feeder_rate:{s}", LATE, -0.03, 0.03, "%"), ("feeder_drive:{s}", LATE, 0.08, 0.2, "%")],
    "scale_hung_up": [("feeder_rate:{s}", LATE, -0.05, 0.05, "%"), ("feeder_drive:{s}", LATE, 0.05, 0.2, "%")],
    "left_in_volumetric": [("feeder_gravimetric:{s}", SOON, -1.0, -1.0, ""),
        ("feeder_rate:{s}", LATE, -0.01, 0.03, "%")],
    "side_feeder_backs_up": [("stuffer_load:F4", LATE, 0.3, 3.0, "%"), ("torque", LATE, -0.6, -0.01, "%")],
    "liquid_prime_lost": [("injection_pressure:{s}", SOON, -1.0, -0.9, "%"), ("torque", LATE, 0.005, 0.6, "%")],
    "liquid_nozzle_plugged": [("injection_pressure:{s}", LATE, 0.5, 9.0, "%")],
    "liquid_overdosed": [("feeder_setpoint:{s}", SOON, 0.69, 0.71, "%"), ("torque", LATE, -0.5, -0.005, "%")],
    "throat_warm": [("throat_temperature", LATE, 27.0, 31.0, "")],
    "zone_in_manual": [("zone_auto:{s}", SOON, -1.0, -1.0, "")],
    "couple_wrong_type": [("zone_temperature:{s}", SOON, -40.0, -10.0, ""), ("zone_output:{s}", LATE, 0.1, 200.0, "")],
    "phase_lost": [("zone_current:{p}", SOON, -1.0, -1.0, "%"), ("zone_temperature:{p}", LATE, -200.0, -5.0, "")],
    "heater_supply_lost": [("zone_current:{p}", SOON, -1.0, -1.0, "%"),
        ("zone_temperature:{p}", LATE, -200.0, -5.0, "")],
    "steam_flash": [("zone_output:{s}", LATE, 1.0, 100.0, "")],
    "shear_overheats_zone": [("zone_temperature:{s}", LATE, 4.0, 30.0, ""),
        ("zone_output:{s}", LATE, -200.0, -2.0, "")],
    "speed_setpoint_wrong": [("screw_speed_setpoint", SOON, 0.078, 0.082, "%"), ("torque", LATE, -0.2, -0.002, "%")],
    "screen_ruptured": [("melt_pressure:P1", SOON, -0.35, -0.05, "%"), ("melt_pressure:P2", LATE, -0.05, 0.08, "%")],
    "die_plugging": [("melt_pressure:P2", LATE, 0.05, 0.25, "%"), ("torque", LATE, -0.05, 0.1, "%")],
    "freeze_off": [("melt_pressure:P2", LATE, 0.1, 0.45, "%"), ("bath_temperature", LATE, -13.0, -9.0, "")],
    "melt_leak": [("melt_pressure:P1", LATE, -0.25, -0.06, "%"), ("packed_total", LATE, -0.35, -0.1, "%"),
                  ("torque", LATE, -0.1, 0.05, "%")],
    "torque_over_limit": [("torque", LATE, 0.03, 1.2, "%")],
    "speed_deviation": [("screw_speed", SOON, -0.051, -0.049, "%"), ("screw_speed_setpoint", SOON, 0.0, 0.0, "")],
    "moisture": [("dew_point", LATE, 19.0, 25.0, ""), ("melt_pressure:P1", LATE, -0.26, -0.1, "%"),
                 ("torque", LATE, -0.2, -0.01, "%")],
    "vacuum_pot_full": [("vacuum:V1", LATE, 50.0, 150.0, "")],
    "vacuum_setpoint_wrong": [("vacuum_setpoint:V1", SOON, 100.0, 100.0, ""), ("vacuum:V1", LATE, 90.0, 110.0, "")],
    "gearbox_hot": [("gearbox_oil_temperature", LATE, 4.0, 18.0, "")],
    "gearbox_oil_pressure_low": [("gearbox_oil_pressure", LATE, -0.47, -0.43, "%")],
    "gearbox_filter_clogging": [("gearbox_filter_drop", LATE, 0.5, 0.7, "")],
    "strand_break": [("haul_off_load", SOON, -0.3, -0.03, "%"), ("torque", LATE, 0.0, 0.0, "%")],
}  # fmt: skip
ELSEWHERE = {
    "couples_swapped", "cooling_all_lost", "tramp_metal", "speed_hunting", "pressure_plugged", "pressure_zero_drift",
    "filler_first", "data_stopped", "controller_stale", "hopper_low_bulk_density",
}  # fmt: skip


@pytest.fixture(scope="module")
def pools():
    """Rich plants of both kinds at one reading a second, some with cooled barrels."""
    made = {}
    for kind, count in (("twin-screw", 3), ("single-screw", 3)):
        rngs = [np.random.default_rng([21, i]) for i in range(count)]
        drawn = cooled_barrels(rngs, draw_plants(rngs, kind))
        made[kind] = [enriched(np.random.default_rng([22, i]), replace(p, cadence_s=1.0)) for i, p in enumerate(drawn)]
    return made


def _able(pool, name):
    """Prefers a main feeder's plant and a fault that has something to move."""
    plant = next(p for p in pool if subjects(p, name))
    return plant, subjects(plant, name)[0]


@pytest.fixture(scope="module")
def ran(pools):
    """Each twin-screw fault of MOVES at its medium size, and its run without it."""
    faults = []
    for name in MOVES:
        plant, subject = _able(pools["twin-screw"], name)
        size = SIZE.get(name, FAULTS[name].sizes[len(FAULTS[name].sizes) // 2])
        faults.append((plant, Fault(name, subject, START_S, END_S + 1.0, size)))
    plants = [p for p, _ in faults] * 2
    scenarios = [Scenario((f,)) for _, f in faults] + [Scenario()] * len(faults)
    runs = simulate(plants, scenarios, SECONDS, 1, chance=[(1, i) for i in range(len(faults))] * 2)
    return {f.kind: (p, f, runs.shown[i], runs.shown[i + len(faults)]) for i, (p, f) in enumerate(faults)}


@pytest.mark.parametrize("name", MOVES)
def test_fault_moves_what_it_says(ran, name):
    plant, fault, with_it, without = ran[name]
    heats = next(z for z in plant.zones[3::3] if plant.facts["steady"][f"zone_output:{z}"] > 15.0)
    for channel, when, least, most, how in MOVES[name]:
        column = plant.channels.index(channel.format(s=fault.subject, p=heats))
        a, b = (float(v[when, column].mean()) for v in (with_it, without))
        change = (a - b) / abs(b) if how else a - b
        assert least - 1e-6 <= change <= most + 1e-6, f"{channel} changed by {change:.4f}"


def test_manual_output_stands_and_the_zone_wanders(ran):
    plant, fault, with_it, without = ran["zone_in_manual"]
    output, temperature = (plant.channels.index(f"{r}:{fault.subject}") for r in ("zone_output", "zone_temperature"))
    assert np.ptp(with_it[610:, output]) == 0.0
    assert abs(with_it[2900:, temperature].mean() - without[2900:, temperature].mean()) > 2.0


def test_power_law_of_shut_holes_and_of_a_leak(ran):
    """P ~ (Q per hole)^n: 25 % of the holes shut is (1 - 0.25)^-n; a leak of 30 % leaves 0.7^n."""
    for name, part in (("die_plugging", 1.0 / 0.75), ("melt_leak", 0.7)):
        plant, _, with_it, without = ran[name]
        n = float(plant.parameters.melt.power_law_index)
        ratio = with_it[2700:, plant.channels.index("melt_pressure:P2")].mean()
        ratio /= without[2700:, plant.channels.index("melt_pressure:P2")].mean()
        assert ratio == pytest.approx(part**n, rel=0.05)


def test_moisture_takes_more_from_pressure_than_from_torque(ran):
    plant, _, with_it, without = ran["moisture"]
    pressure, torque = (
        with_it[LATE, plant.channels.index(k)].mean() / without[LATE, plant.channels.index(k)].mean() - 1.0
        for k in ("melt_pressure:P1", "torque")
    )
    assert pressure < 1.5 * torque < 0.0


def test_a_scale_that_lies_overfeeds_by_what_it_hides(ran):
    """Hung up by a tenth: reported rate on set, true rate set / 0.9."""
    plant, fault, with_it, without = ran["scale_hung_up"]
    drive = plant.channels.index(f"feeder_drive:{fault.subject}")
    assert with_it[LATE, drive].mean() / without[LATE, drive].mean() == pytest.approx(1.0 / 0.9, rel=0.03)


def _pair(plant, fault, seconds, scene="steady"):
    """Readings with and without the fault, and the run."""
    rng = [np.random.default_rng(4), np.random.default_rng(4)]
    scenarios = [run_of(r, plant, scene, fault.start_s, (), *fs) for r, fs in zip(rng, ((fault,), ()), strict=True)]
    return simulate([plant, plant], scenarios, seconds, 1, chance=[(5,), (5,)])


def test_swapped_couples_cross_outputs_and_temperatures(pools):
    plant, zone = _able(pools["twin-screw"], "couples_swapped")
    runs = _pair(plant, Fault("couples_swapped", zone, 300, 9000, 1.0), 2400)
    after = plant.zones[plant.zones.index(zone) + 1]
    a, b = (runs.shown[0][2300:, plant.channels.index(f"zone_output:{z}")].mean() for z in (zone, after))
    assert abs(a - b) > 60.0  # one heats with all it has, the other cools


def test_all_cooling_lost_lets_every_cooled_zone_rise(pools):
    plant, _ = _able(pools["twin-screw"] + pools["single-screw"], "cooling_all_lost")
    runs = _pair(plant, Fault("cooling_all_lost", "", 300, 9000, 1.0), 2400)
    for zone in plant.zones:
        if plant.facts["steady"][f"zone_output:{zone}"] < -8.0:
            key = plant.channels.index(f"zone_temperature:{zone}")
            assert runs.shown[0][2300:, key].mean() > runs.shown[1][2300:, key].mean() + 3.0


@pytest.mark.parametrize("kind", ["twin-screw", "single-screw"])
def test_tramp_metal_and_hunting_show_in_load_and_speed(pools, kind):
    plant = pools[kind][0]
    spikes = _pair(plant, Fault("tramp_metal", "", 300, 9000, 0.35), 900)
    torque = plant.channels.index("torque")
    up = spikes.shown[0][300:, torque] - spikes.shown[1][300:, torque]
    assert 25.0 < up.max() < 45.0 and np.count_nonzero(up > 20.0) in range(10, 16)  # 2 s of every 97 s
    swings = _pair(plant, Fault("speed_hunting", "", 300, 9000, 0.05), 900)
    speed = swings.shown[0][400:, plant.channels.index("screw_speed")] / plant.nominal.speed_rpm
    assert speed.max() == pytest.approx(1.05, abs=0.01) and speed.min() == pytest.approx(0.95, abs=0.01)


def test_plugged_and_drifting_pressure_sensors_show_at_the_stop(pools):
    plant = pools["twin-screw"][0]
    key = plant.channels.index("melt_pressure:P1")
    for name, size, still in (("pressure_plugged", 3000.0, 20.0), ("pressure_zero_drift", 25.0, 10.0)):
        assert scene_of(name) == "stop"
        runs = _pair(plant, Fault(name, "", 300, 9000, size), 1900, "stop")
        stopped = slice(1500, 1800)  # stops 900 s into the fault
        assert runs.shown[0][stopped, key].mean() > runs.shown[1][stopped, key].mean() + still


def test_filler_comes_before_the_polymer(pools):
    plant, _ = _able(pools["twin-screw"], "filler_first")
    runs = _pair(plant, Fault("filler_first", "", 600, 690, 90.0), 1500, "hot")
    rate = {f: runs.shown[0][660, plant.channels.index(f"feeder_drive:{f}")] for f in ("F1", "F4")}
    assert rate["F1"] < 0.5 and rate["F4"] > 2.0
    assert runs.shown[0][1300, plant.channels.index("feeder_drive:F1")] > 5.0


def test_data_that_stops_is_nothing_and_a_stale_controller_stands(pools):
    plant = pools["twin-screw"][0]
    stopped = _pair(plant, Fault("data_stopped", "", 300, 600, 300.0), 700).block(0)
    torque = stopped.values[plant.channels.index("torque")]
    assert np.isnan(torque[400:600]).all() and np.isfinite(torque[610:]).all()
    stale = _pair(plant, Fault("controller_stale", "", 300, 900, 600.0), 900).block(0)
    zone, live = (stale.values[plant.channels.index(k)][310:] for k in ("zone_temperature:Z4", "torque"))
    assert np.ptp(zone) == 0.0 < np.ptp(live)


def test_light_feed_takes_rate_load_and_pressure(pools):
    plant = pools["single-screw"][0]
    runs = _pair(plant, Fault("hopper_low_bulk_density", "", 300, 9000, 0.2), 1500)
    for key, least, most in (("line_rate", -0.26, -0.14), ("torque", -0.4, -0.05), ("melt_pressure:P1", -0.2, -0.03)):
        if key in plant.channels:
            a, b = (runs.shown[i][1200:, plant.channels.index(key)].mean() for i in (0, 1))
            assert least < a / b - 1.0 < most, key


def test_catalogue_is_complete():
    further = set()
    for part in CATALOGUE[1:]:
        further |= set(tomllib.loads((resources.files("sample_logs") / part).read_text(encoding="utf-8")))
    assert further == set(MOVES) | ELSEWHERE
    for entry in FAULTS.values():
        assert len(entry.sizes) in (1, 3) and list(entry.sizes) == sorted(entry.sizes) and entry.earliest
        assert entry.low <= entry.high and entry.moves


def test_plain_and_rich_logs_are_parts_of_one_plant(pools):
    from monitor.line import Line
    from monitor.recipe import Recipe

    for pool in pools.values():
        for i, plant in enumerate(pool):
            plain = plain_log(np.random.default_rng(i), plant)
            assert set(plain.channels) < set(plant.channels)
            assert any(k in plain.channels for k in ("torque", "motor_current"))
            for one in (plain, plant):
                assert Line.model_validate(one.line).channels == one.channels
                Recipe.model_validate(one.recipe)
