"""Faults of screen, die, melt, pressure sensors, drive, vent and gear."""

from __future__ import annotations

from tests.benchmarks.third_plant.knobs import minute
from tests.benchmarks.third_plant.life import stop_and_start
from tests.benchmarks.third_plant.machine import Kind
from tests.benchmarks.third_plant.scene import ANY, FED, NO_PUMP, PUMPED, TWIN, Scenario, Scene

S = Scenario


def screen_blinds(s: Scene) -> None:
    """The screen fills over an hour or more; sized by the rise of the whole pressure."""
    rise = s.sized((0.14, 0.2), (0.24, 0.36), (0.42, 0.6))
    s.goes("screen", 1 + rise / max(s.m.screen_part, 0.1), s.between(2400, 4500))
    s.true("screen_blinds", "P1", "P0", "P2")


def die_plugs(s: Scene) -> None:
    """Holes plug over an hour."""
    s.goes("die", 1 + s.sized((0.16, 0.22), (0.28, 0.4), (0.45, 0.65)), s.between(1800, 4200))
    s.true("die_plugs", "P1", "P2")


def die_blocks(s: Scene) -> None:
    """The die blocks within minutes."""
    lasts = s.between(10, 20)
    s.passes("die", 1 + s.sized((0.4, 0.55), (0.7, 1.0), (1.4, 2.2)), s.between(30, 120), lasts)
    s.true("die_blocks", "P1", "P2", lasts=lasts)


def freezes_off(s: Scene) -> None:
    """Cold water: holes freeze in steps."""
    up = s.sized((0.25, 0.35), (0.4, 0.6), (0.7, 0.9))
    s.goes("bath_c", s.between(16, 20), 240)
    for step in range(4):
        s.goes("die", 1 + up * (step + 1) / 4, 4, after=2 + 3 * step)
    s.true("freezes_off", "P1", begins=2)


def burst_disc(s: Scene) -> None:
    """The disc opens."""
    s.goes("leak", s.between(0.02, 0.06), 1)
    s.true("burst_disc", "P1", "P2")


def leaks(s: Scene) -> None:
    """Part of the melt leaves ahead of the die at once."""
    s.goes("leak", 1 - s.sized((0.25, 0.32), (0.35, 0.5), (0.55, 0.7)), 2)
    s.true("leaks", "P1", "P2")


def screen_torn(s: Scene) -> None:
    """A screen in use tears."""
    s.case.life.append(minute(5, "screen", 1 + s.between(0.1, 0.25) / s.m.screen_part, (s.at - 5) * 60))
    s.case.allowed |= {"screen_blinding", "recipe_window"}
    s.goes("screen", s.sized((0.35, 0.5), (0.2, 0.35), (0.05, 0.2)), 1)
    s.true("screen_torn", "P1", "P0")


def thicker_lot(s: Scene) -> None:
    """A lot more viscous."""
    s.goes("viscosity", 1 + s.sized((0.1, 0.13), (0.17, 0.24), (0.3, 0.45)), s.between(90, 500))
    s.true("thicker_lot")


def thinner_lot(s: Scene) -> None:
    """A lot less viscous, dry."""
    s.goes("viscosity", 1 - s.sized((0.1, 0.13), (0.17, 0.23), (0.27, 0.36)), s.between(90, 500))
    s.true("thinner_lot")


def wet(s: Scene) -> None:
    """Wet polymer: thinner, pressure and vent unquiet."""
    s.goes("viscosity", 1 - s.sized((0.14, 0.18), (0.22, 0.3), (0.32, 0.42)), 240)
    s.goes("pressure_noise", s.between(3, 5), 120)
    s.goes("vacuum", s.between(82, 92), 240)
    s.true("wet")


def pressure_frozen(s: Scene) -> None:
    """The pressure stands still."""
    s.goes("pressure_frozen", 1.0)
    s.true("pressure_frozen", "P1")


def zero_moved(s: Scene) -> None:
    """The zero creeps up; it shows at the stop that follows."""
    stop, back = s.at + 45, s.at + 57
    s.goes("zero_bar", s.m.pressure_bar * s.sized((0.08, 0.11), (0.13, 0.18), (0.2, 0.3)), 1800)
    s.case.life += stop_and_start(s.m, stop, back)
    s.true("zero_moved", "P1", lasts=back - s.at, given=stop + 3)


def tap_plugged(s: Scene) -> None:
    """The tap is plugged: slow, and it holds the pressure after the stop."""
    stop, back = s.at + 30, s.at + 45
    s.goes("tap_s", s.between(500, 1500))
    s.case.life += stop_and_start(s.m, stop, back)
    s.true("tap_plugged", "P1", lasts=back - s.at, given=stop + 4)


