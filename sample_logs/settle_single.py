"""The steady state a single-screw recipe runs in, estimated from the design (`settle_twin.settle` then runs it)."""

from __future__ import annotations

import numpy as np

from sample_logs import thermal
from sample_logs.auxiliaries import AuxiliaryState
from sample_logs.barrel import empty_ledger
from sample_logs.channel import ChannelState
from sample_logs.draw_zones import HALL_C
from sample_logs.drive import turning
from sample_logs.hopper import HopperState
from sample_logs.plant import Nominal
from sample_logs.settle_twin import AGE_S
from sample_logs.single_screw import SingleParameters, SingleState
from sample_logs.zone_control import ControlState


def first_guess(p: SingleParameters, nominal: Nominal, temperature_c: np.ndarray) -> SingleState:
    """A running state close to steady; p stacked with one run. temperature_c [section] of the melt."""
    one = np.ones(1)
    zone_c = nominal.zone_c[:, None]
    melt_c = temperature_c[:, None]
    rate = p.die.rate_kg_s
    work = p.channel.power_w + p.channel.plastic_j_kg * p.channel.melts * rate
    melt_w = p.channel.wall_w_k * (melt_c - zone_c) + p.channel.to_wall * work
    duty = thermal.steady_heating(p.zone, zone_c, melt_w, HALL_C)
    output = np.where(duty > 0, duty, duty / p.zone.cool_gain)
    pressure = p.die.die_bar + p.die.screen_bar
    elastic = p.channel.elastic_kg_bar * pressure
    content = p.channel.capacity_kg.copy()
    content[-4] += elastic
    level = 0.5 * (p.hopper.low_kg + p.hopper.high_kg)
    return SingleState(
        hopper=HopperState(level.copy(), level.copy(), 0 * one, rate * 3600.0, rate * 3600.0, 0 * one, 0 * one),
        barrel=ChannelState(content, melt_c.copy(), rate + 0 * zone_c, -melt_w, pressure, elastic, 0 * one,
                            empty_ledger(1)),
        zone=thermal.at_temperature(zone_c.copy(), duty),
        control=ControlState(duty.copy(), zone_c.copy(), output, zone_c.copy()),
        drive=turning(one * nominal.speed_rpm, 0 * one),
        auxiliary=AuxiliaryState(one * (HALL_C + 12.0), one * (HALL_C + 30.0)),
        turning_s=one * AGE_S,
        blinding=0.05 * one,
        melt_probe_c=melt_c[-2].copy(),
        pressure_read=np.stack([pressure, p.die.die_bar]),
        surge_s=0 * one,
        taken_kg=0 * one,
    )  # fmt: skip
