"""What a well-instrumented line measures beside its core: controllers' states, the strand line, totals, gearbox,
cooling water, mains, dryer, pressures along the barrel."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from sample_logs.commands import Commands
from sample_logs.upsets import Upsets

NOISE: dict[str, tuple[int, float]] = {"aux": (12, 4.0), "barrel": (1, 1.0)}
"""Groups of `NoiseBank`: channels, correlation time in s."""
HAUL_RUNNING, WATER_RISE_C = 0.35, 5.0
RUNNING_PART = 0.3
"""Below this part of the nominal flow no strands run and the diverter stands on scrap."""
LAG_S = 60.0


@dataclass(frozen=True)
class SurroundingNumbers:
    """strands; haul_load_pct of the haul-off at the recipe's rate; haul_m_min, cutter_rpm; inject_bar at the recipe's
    flow; dew_c, mains_v, water_c, bath_c, oil_bar, filter_bar as usual; peak_bar over a full kneading zone, peak_zone
    its index (as float); shift_bar: zero shift of a hot barrel sensor."""

    strands: float
    haul_load_pct: float
    haul_m_min: float
    cutter_rpm: float
    inject_bar: float
    dew_c: float
    mains_v: float
    water_c: float
    bath_c: float
    oil_bar: float
    filter_bar: float
    peak_bar: float
    peak_zone: float
    shift_bar: float


def draw_surroundings(rng: np.random.Generator, peak_zone: int) -> SurroundingNumbers:
    """Numbers as lines of this size have them; own choice."""
    u = rng.uniform
    return SurroundingNumbers(
        float(rng.integers(8, 31)), u(25, 60), u(40, 110), u(400, 900), u(4, 25), u(-45, -32), u(390, 410), u(12, 20),
        u(25, 45), u(2.2, 4.5), u(0.2, 0.6), u(5, 18), float(peak_zone), u(0.5, 2.5),
    )  # fmt: skip


class Surroundings:
    """Steps with a line of either kind; arrays over its runs."""

    def __init__(self, numbers: list[SurroundingNumbers], step_s: float) -> None:
        self.n: Any = {f.name: np.array([getattr(one, f.name) for one in numbers]) for f in fields(SurroundingNumbers)}
        runs = len(numbers)
        self.step_s = step_s
        self.packed_kg, self.scrap_kg = np.zeros(runs), np.zeros(runs)
        self.bath_c, self.water_c, self.dew_c = (self.n[k].copy() for k in ("bath_c", "water_c", "dew_c"))

    def readings(
        self, line: Any, command: Commands, upset: Upsets, noise: dict[str, np.ndarray]
    ) -> dict[str, np.ndarray]:
        """One step on; what is shown, by name, [run] or [channel, run]."""
        s, p, n, v = line.state, line.p, self.n, noise["aux"]
        out_kg = s.barrel.passed_kg[-1] * (1.0 - upset.melt_leak)
        flow = out_kg / (p.die.rate_kg_s * self.step_s)
        runs = flow > RUNNING_PART
        speed = s.drive.motor_rpm / p.drive.rated_rpm
        self.packed_kg = self.packed_kg + out_kg * runs
        self.scrap_kg = self.scrap_kg + out_kg * ~runs
        lag = 1.0 - np.exp(-self.step_s / LAG_S)
        self.bath_c = self.bath_c + lag * (n["bath_c"] + WATER_RISE_C * (flow - 1.0) + upset.bath_c - self.bath_c)
        self.water_c = self.water_c + lag * (n["water_c"] + upset.water_c - self.water_c)
        self.dew_c = self.dew_c + lag * (n["dew_c"] + upset.dew_c - self.dew_c)
        whole = 1.0 - np.minimum(upset.strands / n["strands"], 1.0)
        pull = HAUL_RUNNING + (1.0 - HAUL_RUNNING) * whole * np.minimum(flow, 2.0) ** 0.3
        load = n["haul_load_pct"] * pull * runs * (1.0 + 0.01 * v[0])
        found = {
            "zone_cooling": np.maximum(-s.control.output_pct, 0.0),
            "zone_auto": (upset.manual < 0.5).astype(float),
            "haul_off_load": load,
            "haul_off_speed": n["haul_m_min"] * runs * (1.0 + 0.002 * v[1]),
            "cutter_speed": n["cutter_rpm"] * runs * (1.0 + 0.002 * v[2]),
            "bath_temperature": self.bath_c + 0.2 * v[3],
            "diverter_to_product": runs.astype(float),
            "packed_total": self.packed_kg,
            "scrap_total": self.scrap_kg,
            "gearbox_oil_pressure": n["oil_bar"] * (0.5 + 0.5 * speed) * upset.oil_pressure * (1.0 + 0.01 * v[4]),
            "gearbox_filter_drop": n["filter_bar"] * (0.3 + 0.7 * speed) + upset.filter_bar + 0.01 * v[5],
            "cooling_water_temperature": self.water_c + 0.2 * v[6],
            "mains_voltage": n["mains_v"] * upset.mains * (1.0 + 0.004 * v[7]),
            "dew_point": self.dew_c + 0.4 * v[8],
            "barrel_pressure": self._along_the_barrel(line, noise["barrel"][0]),
        }
        return found | (self._fed(line, command, upset, v) if hasattr(s, "feeder") else {})

    def _fed(self, line: Any, command: Commands, upset: Upsets, v: np.ndarray) -> dict[str, np.ndarray]:
        s, p, n = line.state, line.p, self.n
        on = (upset.tripped < 0.5) & (command.feed_on > 0.5) & (upset.feed_stopped < 0.5) & (s.feeder.setpoint_kg_h > 0)
        drives = on & ((s.drive.tripped < 0.5) & (s.drive.motor_rpm > 1.0) | (upset.interlock_off > 0.5))
        nominal = np.maximum(command.feeder_aim, 1e-6) / 3600.0 * self.step_s
        through = s.feeder.delivered_kg / nominal
        narrow = np.maximum(1.0 - upset.nozzle, 0.05)
        wanted = p.vent.wanted_mbar + upset.vacuum_set_mbar
        return {
            "feeder_running": drives.astype(float),
            "injection_pressure": n["inject_bar"] * (through / narrow) ** 1.2 * (1.0 + 0.02 * v[9]),
            "vacuum_setpoint": wanted,
        }

    def _along_the_barrel(self, line: Any, noise: np.ndarray) -> np.ndarray:
        """[zone, run]: the kneading zone's peak; ahead of the pump section what backs up into the vent zone."""
        s, p, n = line.state, line.p, self.n
        twin = hasattr(s, "feeder")
        held = s.barrel.mass_kg.sum(1) if twin else s.barrel.content_kg
        capacity = p.barrel.capacity_kg if twin else p.channel.capacity_kg
        zones = held.shape[0]
        end = zones - 4
        shown = np.tile(n["shift_bar"], (zones, 1))
        if twin:
            peak = n["peak_zone"].astype(int)
            at = np.arange(held.shape[1])
            shown[peak, at] += n["peak_bar"] * held[peak, at] / p.barrel.nominal_kg[peak, at]
            length = held[end] / capacity[end]
            shown[end - 1] += s.barrel.pressure_bar * np.clip(1.0 - 1.0 / np.maximum(length, 1e-6), 0.0, 1.0)
        else:
            shown[end - 1] += 0.6 * s.barrel.pressure_bar
        return np.maximum(shown * (1.0 + 0.03 * noise) + 0.1 * noise, 0.0)
