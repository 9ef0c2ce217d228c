"""The twin-screw line put together: feeders, throat, screws, die, zones, drive and vent, one step at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs import barrel, drive, feeder, thermal, throat, vent, zone_control
from sample_logs.auxiliaries import AuxiliaryParameters, AuxiliaryState
from sample_logs.auxiliaries import advance as advance_auxiliaries
from sample_logs.commands import Commands
from sample_logs.die import DieParameters
from sample_logs.melt import MeltParameters
from sample_logs.pressure_reading import pressure_shown
from sample_logs.sensor_noise import SensorNoise
from sample_logs.upsets import Upsets

SLIDE_S = 2400.0
"""After a start the melt's stiffness slides down with this time constant (torque and pressure 3 to 8 %)."""
LEFT_AFTER_A_STOP = 0.15
"""Part of their content that the screws keep when they are run empty before a stop; own choice."""


@dataclass
class TwinParameters:
    """Every number of one twin-screw line, or of many stacked."""

    feeder: feeder.FeederParameters
    throat: throat.ThroatParameters
    barrel: barrel.BarrelParameters
    melt: MeltParameters
    die: DieParameters
    zone: thermal.ZoneParameters
    control: zone_control.ControlParameters
    drive: drive.DriveParameters
    vent: vent.VentParameters
    auxiliary: AuxiliaryParameters
    noise: SensorNoise


@dataclass
class TwinState:
    """State of every part; turning_s: time since the screw last started; blinding: relative screen resistance."""

    feeder: feeder.FeederState
    throat: throat.ThroatState
    barrel: barrel.BarrelState
    zone: thermal.ZoneState
    control: zone_control.ControlState
    drive: drive.DriveState
    vent: vent.VentState
    auxiliary: AuxiliaryState
    turning_s: np.ndarray
    blinding: np.ndarray
    melt_probe_c: np.ndarray
    pressure_read: np.ndarray
    arrivals_kg: np.ndarray

    def rest(self) -> None:
        """Feeders and vent of a line that stands; its screws were run empty before, adapter to die stay full."""
        self.barrel.mass_kg[:-3] *= LEFT_AFTER_A_STOP
        f = self.feeder
        for values in (f.drive_pct, f.drive1, f.drive2, f.slope1, f.slope2, f.rate_kg_h):
            values[:] = 0.0
        self.throat.line_kg[:] = 0.0
        self.throat.throat_kg[:] = 0.0
        self.vent.dome_mbar[:] = vent.ROOM_MBAR


def set_hoppers(state: TwinState, p: TwinParameters, rng: np.random.Generator) -> None:
    """Puts every hopper at a level of its own between its refill levels; in place."""
    f = p.feeder
    level = f.refill_low_kg + rng.uniform(0.05, 0.95, len(f.refill_low_kg)) * (f.refill_high_kg - f.refill_low_kg)
    state.feeder.hopper_kg = level[:, None].copy()
    state.feeder.weight_kg = level[:, None].copy()