def coupling(s: Scene) -> None:
    """The coupling lets go."""
    s.goes("clutch", s.between(0.0, 0.05), 1)
    s.goes("path", 0.0, 10)
    s.true("coupling")


def tramp(s: Scene) -> None:
    """Metal between the screws: short spikes with dips of speed."""
    up, t = s.sized((28, 34), (36, 44), (46, 55)), 0.0
    for gap in (0.0, s.between(0.2, 0.6), s.between(0.5, 1.5), s.between(1, 3)):
        t += gap
        s.goes("load_add", up, after=t)
        s.goes("speed_part", 0.9, after=t)
        s.goes("load_add", 0.0, after=t + 0.06)
        s.goes("speed_part", 1.0, after=t + 0.06)
    s.true("tramp", lasts=t + 0.2)


def load_high(s: Scene) -> None:
    """Load to its limit for a quarter of an hour."""
    lasts = s.between(12, 25)
    over = s.sized((93, 95), (96, 99), (101, 106)) - s.m.net_pct - s.m.idle_pct
    s.passes("load_add", over, s.between(60, 300), lasts, back=0.0)
    s.true("load_high", lasts=lasts)


def speed_off(s: Scene) -> None:
    """The drive does not hold its speed."""
    s.goes("speed_part", 1 - s.sized((0.04, 0.055), (0.06, 0.08), (0.09, 0.14)), 5)
    s.true("speed_off")


def screw_stops_fed(s: Scene) -> None:
    """The screw trips; the feeders run on for a while."""
    lasts = s.between(0.6, 2.0)
    s.goes("speed", 0.0)
    s.goes("rate", 0.0, after=lasts)
    s.true("screw_stops_fed", lasts=lasts)


def turns_empty(s: Scene) -> None:
    """Feed off, the screw left turning."""
    lasts = s.between(14, 30)
    s.goes("rate", 0.0)
    s.goes("rate", s.m.rate_kg_h, 60, after=lasts)
    s.true("turns_empty", lasts=lasts)


def gear_hot(s: Scene) -> None:
    """Oil temperature climbs."""
    s.goes("oil_c", s.sized((14, 18), (19, 24), (26, 34)), s.between(1200, 3000))
    s.true("gear_hot")


def pump_worn(s: Scene) -> None:
    """The melt pump slips more."""
    s.goes("pump_slip", s.sized((0.06, 0.08), (0.09, 0.12), (0.14, 0.2)), s.between(900, 2400))
    s.true("pump_worn")


def vacuum_lost(s: Scene) -> None:
    """A leak at the vent."""
    s.goes("vacuum", 60 + s.sized((45, 70), (120, 250), (350, 700)), s.between(30, 500))
    s.true("vacuum_lost", "V1")


SCREENED: tuple[Kind, ...] = tuple(kind for kind in ANY if kind != "pvc")
PATHS = (
    S("screen_blinds", screen_blinds, SCREENED, 6, minutes=80),
    S("die_plugs", die_plugs, NO_PUMP, 3, minutes=80),
    S("die_blocks", die_blocks, NO_PUMP, 4),
    S("freezes_off", freezes_off, TWIN, 1, big=True),
    S("burst_disc", burst_disc, NO_PUMP, 2),
    S("leaks", leaks, NO_PUMP, 2),
    S("screen_torn", screen_torn, SCREENED, 2),
    S("thicker_lot", thicker_lot, ANY, 4),
    S("thinner_lot", thinner_lot, ANY, 2),
    S("wet", wet, ("twin",), 2),
    S("pressure_frozen", pressure_frozen, NO_PUMP, 2),
    S("zero_moved", zero_moved, ("twin", "single_starved"), 2, minutes=75),
    S("tap_plugged", tap_plugged, ("twin", "single_starved"), 2, minutes=65),
    S("coupling", coupling, ("twin", "single_starved"), 2, minutes=25),
    S("tramp", tramp, ("twin", "twin", "single"), 2),
    S("load_high", load_high, NO_PUMP, 2),
    S("speed_off", speed_off, ("twin", "single", "pvc"), 2, needs=("speed_setpoint",)),
    S("screw_stops_fed", screw_stops_fed, FED, 2, minutes=25),
    S("turns_empty", turns_empty, FED, 2),
    S("gear_hot", gear_hot, ANY, 1, True, needs=("oil",), minutes=70),
    S("pump_worn", pump_worn, PUMPED, 1, minutes=70),
    S("vacuum_lost", vacuum_lost, ("twin", "pvc"), 3),
)
