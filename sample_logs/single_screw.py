"""The single-screw line put together: hopper, throat, channel, die, zones and drive, one step at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs import channel, drive, hopper, thermal, zone_control
from sample_logs.auxiliaries import AuxiliaryParameters, AuxiliaryState
from sample_logs.auxiliaries import advance as advance_auxiliaries
from sample_logs.commands import Commands
from sample_logs.die import DieParameters
from sample_logs.melt import MeltParameters
from sample_logs.pressure_reading import pressure_shown
from sample_logs.sensor_noise import SensorNoise
from sample_logs.twin_screw import SLIDE_S
from sample_logs.upsets import Upsets

DIP_PART = 0.4
"""Part of a surge period in which less feed comes; own choice."""


@dataclass
class SingleParameters:
    """Every number of one single-screw line, or of many stacked."""

    hopper: hopper.HopperParameters
    channel: channel.ChannelParameters
    melt: MeltParameters
    die: DieParameters
    zone: thermal.ZoneParameters
    control: zone_control.ControlParameters
    drive: drive.DriveParameters
    auxiliary: AuxiliaryParameters
    noise: SensorNoise


@dataclass
class SingleState:
    """State of every part; surge_s: time into the present surge; the rest as in `twin_screw.TwinState`."""

    hopper: hopper.HopperState
    barrel: channel.ChannelState
    zone: thermal.ZoneState
    control: zone_control.ControlState
    drive: drive.DriveState
    auxiliary: AuxiliaryState
    turning_s: np.ndarray
    blinding: np.ndarray
    melt_probe_c: np.ndarray
    pressure_read: np.ndarray
    surge_s: np.ndarray
    taken_kg: np.ndarray

    def rest(self) -> None:
        """Hopper rate and packed melt of a line that stands."""
        self.hopper.rate_kg_h[:] = 0.0
        self.hopper.rate1_kg_h[:] = 0.0
        self.barrel.elastic_kg[:] = 0.0


def set_hopper(state: SingleState, p: SingleParameters, rng: np.random.Generator) -> None:
    """Puts the hopper somewhere in its loader cycle; in place."""
    level = p.hopper.low_kg + rng.uniform(0.05, 0.95) * (p.hopper.high_kg - p.hopper.low_kg)
    state.hopper.content_kg = np.atleast_1d(level).copy()
    state.hopper.weight_kg = np.atleast_1d(level).copy()


class SingleScrew:
    """Steps many single-screw lines of equal structure together."""

    def __init__(self, parameters: SingleParameters, state: SingleState, step_s: float) -> None:
        self.p, self.state, self.step_s = parameters, state, step_s
        self.metering = parameters.channel.capacity_kg.shape[0] - 4
        self._dead = np.rint(parameters.zone.dead_s / step_s).astype(np.int64).clip(0, thermal.SLOTS - 1)
        self._screen_part = np.zeros_like(state.turning_s)

    @staticmethod
    def noise_groups(feeders: int, zones: int) -> dict[str, int]:
        """Channels of each noise this core needs."""
        return {
            "intake": 1, "weight": 1, "zone": zones, "melt": 1, "torque": 1, "speed": 1, "pressure": 2,
            "melt_temperature": 1, "current": zones, "level": 1, "hall": 1, "throat": 1,
        }  # fmt: skip

    def step(self, command: Commands, upset: Upsets, noise: dict[str, np.ndarray]) -> None:
        """One step on; `noise` holds one unit-variance value per channel, [channel, run]."""
        s, p, dt = self.state, self.p, self.step_s
        hall = command.hall_c + p.noise.hall_c * noise["hall"][0]
        drive.advance(s.drive, p.drive, upset, command.speed_rpm * command.screw_on, s.barrel.screw_w,
                      s.barrel.pressure_bar, p.die.trip_bar, dt)  # fmt: skip
        running = s.drive.motor_rpm > 0.05 * p.drive.rated_rpm
        s.turning_s = np.where(running, s.turning_s + dt, 0.0)
        self._screw(command, upset, noise, hall)
        hopper.advance(s.hopper, p.hopper, upset, s.taken_kg, noise["weight"][0], dt)
        heat_on = (command.heat_on > 0.5).astype(float)
        thermal.advance(s.zone, p.zone, upset, s.control.output_pct, -s.barrel.wall_w, hall, self._dead, dt)
        zone_control.advance(s.control, p.control, upset, s.zone.probe_c, noise["zone"], command.zone_c, heat_on,
                             hall, p.zone.cool_gain, p.zone.limit_pct, dt)  # fmt: skip
        load = s.drive.torque * s.drive.motor_rpm / p.drive.rated_rpm
        advance_auxiliaries(s.auxiliary, p.auxiliary, s.zone.metal_c[0], hall, load, upset, dt)
        self._read(upset, noise)

    def _screw(self, command: Commands, upset: Upsets, noise: dict[str, np.ndarray], hall: np.ndarray) -> None:
        s, p = self.state, self.p
        turns = s.drive.screw_rpm / 60.0
        screen = np.maximum(1.0 + s.blinding + upset.screen, 0.02)
        resistance = p.die.screen_bar * screen + p.die.die_bar * upset.die
        slide = p.auxiliary.slide_ln * np.exp(-s.turning_s / SLIDE_S)
        given = channel.ChannelInput(
            intake_kg=np.minimum(self._offered(command, upset, noise), s.hopper.content_kg),
            speed_rps=turns,
            wall_c=s.zone.metal_c,
            feed_c=hall + p.auxiliary.feed_rise_c,
            resistance_bar=np.where(upset.leak > 0.5, 0.02 * resistance, resistance)
            * (1.0 - upset.melt_leak) ** p.melt.power_law_index,
            die_rate_kg_s=p.die.rate_kg_s,
            ln_lot=upset.ln_lot + command.ln_lot + slide + p.noise.melt_ln * noise["melt"][0],
            dissipation=upset.dissipation,
        )
        s.taken_kg = channel.advance(s.barrel, p.channel, p.melt, given, self.metering, self.step_s)
        s.blinding = s.blinding + p.die.blinding_per_kg * s.barrel.passed_kg[-1]
        self._screen_part = p.die.screen_bar * screen / resistance
        flow = np.minimum(s.barrel.passed_kg[-1] / (p.die.rate_kg_s * self.step_s), 1.0)
        wall = s.zone.metal_c[-2]
        shown = wall + (s.barrel.temperature_c[-2] - wall) * (0.35 + 0.65 * flow)
        lag = 1.0 - np.exp(-self.step_s / p.auxiliary.melt_probe_s)
        s.melt_probe_c = s.melt_probe_c + lag * (shown - s.melt_probe_c)

    def _offered(self, command: Commands, upset: Upsets, noise: dict[str, np.ndarray]) -> np.ndarray:
        """What the throat gives in this step, kg: all the feed section can drag, or less than the line needs."""
        s, p = self.state, self.p
        s.surge_s = np.where(upset.surge > 0, s.surge_s + self.step_s, 0.0)
        s.surge_s = np.where(s.surge_s >= upset.surge_period_s, 0.0, s.surge_s)
        into = s.surge_s / (DIP_PART * upset.surge_period_s)
        dip = np.where(into < 1.0, 6.75 * into * np.maximum(1.0 - into, 0.0) ** 2, 0.0) * upset.surge
        part = np.minimum(upset.throat_open, np.where(upset.surge > 0, 0.998 - dip, 1.0))
        full = p.channel.drag_kg_rev[0] * command.bulk * upset.intake * (1.0 + 0.02 * noise["intake"][0])
        needed = p.die.rate_kg_s / p.channel.speed_rps
        per_turn = np.where(part > 0.999, full, np.minimum(full, needed * part))
        may = (command.feed_on > 0.5) & (upset.feed_stopped < 0.5)
        return per_turn * s.drive.screw_rpm / 60.0 * self.step_s * may

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
        level = s.hopper.content_kg / p.hopper.capacity_kg * 100.0 + sd.level_pct * noise["level"][0]
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
            "line_rate": np.maximum(s.hopper.rate_kg_h, 0.0),
            "hopper_level": np.clip(level, 0.0, 100.0),
            "throat_temperature": s.auxiliary.throat_c + 0.3 * noise["throat"][0],
            "gearbox_oil_temperature": s.auxiliary.oil_c + 0.1 * noise["throat"][0],
            "ambient_temperature": command.hall_c + sd.hall_c * noise["hall"][0],
        }  # fmt: skip
