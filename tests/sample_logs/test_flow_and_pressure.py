"""Pressure, torque and specific energy move with rate, speed and melt as extrusion handbooks have it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sample_logs.die import pressure_and_flow
from sample_logs.melt import MeltParameters, relative_consistency
from sample_logs.screw_geometry import drag_flow_m3_s, free_area_m2


@pytest.mark.parametrize(
    ("outer", "ratio", "area_mm2"),
    [(40, 1.45, 769.458), (40, 1.55, 871.983), (40, 1.66, 968.539), (40, 1.80, 1072.194),
     (18, 1.50, 166.595), (30, 1.50, 462.763), (50, 1.55, 1362.474)],
)  # fmt: skip
def test_free_area(outer, ratio, area_mm2):
    """Booy, Polym. Eng. Sci. 18, 973 (1978); values from memory of the formula, checked by numerical integration."""
    assert free_area_m2(outer, ratio) * 1e6 == pytest.approx(area_mm2, abs=5e-4)


def test_free_area_refuses_a_profile_without_tip():
    with pytest.raises(ValueError, match="no flight tip"):
        free_area_m2(40.0, 2.5)


def test_drag_flow_and_operating_point():
    """Groover, Fundamentals of Modern Manufacturing, ch. 13, examples 13.1 and 13.2: values from memory; the book
    rounds sine and cosine to four digits."""
    drag = drag_flow_m3_s(0.075, 0.006, 20.0, 1.0)
    assert drag == pytest.approx(53525e-9, rel=1e-4)
    closed_pa, die = 20.5e6, 21.9e-12
    pressure, flow = pressure_and_flow(
        np.array([drag]),
        np.array([closed_pa / drag]),
        np.array([1.0 / die]),
        np.array([1.0]),
        np.array([1.0]),
        1.0,
    )
    assert pressure[0] == pytest.approx(2.184e6, rel=1e-3)
    assert flow[0] == pytest.approx(47.8e-6, rel=1e-3)


@pytest.mark.parametrize("n", [0.25, 0.35, 0.6, 1.0])
@pytest.mark.parametrize("part", [0.2, 0.8, 1.0, 1.1])
def test_steady_die_flow_obeys_the_power_law(n, part):
    """20 % less feed is 7.5 % less pressure at n = 0.35; +10 % is +3.39 % (definition of the power law)."""
    rate, resistance, gain = 0.03, 60.0, 900.0
    content = np.array([0.05])
    pressure = np.array([1.0])
    for _ in range(200):
        pressure, out = pressure_and_flow(
            content + rate * part,
            np.array([gain]),
            np.array([resistance]),
            np.array([rate]),
            np.array([n]),
            1.0,
        )
        content = content + rate * part - out
    assert pressure[0] == pytest.approx(resistance * part**n, rel=1e-6)


def test_die_solver_agrees_with_bisection():
    rng = np.random.default_rng(1)
    for _ in range(200):
        n, gain, resistance = rng.uniform(0.25, 1.0), 10 ** rng.uniform(1, 4), rng.uniform(10, 5000)
        mass, rate = rng.uniform(1e-4, 0.4), rng.uniform(0.005, 0.3)
        low, high = 0.0, gain * mass
        for _ in range(200):
            middle = 0.5 * (low + high)
            if middle / gain + rate * (middle / resistance) ** (1 / n) > mass:
                high = middle
            else:
                low = middle
        pressure, out = pressure_and_flow(
            np.array([mass]),
            np.array([gain]),
            np.array([resistance]),
            np.array([rate]),
            np.array([n]),
            1.0,
            rounds=60,
        )
        assert pressure[0] == pytest.approx(low, rel=1e-7)
        assert out[0] == pytest.approx(mass - low / gain, abs=1e-9)


@pytest.mark.parametrize(("activation", "factor"), [(27e3, 0.877), (40e3, 0.824), (60e3, 0.748)])
def test_melt_thins_with_heat(activation, factor):
    """Arrhenius, 220 to 230 C: 0.877, 0.824, 0.748 (recomputed)."""
    melt = MeltParameters(np.array(0.4), np.array(activation), np.array(100.0), np.zeros(1))
    seen = relative_consistency(melt, np.array([230.0]), np.array([220.0]), np.zeros(1))
    assert seen[0] == pytest.approx(factor, abs=5e-4)


def test_line_pressure_follows_rate_and_stiffness(quiet_twin):
    """P / stiffness goes as Q^n for the whole line, when all feeders are cut by 20 %."""
    state = quiet_twin.line.state.barrel
    before, stiff = quiet_twin.pressure(), float(state.die_consistency[0])
    quiet_twin.command.feeder_aim[:] *= 0.8
    quiet_twin.run(900)
    n = float(quiet_twin.plant.parameters.melt.power_law_index)
    ratio = quiet_twin.pressure() / float(state.die_consistency[0]) / (before / stiff)
    assert ratio == pytest.approx(0.8**n, rel=0.01)
    assert quiet_twin.rate() == pytest.approx(0.8 * float(quiet_twin.plant.nominal.feeder_kg_h.sum()), rel=5e-3)


def test_more_speed_at_the_same_rate_lowers_fill_and_torque_and_heats_the_melt(quiet_twin):
    """White/Rauwendaal and trade practice: starve-fed, more speed = less fill, less torque, more specific energy."""
    state = quiet_twin.line.state
    torque, work = quiet_twin.torque(), float(state.barrel.screw_w[0])
    held = float(state.barrel.mass_kg[:-4].sum())
    melt = float(state.barrel.temperature_c[-2, 0])
    quiet_twin.command.speed_rpm[:] *= 1.15
    quiet_twin.run(1200)
    assert quiet_twin.torque() < torque
    assert float(state.barrel.screw_w[0]) > 1.02 * work
    assert float(state.barrel.mass_kg[:-4].sum()) < 0.95 * held
    assert float(state.barrel.temperature_c[-2, 0]) > melt + 1.0


def test_constant_rate_per_turn_is_constant_fill(quiet_twin):
    """Fill goes with Q/N (degree of fill of a conveying element, screw handbooks; value from memory)."""
    state = quiet_twin.line.state
    held = state.barrel.mass_kg.sum(1)[:-4, 0].copy()
    quiet_twin.command.speed_rpm[:] *= 0.9
    quiet_twin.command.feeder_aim[:] *= 0.9
    quiet_twin.run(900)
    partly = quiet_twin.plant.parameters.barrel.hold_kg[:-4] == 0
    assert state.barrel.mass_kg.sum(1)[:-4, 0][partly] == pytest.approx(held[partly], rel=0.01)


def test_net_torque_falls_about_with_the_feed(quiet_twin):
    """ln T moves about 1 to n against ln P when starving (starve-fed twin screw)."""
    no_load = float(quiet_twin.plant.parameters.drive.no_load)
    speed = quiet_twin.plant.nominal.speed_rpm / float(quiet_twin.plant.parameters.drive.rated_rpm)
    idle = no_load * (0.6 + 0.4 * speed)
    before = quiet_twin.torque() - idle
    quiet_twin.command.feeder_aim[:] *= 0.8
    quiet_twin.run(300)
    fallen = math.log((quiet_twin.torque() - idle) / before) / math.log(0.8)
    assert 0.6 < fallen < 1.2


def test_single_screw_flow_does_not_depend_on_stiffness(quiet_single):
    """Screw and die share the viscosity: the pressure goes up with it, the flow stays (extruder characteristic)."""
    rate, pressure = quiet_single.rate(), quiet_single.pressure()
    quiet_single.upset.ln_lot[:] = math.log(1.25)
    quiet_single.run(900)
    assert quiet_single.rate() == pytest.approx(rate, rel=0.02)
    assert quiet_single.pressure() > 1.05 * pressure


def test_single_screw_rate_goes_with_speed(quiet_single):
    rate = quiet_single.rate()
    quiet_single.command.speed_rpm[:] *= 0.85
    quiet_single.run(900)
    assert quiet_single.rate() == pytest.approx(0.85 * rate, rel=0.05)


def test_blocked_die_climbs_at_a_physical_rate(quiet_twin):
    """5 to 50 bar a second (trade experience, no source), until the machine's own cut-out stops it."""
    quiet_twin.upset.die[:] = 1000.0
    seen = np.concatenate([[quiet_twin.pressure()], quiet_twin.run(15, quiet_twin.pressure)])
    climb = np.diff(seen).max()
    assert 5.0 < climb < 60.0
    quiet_twin.run(30)
    assert float(quiet_twin.line.state.drive.motor_rpm[0]) == 0.0


def test_burst_disc_drops_the_pressure_in_two_seconds(quiet_twin):
    torque, pressure = quiet_twin.torque(), quiet_twin.pressure()
    quiet_twin.upset.leak[:] = 1.0
    quiet_twin.run(2)
    assert quiet_twin.pressure() < 0.05 * pressure
    quiet_twin.run(30)
    assert quiet_twin.torque() > 0.8 * torque
