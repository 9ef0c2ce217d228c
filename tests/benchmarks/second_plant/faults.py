"""What each fault does to the plant. `x` is its size, `s` the seconds since it began; called every five seconds."""

from __future__ import annotations

from collections.abc import Callable

from tests.benchmarks.second_plant.plant import Apply, Plant

Place = str


def on_feeder(change: Callable[[Plant, int, float, float], None]) -> Callable[[Place], Apply]:
    """A fault of one feeder, by name."""
    return lambda place: lambda plant, s, x: change(plant, plant.feeder(place), s, x)


def on_zone(change: Callable[[Plant, int, float, float], None]) -> Callable[[Place], Apply]:
    """A fault of one zone, by name."""
    return lambda place: lambda plant, s, x: change(plant, plant.zone(place), s, x)


def on_line(change: Callable[[Plant, float, float], None]) -> Callable[[Place], Apply]:
    """A fault of the line as a whole; on a sensor the place is its key."""
    return lambda place: change


def _set(part: str, name: str, value: Callable[[float, float], object]) -> Callable[[Plant, int, float, float], None]:
    def change(plant: Plant, i: int, s: float, x: float) -> None:
        if part == "feeder":
            setattr(plant.feeders[i], name, value(s, x))
        else:
            getattr(plant.barrel, name)[i] = value(s, x)

    return change


def _screw(name: str, value: Callable[[float, float], object]) -> Callable[[Plant, float, float], None]:
    return lambda plant, s, x: setattr(plant.screw, name, value(s, x))


def _plant(name: str, value: Callable[[float, float], object]) -> Callable[[Plant, float, float], None]:
    return lambda plant, s, x: setattr(plant, name, value(s, x))


def _side_backs_up(plant: Plant, i: int, s: float, x: float) -> None:
    """Fluff stays ahead of the side screws; a slug lets go every quarter of an hour."""
    part = (s % 900) / 900
    plant.path[i] = 1 - x * min(1.0, 2 * part) if part < 0.97 else 1 + 6 * x
    plant.stuffer = 30 * x * part if part < 0.97 else 0.0


def _wrong_material(plant: Plant, i: int, s: float, x: float) -> None:
    if s == 0:
        plant.feeders[i].refilling = True
        plant.feeders[i]._goal = plant.feeders[i].spec.hopper_kg * 0.9
    if s == 60:
        plant.feeders[i].bulk *= 1 - x
        plant.screw.thick += 1.2 * x


def _hunts(plant: Plant, i: int, s: float, x: float) -> None:
    plant.barrel.gain[i], plant.barrel.reset_s[i], plant.barrel.rate_s[i] = 5 * x, 120.0, 0.0


def _stops_fed(plant: Plant, s: float, x: float) -> None:
    plant.force_stop = s < x
    plant.interlock = s >= x


def _tramp(plant: Plant, s: float, x: float) -> None:
    if s in (0, 10, 25, 40, 300, 305, 330):
        plant.spike = x


