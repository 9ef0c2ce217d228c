"""The steady state a twin-screw recipe runs in: estimated from the design, then run free of noise until it stands."""

from __future__ import annotations

from typing import Any

import numpy as np

from sample_logs import feeder, thermal, throat
from sample_logs.auxiliaries import AuxiliaryState
from sample_logs.barrel import BarrelState, empty_ledger
from sample_logs.commands import Commands
from sample_logs.draw_zones import HALL_C
from sample_logs.drive import turning
from sample_logs.plant import Nominal
from sample_logs.twin_screw import TwinParameters, TwinScrew, TwinState
from sample_logs.upsets import no_upsets
from sample_logs.vent import VentState
from sample_logs.zone_control import ControlState

AGE_S = 6 * 3600.0


def nominal_commands(nominal: Nominal) -> Commands:
    """Everything on, at the recipe's set-points; run axis of length 1."""
    feed = nominal.feeder_kg_h[:, None].copy()
    one = np.ones(1)
    return Commands(
        feeder_kg_h=feed, feeder_aim=feed.copy(), feeder_slew=np.maximum(feed / 30.0, 1e-3),
        zone_c=nominal.zone_c[:, None].copy(), speed_rpm=one * nominal.speed_rpm, feed_on=one.copy(),
        screw_on=one.copy(), heat_on=one.copy(), vacuum_on=one.copy(), ln_lot=0 * one, bulk=one.copy(),
        hall_c=one * HALL_C,
    )  # fmt: skip


def first_guess(p: TwinParameters, nominal: Nominal) -> TwinState:
    """A running state close to steady; p stacked with one run."""
    feed = nominal.feeder_kg_h[:, None]
    zone_c = nominal.zone_c[:, None]
    shares = p.barrel.shares
    mass = shares * p.barrel.nominal_kg[:, None, :]
    temperature = p.barrel.nominal_c.copy()
    flow = np.cumsum((p.barrel.enters * feed[None]).sum(1), axis=0) / 3600.0
    wall = p.barrel.wall_w_k * np.minimum(p.barrel.nominal_kg / p.barrel.capacity_kg, 1.0)
    work = p.barrel.power_w + p.barrel.plastic_j_kg * p.barrel.melts * flow
    melt_w = wall * (temperature - zone_c) + p.barrel.to_wall * work
    duty = thermal.steady_heating(p.zone, zone_c, melt_w, HALL_C)
    output = np.where(duty > 0, duty, duty / p.zone.cool_gain)
    one = np.ones(1)
    pressure = p.die.die_bar + p.die.screen_bar
    return TwinState(
        feeder=feeder.settled(p.feeder, feed),
        throat=throat.empty(len(nominal.feeder_kg_h), 1),
        barrel=BarrelState(mass, temperature, flow.copy(), -melt_w, pressure, 0 * one, one.copy(), empty_ledger(1)),
        zone=thermal.at_temperature(zone_c.copy(), duty),
        control=ControlState(duty.copy(), zone_c.copy(), output, zone_c.copy()),
        drive=turning(one * nominal.speed_rpm, 0 * one),
        vent=VentState(p.vent.wanted_mbar.copy(), 0 * one),
        auxiliary=AuxiliaryState(one * (HALL_C + 12.0), one * (HALL_C + 30.0)),
        turning_s=one * AGE_S,
        blinding=0.05 * one,
        melt_probe_c=temperature[-2].copy(),
        pressure_read=np.stack([pressure, p.die.die_bar]),
        arrivals_kg=0 * feed,
    )


def settle(p: Any, state: Any, commands: Commands, seconds: float, core: Any = TwinScrew, step_s: float = 1.0) -> Any:
    """Runs a line (of kind `core`, with the parameters and state of its kind) free of noise and returns it; its state
    is the steady state."""
    line = core(p, state, step_s)
    feeders, zones = commands.feeder_kg_h.shape[0], commands.zone_c.shape[0]
    runs = commands.speed_rpm.shape[0]
    quiet = {name: np.zeros((k, runs)) for name, k in core.noise_groups(feeders, zones).items()}
    upset = no_upsets(feeders, zones, runs)
    for _ in range(round(seconds / step_s)):
        line.step(commands, upset, quiet)
    line.state.turning_s = line.state.turning_s * 0 + AGE_S
    return line