class TwinScrew:
    """Steps many twin-screw lines of equal structure together."""

    def __init__(self, parameters: TwinParameters, state: TwinState, step_s: float) -> None:
        self.p, self.state, self.step_s = parameters, state, step_s
        self.sections = parameters.barrel.capacity_kg.shape[0]
        self.pump = self.sections - 4
        self._lag = np.rint(parameters.feeder.lag_s / step_s).astype(np.int64).clip(0, throat.SLOTS - 1)
        self._dead = np.rint(parameters.zone.dead_s / step_s).astype(np.int64).clip(0, thermal.SLOTS - 1)
        self._screen_part = np.zeros_like(state.turning_s)
        enters = parameters.barrel.enters
        self._side_section = (enters * parameters.feeder.side[None]).sum(1)

    @staticmethod
    def noise_groups(feeders: int, zones: int) -> dict[str, int]:
        """Channels of each noise this core needs."""
        return {
            "feed": feeders, "weight": feeders, "zone": zones, "melt": 1, "torque": 1, "speed": 1, "pressure": 2,
            "melt_temperature": 1, "vacuum": 1, "current": zones, "stuffer": 1, "level": 1, "hall": 1, "throat": 1,
        }  # fmt: skip

    def step(self, command: Commands, upset: Upsets, noise: dict[str, np.ndarray]) -> None:
        """One step on; `noise` holds one unit-variance value per channel, [channel, run]."""
        s, p, dt = self.state, self.p, self.step_s
        command.ramp(dt)
        hall = command.hall_c + p.noise.hall_c * noise["hall"][0]
        drive.advance(s.drive, p.drive, upset, command.speed_rpm * command.screw_on, s.barrel.screw_w,
                      s.barrel.pressure_bar, p.die.trip_bar, dt)  # fmt: skip
        running = s.drive.motor_rpm > 0.05 * p.drive.rated_rpm
        s.turning_s = np.where(running, s.turning_s + dt, 0.0)
        self._feed(command, upset, noise, running)
        self._screws(command, upset, noise, hall)
        heat_on = (command.heat_on > 0.5).astype(float)
        thermal.advance(s.zone, p.zone, upset, s.control.output_pct, -s.barrel.wall_w, hall, self._dead, dt)
        zone_control.advance(s.control, p.control, upset, s.zone.probe_c, noise["zone"], command.zone_c, heat_on,
                             hall, p.zone.cool_gain, p.zone.limit_pct, dt)  # fmt: skip
        backed_up = s.barrel.mass_kg[self.pump].sum(0) / p.barrel.capacity_kg[self.pump] - 1.0
        vent.advance(s.vent, p.vent, upset, command.vacuum_on > 0.5, backed_up, dt)
        load = s.drive.torque * s.drive.motor_rpm / p.drive.rated_rpm
        advance_auxiliaries(s.auxiliary, p.auxiliary, s.zone.metal_c[0], hall, load, upset, dt)
        self._read(upset, noise)

    def _feed(self, command: Commands, upset: Upsets, noise: dict[str, np.ndarray], running: np.ndarray) -> None:
        s, p = self.state, self.p
        may = (command.feed_on > 0.5) & (upset.feed_stopped < 0.5)
        may &= (running & (s.drive.tripped < 0.5)) | (upset.interlock_off > 0.5)
        free = throat.packed(s.throat, p.throat, p.feeder.side)
        factor_gain = upset.factor_gain
        upset.factor_gain = factor_gain * command.bulk
        trim = np.where(p.drive.trims_feed > 0.5, s.drive.limiter, 1.0)
        delivered = feeder.advance(s.feeder, p.feeder, upset, command.feeder_kg_h * trim, may[None], free,
                                   (noise["feed"], noise["weight"]), self.step_s)  # fmt: skip
        upset.factor_gain = factor_gain
        turns = s.drive.screw_rpm / 60.0 * self.step_s
        room = barrel.room_kg(s.barrel, p.barrel, self.pump)
        side_room = (self._side_section * room).sum(0)
        s.arrivals_kg = throat.advance(s.throat, p.throat, upset, delivered, self._lag, p.feeder.side, turns,
                                       room[0], side_room)  # fmt: skip

    def _screws(self, command: Commands, upset: Upsets, noise: dict[str, np.ndarray], hall: np.ndarray) -> None:
        s, p = self.state, self.p
        screen = np.maximum(1.0 + s.blinding + upset.screen, 0.02)
        resistance = p.die.screen_bar * screen + p.die.die_bar * upset.die
        leak = upset.leak > 0.5
        slide = p.auxiliary.slide_ln * np.exp(-s.turning_s / SLIDE_S)
        given = barrel.BarrelInput(
            arrivals_kg=s.arrivals_kg,
            speed_rps=s.drive.screw_rpm / 60.0,
            wall_c=s.zone.metal_c,
            feed_c=hall + p.auxiliary.feed_rise_c,
            resistance_bar=np.where(leak, 0.02 * resistance, resistance)
            * (1.0 - upset.melt_leak) ** p.melt.power_law_index,
            die_rate_kg_s=p.die.rate_kg_s,
            ln_lot=upset.ln_lot + command.ln_lot + slide + p.noise.melt_ln * noise["melt"][0],
            dissipation=upset.dissipation,
            vent_loss=0.06 * upset.vent_flooded,
        )
        barrel.advance(s.barrel, p.barrel, p.melt, given, self.pump, self.step_s)
        s.blinding = s.blinding + p.die.blinding_per_kg * s.barrel.passed_kg[-1]
        self._screen_part = p.die.screen_bar * screen / resistance
        melt = s.barrel.temperature_c[-2]
        flow = np.minimum(s.barrel.passed_kg[-1] / (p.die.rate_kg_s * self.step_s), 1.0)
        shown = s.zone.metal_c[-2] + (melt - s.zone.metal_c[-2]) * (0.35 + 0.65 * flow)
        lag = 1.0 - np.exp(-self.step_s / p.auxiliary.melt_probe_s)
        s.melt_probe_c = s.melt_probe_c + lag * (shown - s.melt_probe_c)

    def _read(self, upset: Upsets, noise: dict[str, np.ndarray]) -> None:
        s, p = self.state, self.p
        ahead = np.stack([s.barrel.pressure_bar, s.barrel.pressure_bar * (1.0 - self._screen_part)])
        s.pressure_read = pressure_shown(ahead, s.pressure_read, s.drive.screw_rpm, p.noise, upset, noise, self.step_s)

    def readings(self, command: Commands, upset: Upsets, noise: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
        """What every transmitter shows now, by name, [run] or [channel, run]."""
        s, p, sd = self.state, self.p, self.p.noise
        torque = s.drive.torque * 100.0 * (1.0 + sd.torque_rel * noise["torque"][0])
        speed = s.drive.motor_rpm * (1.0 + sd.speed_rel * noise["speed"][0])
        heat = np.maximum(np.maximum(s.control.output_pct, 0.0) * upset.heater, upset.stuck_pct)
        pulled = torque / 100.0 * p.auxiliary.rated_a * np.sqrt(1.0 - p.auxiliary.magnetising**2)
        magnetising = p.auxiliary.magnetising * p.auxiliary.rated_a * (s.drive.motor_rpm > 1.0)
        stuffer = (s.throat.throat_kg + s.throat.waiting_kg) * p.feeder.side
        side_kg = stuffer.sum(0) / p.throat.side_chute_kg
        side_rate = (s.feeder.delivered_kg * p.feeder.side).sum(0) / self.step_s * 3600.0
        return {
            "zone_temperature": s.control.reading_c,
            "zone_setpoint": s.control.setpoint_c,
            "zone_output": s.control.output_pct,
            "zone_current": p.auxiliary.heater_a * heat / 100.0 * (1.0 + sd.current_rel * noise["current"]),
            "screw_speed": speed,
            "screw_speed_setpoint": s.drive.setpoint_rpm,
            "torque": np.maximum(torque, 0.0),
            "motor_current": np.hypot(pulled, magnetising),
            "drive_power": torque / 100.0 * p.drive.rated_nm * speed * (np.pi / 30e3) / 0.94,
            "melt_pressure": s.pressure_read,
            "melt_temperature": s.melt_probe_c + p.auxiliary.melt_probe_offset_c
            + sd.melt_temperature_c * noise["melt_temperature"][0],
            "feeder_rate": np.maximum(s.feeder.rate_kg_h, 0.0),
            "feeder_setpoint": s.feeder.setpoint_kg_h,
            "feeder_drive": s.feeder.drive_pct,
            "feeder_weight": s.feeder.weight_kg,
            "feeder_refill": s.feeder.refilling,
            "feeder_gravimetric": (s.feeder.volumetric_s <= 0).astype(float),
            "stuffer_load": (12.0 + 25.0 * side_rate / np.maximum(p.auxiliary.side_kg_h, 1.0)
                             + 60.0 * np.minimum(side_kg, 1.0)) * (1.0 + sd.stuffer_rel * noise["stuffer"][0]),
            "vacuum": s.vent.dome_mbar + sd.vacuum_mbar * noise["vacuum"][0] * (1.0 - 0.8 * s.vent.quiet),
            "line_rate_setpoint": s.feeder.setpoint_kg_h.sum(0),
            "throat_temperature": s.auxiliary.throat_c + 0.3 * noise["throat"][0],
            "gearbox_oil_temperature": s.auxiliary.oil_c + 0.1 * noise["throat"][0],
            "ambient_temperature": command.hall_c + sd.hall_c * noise["hall"][0],
        }  # fmt: skip