def _freezes_off(plant: Plant, s: float, x: float) -> None:
    plant.water_c = -18.0
    plant.screw.die = 1 + x * min(4, int(s // 240) + 1) / 4


def _set_moved(plant: Plant, i: int, s: float, x: float) -> None:
    if s == 0:
        plant.barrel.set_c[i] += x


def _moist(plant: Plant, s: float, x: float) -> None:
    plant.screw.thick = -x * min(1.0, s / 900)
    plant.vent_gas = 1 + 2 * x
    plant.sensor["before"] = ("noisy", 2.0)


def _sensor(key_kind: str) -> Callable[[Place], Apply]:
    return lambda place: lambda plant, s, x: plant.sensor.__setitem__(place, (key_kind, x))


def _gone_slow(s: float, full_s: float) -> float:
    return min(1.0, s / full_s)


def _chute(plant: Plant, i: int, s: float, x: float) -> None:
    plant.path[i] = 1 - x


def _unheard_refill(plant: Plant, i: int, s: float, x: float) -> None:
    plant.feeders[i].refill_ok = False


def _wrong_set(plant: Plant, i: int, s: float, x: float) -> None:
    plant.wrong_set[i] = 1 + x


def _stuck_rate(plant: Plant, i: int, s: float, x: float) -> None:
    plant.feeders[i].frozen_rate = True
    plant.feeders[i].outlet = 1 - x


FAULTS: dict[str, Callable[[Place], Apply]] = {
    "feeder_bridged": on_feeder(_set("feeder", "outlet", lambda s, x: 1 - x * _gone_slow(s, 20))),
    "feeder_tripped": on_feeder(_set("feeder", "motor", lambda s, x: False)),
    "factor_drift": on_feeder(_set("feeder", "bulk", lambda s, x: 1 - x * _gone_slow(s, 5400))),
    "scale_wrong": on_feeder(_set("feeder", "span", lambda s, x: 1 - x)),
    "flushing": on_feeder(_set("feeder", "rush", lambda s, x: x)),
    "refill_leaks": on_feeder(_set("feeder", "leak_kg_s", lambda s, x: x)),
    "chute_blocked": on_feeder(_chute),
    "refill_unheard": on_feeder(_unheard_refill),
    "wrong_set": on_feeder(_wrong_set),
    "stuck_rate": on_feeder(_stuck_rate),
    "wrong_material": on_feeder(_wrong_material),
    "side_backs_up": on_feeder(_side_backs_up),
    "heater_dead": on_zone(_set("zone", "heater", lambda s, x: 0.0)),
    "heater_part": on_zone(_set("zone", "heater", lambda s, x: 1 - x)),
    "contactor_stuck": on_zone(_set("zone", "stuck_w", lambda s, x: x)),
    "cooling_open": on_zone(_set("zone", "cool_leak", lambda s, x: x)),
    "cooling_shut": on_zone(_set("zone", "cool", lambda s, x: 1 - x)),
    "couple_open": on_zone(_set("zone", "couple_fixed", lambda s, x: x)),
    "couple_short": on_zone(_set("zone", "couple_gain", lambda s, x: 1 - x)),
    "couple_loose": on_zone(_set("zone", "couple_gain", lambda s, x: 1 - x)),
    "couple_drift": on_zone(_set("zone", "couple_off", lambda s, x: -x * _gone_slow(s, 10800))),
    "hunting": on_zone(_hunts),
    "zone_set_wrong": on_zone(_set_moved),
    "screen_blinds": on_line(_plant("screen_add", lambda s, x: x * s / 3600)),
    "screen_torn": on_line(_plant("screen_gain", lambda s, x: x)),
    "die_blocked": on_line(_screw("die", lambda s, x: 1 + x * _gone_slow(s, 60))),
    "disc_open": on_line(_screw("leak", lambda s, x: x)),
    "viscous_lot": on_line(_screw("thick", lambda s, x: x * _gone_slow(s, 400))),
    "bulk_down": on_line(_screw("bulk", lambda s, x: 1 - x * _gone_slow(s, 300))),
    "throat_starved": on_line(_screw("supply", lambda s, x: 1 - x * _gone_slow(s, 60))),
    "shaft_broken": on_line(_screw("broken", lambda s, x: True)),
    "moisture": on_line(_moist),
    "vacuum_leak": on_line(_plant("vent_leak", lambda s, x: x * _gone_slow(s, 300))),
    "vent_flooded": on_line(_plant("vent_flood", lambda s, x: True)),
    "surging": on_line(_plant("surge", lambda s, x: (x, 140.0))),
    "drive_limited": on_line(_plant("speed_cap", lambda s, x: 1 - x)),
    "pump_worn": on_line(_plant("pump_slip", lambda s, x: x * _gone_slow(s, 5400))),
    "gearbox_hot": on_line(_plant("oil_c", lambda s, x: x)),
    "stops_fed": on_line(_stops_fed),
    "tramp": on_line(_tramp),
    "freezes_off": on_line(_freezes_off),
    "sensor_stuck": _sensor("stuck"),
    "sensor_drift": _sensor("drift"),
}
