"""A starving line: torque first, pressure later, each as fast as the machine empties."""

from __future__ import annotations

import numpy as np


def _half_time(seen: np.ndarray) -> int:
    return int(np.argmax(seen < 0.5 * (seen[0] + seen[-1])))


def test_torque_falls_in_seconds_and_pressure_lags(quiet_twin):
    """Torque falls in 3 to 10 s, pressure from about 0.4 mean residence times (common practice, no source)."""
    lag = float(quiet_twin.plant.parameters.feeder.lag_s.min())
    quiet_twin.upset.path[:] = 0.0
    quiet_twin.upset.side_path[:] = 0.0
    both = np.array(quiet_twin.run(60, lambda: quiet_twin.torque() + 1000.0 * quiet_twin.pressure()))
    pressure = np.round(both / 1000.0 - 0.0005, 1)
    torque = both - 1000.0 * (both // 1000.0)
    assert len(torque) == 60 and pressure[0] > 0
    torque_s = _half_time(torque)
    assert 2 <= torque_s <= 10 + lag


def test_pressure_half_time_is_after_the_torque(quiet_line, twin):
    times = {}
    for name in ("torque", "pressure"):
        line = quiet_line(twin)
        line.upset.path[:] = 0.0
        line.upset.side_path[:] = 0.0
        times[name] = _half_time(line.run(120, getattr(line, name)))
    residence = float(twin.settled.barrel.mass_kg.sum()) / float(twin.nominal.feeder_kg_h.sum()) * 3600.0
    assert times["torque"] + 3 <= times["pressure"]
    assert times["pressure"] < 2.0 * residence


def test_torque_goes_toward_no_load(quiet_twin):
    quiet_twin.upset.path[:] = 0.0
    quiet_twin.upset.side_path[:] = 0.0
    before = quiet_twin.torque()
    quiet_twin.run(300)
    no_load = float(quiet_twin.plant.parameters.drive.no_load)
    assert quiet_twin.torque() < no_load + 0.12 * before


def test_coupling_gone_is_faster_than_any_feed_loss(quiet_twin):
    quiet_twin.upset.uncoupled[:] = 1.0
    quiet_twin.run(1)
    assert quiet_twin.torque() < float(quiet_twin.plant.parameters.drive.no_load)
    assert float(quiet_twin.line.state.drive.motor_rpm[0]) > 0.95 * quiet_twin.plant.nominal.speed_rpm


def test_single_screw_load_leads_pressure(quiet_line, single):
    """5 to 60 s (common practice, no source)."""
    times = {}
    for name in ("torque", "pressure"):
        line = quiet_line(single)
        line.upset.throat_open[:] = 0.0
        times[name] = _half_time(line.run(400, getattr(line, name)))
    assert 5 <= times["pressure"] - times["torque"] <= 120


def test_intake_limited_flooding_backs_up_with_all_feeders_on_set(quiet_twin):
    rate = quiet_twin.rate()
    quiet_twin.upset.intake[:] = quiet_twin.plant.facts["intake_fill"] * 0.85
    torque = quiet_twin.torque()
    quiet_twin.run(90)
    state = quiet_twin.line.state
    assert quiet_twin.rate() < 0.93 * rate
    assert quiet_twin.torque() < torque
    assert float(state.throat.throat_kg.sum()) > 0.3
    quiet_twin.command.speed_rpm[:] *= 1.25
    quiet_twin.run(400)
    assert float(state.throat.throat_kg.sum()) < 0.1
