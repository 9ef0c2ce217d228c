"""What a sound line does all day and what must raise nothing in the pressure path, the drive, the vent or the data."""

from __future__ import annotations

import numpy as np

from tests.monitor.conditions.told import Story
from tests.monitor.scripted_world import FEEDERS, Script
from tests.monitor.world_path import add

P1, P2 = "melt_pressure:P1", "melt_pressure:P2"
N = 0.35


def undisturbed(s: Script) -> None:
    """Nothing."""


def bolt_changer(s: Script) -> None:
    """Half the area shut for a minute and a half: +35 %, then a dip, then the clean screen, 10 % lower than before."""
    s.scale(P1, 0, 5000, 1.10)
    s.scale(P1, 5000, 5090, 1.35)
    s.scale(P1, 5090, 5110, 0.9)


def back_flush(s: Script) -> None:
    """A changer that flushes itself every 40 min: up 9 %, back at once. It has been doing so all the time."""
    ramp = np.arange(s.n) * s.cadence % 2400 / 2400
    s.x[P1] *= 1 + 0.09 * ramp


def _go(s: Script, start: float, end: float, rate: float, speed: float, torque: float) -> None:
    for feeder in FEEDERS:
        s.scale(f"feeder_rate:{feeder}", start, end, rate)
        s.scale(f"feeder_setpoint:{feeder}", start, end, rate)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, start, end, speed)
    s.scale("torque", start, end, torque)
    for key in (P1, P2):
        s.scale(key, start, end, rate**N)


def planned_rate_up(s: Script) -> None:
    """A fifth more rate at the same speed."""
    _go(s, 5000, s.n, 1.2, 1.0, 1.12)


def planned_rate_down(s: Script) -> None:
    """A quarter less rate and speed, with a melt whose exponent is not the usual one."""
    _go(s, 5000, s.n, 0.75, 0.75, 1.0)
    for key in (P1, P2):
        s.scale(key, 5000, s.n, 0.75**0.25)


def start_slide(s: Script) -> None:
    """A start after a stop; torque and pressure slide down by 7 % in an hour."""
    _stop(s, 1000, 2500)
    part = s.span(2500, s.n)
    slide = 1 + 0.07 * np.exp(-np.arange(len(s.x["torque"][part])) * s.cadence / 2400)
    for key in ("torque", P1, P2):
        s.x[key][part] *= slide


def _stop(s: Script, start: float, end: float) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque", "haul_off_speed", "haul_off_load", "cutter_speed"):
        s.put(key, start, end, 0)
    for feeder in FEEDERS:
        for role in ("feeder_rate", "feeder_setpoint", "feeder_drive"):
            s.put(f"{role}:{feeder}", start, end, 0)
    for key in (P1, P2):
        part = s.span(start, end)
        s.x[key][part] = 0.5 + 50 * np.exp(-np.arange(len(s.x[key][part])) * s.cadence / 40)
    s.x["gearbox_oil_pressure"][s.span(start, end)] = 0.0


def stop_and_start(s: Script) -> None:
    """A plain stop of forty minutes; the pressure drains in a minute."""
    _stop(s, 4000, 6400)


def new_lot(s: Script) -> None:
    """A lot 4 % more viscous, all of a sudden."""
    for key in ("torque", P1, P2):
        s.scale(key, 5000, s.n, 1.04)


def thicker_melt_creeping(s: Script) -> None:
    """Viscosity up by 12 % over two hours: pressure and torque together."""
    for key in ("torque", P1, P2):
        part = s.span(3000, s.n)
        s.x[key][part] *= np.linspace(1, 1.12, len(s.x[key][part]))


def cleaning_the_vent(s: Script) -> None:
    """Vacuum gone for two minutes while somebody clears the dome."""
    s.put("vacuum:V1", 5000, 5120, 1000)


def gap(s: Script) -> None:
    """Four seconds without any reading, held by nothing."""
    for key in s.x:
        s.put(key, 5000, 5004, float("nan"))


def restart_writes_zeros(s: Script) -> None:
    """The controller of the melt and zone sensors restarts and writes zeros for twelve seconds."""
    for key in s.x:
        if key.startswith(("melt_", "zone_temperature", "zone_output")):
            s.put(key, 5000, 5012, 0.0)


def rounded(s: Script) -> None:
    """Whole numbers only."""
    for key in s.x:
        s.x[key][:] = np.round(s.x[key])


def spikes(s: Script) -> None:
    """One odd sample every ten minutes, in pressure, torque and speed, never together."""
    for second in range(600, int(s.n * s.cadence), 600):
        s.put(P1, second, second + 1, 199)
        s.put("torque", second + 100, second + 101, 140)
        s.put("screw_speed", second + 200, second + 201, 0)
        s.put(P2, second + 300, second + 301, 0)


def summer_day(s: Script) -> None:
    """Hall and water up by 7 C over the run, everything that is cooled a little with them."""
    for key in ("ambient_temperature", "cooling_water_temperature", "throat_temperature", "gearbox_oil_temperature"):
        add(s, key, 0, s.n, 0, 7)
    add(s, "vacuum:V1", 0, s.n, 0, 15)


def rethreading(s: Script) -> None:
    """Feed off for three minutes, screw turning, strands laid again."""
    _unfed(s, 5000, 5180)


def _unfed(s: Script, start: float, end: float) -> None:
    for feeder in FEEDERS:
        for role in ("feeder_rate", "feeder_setpoint", "feeder_drive"):
            s.put(f"{role}:{feeder}", start, end, 0)
    s.put("torque", start + 20, end + 20, 12)
    for key in (P1, P2):
        part = s.span(start, end)
        s.x[key][part] = 4 + 50 * np.exp(-np.arange(len(s.x[key][part])) * s.cadence / 60)


def feed_lost(s: Script) -> None:
    """The main feeder bridges: torque falls to half within seconds, pressure by a third over a minute."""
    s.scale("feeder_rate:F1", 5000, 5400, 0.3)
    s.scale("torque", 5006, 5420, 0.5)
    part = s.span(5020, 5440)
    s.x[P1][part] *= 1 - 0.33 * (1 - np.exp(-np.arange(len(s.x[P1][part])) / 25))
    s.x[P2][part] *= 1 - 0.33 * (1 - np.exp(-np.arange(len(s.x[P2][part])) / 25))


NUISANCES: tuple[Story, ...] = (
    undisturbed, bolt_changer, back_flush, planned_rate_up, planned_rate_down, start_slide, stop_and_start, new_lot,
    thicker_melt_creeping, cleaning_the_vent, gap, restart_writes_zeros, rounded, spikes, summer_day, rethreading,
)  # fmt: skip
