"""Barrel zones as first-order steel under PI controllers: a yardstick for the zone conditions, by the handbook.

Each zone: tau dT/dt = K u(t - theta) - (T - ambient) + coupling to its neighbours + shear; K 4 C/%, tau 30 min, dead
time 90 s, a 10 C step moves neighbours 1 to 3 C (values from memory); cooling twice as strong, in proportion to how
far the wall is above its water. It shares no code with the invented plant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from monitor.line import Line
from tests.monitor.scripted_world import World
from tests.monitor.world_heat import HEAT_RECIPE, HEAT_TARGETS, HEAT_ZONES, HeatScript, heat_line

STEP_S = 5.0
COOLING_GAIN = 2.0
BAND_PCT_C, RESET_S = 3.0, 900.0
N = len(HEAT_ZONES)


@dataclass
class Steel:
    """What acts on the zones, each a function of time (s) that gives [zone] or a number.

    heater: share of the bands alive. mains: power against nominal. shear_c: what shear alone would lift a zone by.
    stuck: 1 = heater on whatever the output. cooling: share of cooling that acts; passes: % cooling that always acts.
    reads: (wall temperatures) -> what the controllers read. sets: set-points. manual: NaN or the fixed output.
    gain_c_pct, tau_s, dead_s, coupling: of the steel; band_pct_c (%/C), reset_s: of the controllers.
    """

    heater: Callable[[float], object] = lambda t: 1.0
    mains: Callable[[float], float] = lambda t: 1.0
    ambient_c: Callable[[float], float] = lambda t: 25.0
    shear_c: Callable[[float], object] = lambda t: 90.0
    stuck: Callable[[float], object] = lambda t: 0.0
    cooling: Callable[[float], object] = lambda t: 1.0
    passes: Callable[[float], object] = lambda t: 0.0
    reads: Callable[[float, np.ndarray], np.ndarray] = lambda t, wall: wall
    sets: Callable[[float], object] = lambda t: np.array([HEAT_TARGETS[zone] for zone in HEAT_ZONES])
    manual: Callable[[float], object] = lambda t: np.nan
    limit_pct: float = 100.0
    band_pct_c: float = BAND_PCT_C
    gain_c_pct: float = 4.0
    tau_s: float = 1800.0
    dead_s: float = 90.0
    coupling: float = 0.25
    reset_s: float = RESET_S
    start_c: np.ndarray | None = None
    wall: np.ndarray = field(default_factory=lambda: np.zeros(0))


def only_zone(
    name: str, value: float, others: float, from_s: float = 0.0, to_s: float = 1e9
) -> Callable[[float], object]:
    """A value for one zone in a span of time, another for the rest."""
    place = HEAT_ZONES.index(name)

    def at(t: float) -> np.ndarray:
        out = np.full(N, others)
        if from_s <= t < to_s:
            out[place] = value
        return out

    return at


HEAT_LINE_10_S = heat_line(10.0)
"""Ten times quicker to judge; steel does not notice."""


def heated(
    seconds: int, steel: Steel, seed: int = 31, noise_c: float = 0.15, line: Line = HEAT_LINE_10_S
) -> HeatScript:
    """A log of the heat line with these zones; everything else runs undisturbed."""
    s = HeatScript(seconds, seed, line)
    steps = int(seconds / STEP_S)
    rng = np.random.default_rng(seed)
    sets = np.asarray(steel.sets(0.0), float)
    wall = sets.copy() if steel.start_c is None else steel.start_c.copy()
    gain = np.full(N, steel.gain_c_pct)
    feed = np.array([zone == "Z1" for zone in HEAT_ZONES])
    late = int(steel.dead_s / STEP_S)
    shear0 = np.where(feed, 0.0, np.asarray(steel.shear_c(0.0), float))
    steady = (sets - 25.0 - shear0 + steel.coupling * _pull(sets)) / gain
    integral = np.clip(steady, -100, 100) if steel.start_c is None else np.zeros(N)
    pipe = [integral.copy() for _ in range(late + 1)]
    temperatures, outputs, setpoints, walls = (np.empty((steps, N)) for _ in range(4))
    for k in range(steps):
        t = k * STEP_S
        sets = np.asarray(steel.sets(t), float) + np.zeros(N)
        read = steel.reads(t, wall) + rng.normal(0, noise_c, N)
        error = sets - read
        asked = steel.band_pct_c * error + integral
        output = np.clip(asked, -100.0, steel.limit_pct)
        fixed = np.asarray(steel.manual(t), float) + np.zeros(N)
        output = np.where(np.isnan(fixed), output, fixed)
        free = (output == asked) | (np.abs(integral) > 100) | (np.sign(error) != np.sign(asked))
        integral = np.where(free, integral + steel.band_pct_c * error * STEP_S / steel.reset_s, integral)
        integral = np.where(np.isnan(fixed), integral, fixed)
        pipe.append(output.copy())
        acts = pipe.pop(0)
        heat = np.where(np.asarray(steel.stuck(t)) > 0, 100.0, np.fmax(acts, 0.0))
        heat = heat * np.asarray(steel.heater(t)) * steel.mains(t)
        cool = np.fmax(-acts, 0.0) * np.asarray(steel.cooling(t)) + np.asarray(steel.passes(t))
        shear = np.where(feed, 0.0, np.asarray(steel.shear_c(t), float))
        cool = cool * (wall - 20.0) / 180.0
        pull = (
            gain * heat
            - COOLING_GAIN * gain * cool
            - (wall - steel.ambient_c(t))
            + shear
            - steel.coupling * _pull(wall)
        )
        wall = wall + STEP_S / steel.tau_s * pull
        temperatures[k], outputs[k], setpoints[k], walls[k] = read, output, sets, wall
    steel.wall = walls
    at = np.minimum((np.arange(s.n) * s.cadence / STEP_S).astype(int), steps - 1)
    for place, zone in enumerate(HEAT_ZONES):
        s.x[f"zone_temperature:{zone}"][:] = np.round(temperatures[at, place], 1)
        s.x[f"zone_setpoint:{zone}"][:] = setpoints[at, place]
        output = outputs[at, place]
        if zone == "Z5":
            s.x["zone_cooling:Z5"][:] = np.round(np.fmax(-output, 0.0), 1)
            output = np.fmax(output, 0.0)
        s.x[f"zone_output:{zone}"][:] = np.round(output, 1)
    heat = np.fmax(outputs[at, HEAT_ZONES.index("Z4")], 0.0)
    on = np.where(
        np.asarray([np.any(np.asarray(steel.stuck(k * STEP_S + 1e-9)) > 0) for k in range(steps)])[at], 100, heat
    )
    s.x["zone_current:Z4"][:] = 20.0 * (np.arange(s.n) * s.cadence % 20 < on / 5)
    return s


def _pull(wall: np.ndarray) -> np.ndarray:
    """Sum of temperature differences to the neighbours."""
    left, right = np.append(wall[:1], wall[:-1]), np.append(wall[1:], wall[-1:])
    return (wall - left) + (wall - right)


def heated_twice() -> World:
    """Nine hours standing, on 10 s readings: heat-up, cool-down, a second heat-up with a third of Z3's bands dead, and
    at its end a contactor that sticks in the adapter zone."""
    sets = np.array([HEAT_TARGETS[zone] for zone in HEAT_ZONES])
    steel = Steel(
        start_c=np.full(N, 25.0),
        shear_c=lambda t: 0.0,
        heater=only_zone("Z3", 2 / 3, 1.0, 4 * 3600),
        stuck=only_zone("ADAPTER", 1, 0, 7.8 * 3600),
        cooling=only_zone("ADAPTER", 0.0, 1.0, 7.8 * 3600),
        sets=lambda t: np.where((t > 3 * 3600) & (t < 6 * 3600), 25.0, sets),
    )
    s = heated(9 * 3600, steel)
    s.stop(0, 9 * 3600)
    return s.world(HEAT_RECIPE)
