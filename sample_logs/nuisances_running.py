"""Nuisances of people, feeders, material, hall and mains on a running line."""

from __future__ import annotations

import numpy as np

from sample_logs.draw_scenario import planned_stop
from sample_logs.fault_effects import ultimate_gain
from sample_logs.nuisance import TWIN, Nuisance, held, remark
from sample_logs.plant import Plant
from sample_logs.scenario import Event

Events = tuple[Event, ...]
RATE_PART, HOTTER_C = 0.92, 5.0
"""The second recipe: rate and zone set-points against the first."""


def _powders(plant: Plant) -> list[str]:
    return [f for f in plant.feeders if f != plant.facts.get("liquid", "")]


def _capacity(plant: Plant, feeder: str) -> float:
    return float(plant.parameters.feeder.capacity_kg[plant.facts["slots"][plant.feeders.index(feeder)]])


def _recipe_change(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    second, first = plant.recipe["recipe"]["name"] + " II", plant.recipe["recipe"]["name"]
    back = at + 7200.0
    events: list[Event] = []
    for when, name, rate, add in ((at, second, RATE_PART, HOTTER_C), (back, first, 1.0, 0.0)):
        events += [Event(when, "note", "recipe", text=name)]
        if plant.feeders:
            events += [Event(when, "rate", value=rate, duration_s=240.0)]
        else:
            events += [Event(when, "speed", value=rate)]
        events += [
            Event(when, "zone_setpoint", zone, float(c) + add)
            for zone, c in list(zip(plant.zones, plant.nominal.zone_c, strict=True))[1:]
        ]
    return tuple(events)


def _stop(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    most = 30.0 * float(plant.recipe["recipe"]["hot_hold_min"])
    return planned_stop(at, restart_s=at + 90.0 + float(rng.uniform(0.4, 0.9)) * most)


def _screen_change(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    half = float(rng.uniform(10, 25))
    return (Event(at, "screen_half", duration_s=half), Event(at + half, "screen_change"), remark(at, "screen changed"))


def _back_flush(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    """Saw-tooth: the cake builds in steps and is blown off, every 20 min."""
    size = float(rng.uniform(0.1, 0.25))
    return tuple(
        held("screen", size * (k + 1) / 10.0, at + 1200.0 * tooth + 120.0 * k, 120.0)
        for tooth in range(3)
        for k in range(10)
    )


def _vent_cleaning(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (remark(at, "vent cleaned"), Event(at, "vacuum", value=0.0),
            Event(at + float(rng.uniform(60, 180)), "vacuum", value=1.0))  # fmt: skip


def _die_wipe(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return planned_stop(at, restart_s=at + 75.0 + float(rng.uniform(40, 120)))


def _rethreading(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    back = at + float(rng.uniform(180, 480))
    return (Event(at, "feed", value=0.0), Event(at + 20, "speed", value=0.35), Event(back, "speed", value=1.0),
            Event(back + 20, "feed", value=1.0), remark(at, "strands down, rethreading"))  # fmt: skip


def _refill_several(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return tuple(held(f"recall:{f}", 1.0, at + 2.0 * k, 2.0) for k, f in enumerate(_powders(plant)))


def _refill_by_hand(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    small = [f for f in _powders(plant) if f in ("F2", "F3")]
    feeder = str(rng.choice(small))
    lasts = float(rng.uniform(300, 900))
    usual = float(plant.parameters.feeder.refill_s[plant.facts["slots"][plant.feeders.index(feeder)]])
    return (held(f"recall:{feeder}", 1.0, at, 2.0), held(f"supply:{feeder}", usual / lasts, at, 1.3 * lasts),
            held(f"by_hand:{feeder}", 1.0, at, 1.3 * lasts), remark(at, f"{feeder} filled by hand"))  # fmt: skip


def _catch_sample(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    feeder = str(rng.choice([f for f in plant.feeders if f != "F1"]))
    return (Event(at, "catch_sample", feeder, 1.0, float(rng.uniform(30, 60))), remark(at, f"{feeder} sampled"))


def _calibration(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    """A weight of known mass stands on the scale for two minutes, the feeder in volumetric meanwhile."""
    feeder = str(rng.choice(_powders(plant)))
    return (held(f"volumetric:{feeder}", 1.0, at, 240.0), remark(at, f"{feeder} scale checked"),
            held(f"touched_kg:{feeder}", 0.1 * _capacity(plant, feeder), at + 30, 120.0))  # fmt: skip


def _tare(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    feeder = str(rng.choice(plant.feeders))
    return (held(f"touched_kg:{feeder}", float(rng.uniform(-0.02, 0.02)) * _capacity(plant, feeder), at, 1e6),
            remark(at, f"{feeder} tared"))  # fmt: skip


def _leaning(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    feeder = str(rng.choice(plant.feeders))
    load = float(rng.uniform(0.01, 0.06)) * _capacity(plant, feeder)
    return (Event(at, "hopper_touched", feeder, load, float(rng.uniform(3, 15))),)


def _extraction(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    feeder = str(rng.choice(_powders(plant)))
    lift = -0.002 * _capacity(plant, feeder)
    return tuple(held(f"touched_kg:{feeder}", lift, at + 60.0 * k, 2.0) for k in range(20))


def _blanket_gas(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    feeder = str(rng.choice(_powders(plant)))
    return (held(f"touched_kg:{feeder}", 0.001 * _capacity(plant, feeder), at, 1800.0),)


def _rate_trim(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    steps = [Event(at + 600.0 * k, "rate", value=float(rng.uniform(0.985, 1.015)), duration_s=30.0) for k in range(6)]
    return (*steps, Event(at + 3600.0, "rate", value=1.0, duration_s=30.0))


def _ratio_control(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    low = float(rng.uniform(0.972, 0.985))
    return (Event(at, "rate", value=low, duration_s=120.0), Event(at + 900.0, "rate", value=1.0, duration_s=300.0))


def _limiter(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    """The torque limiter takes back the speed set by some turns, again and again, for ten minutes."""
    jog = -0.008 * plant.nominal.speed_rpm
    return tuple(held("jog_rpm", jog * (k % 3) / 2.0, at + 20.0 * k, 20.0) for k in range(30))


def _autotune(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    zone = int(rng.integers(2, len(plant.zones)))
    gain = 1.05 * ultimate_gain(plant, zone) / float(plant.parameters.control.kp_pct_c[zone])
    return (held(f"loop_gain:{plant.zones[zone]}", gain, at, 1200.0), remark(at, f"{plant.zones[zone]} autotune"))


def _set_back(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    wanted = list(zip(plant.zones, (float(c) for c in plant.nominal.zone_c), strict=True))[1:]
    warm = at + 3600.0
    return (
        *planned_stop(at, restart_s=warm + 2400.0),
        *(Event(at + 120.0, "zone_setpoint", zone, c - 60.0) for zone, c in wanted),
        *(Event(warm, "zone_setpoint", zone, c) for zone, c in wanted),
    )


def _season(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    step = float(rng.choice([-1.0, 1.0])) * float(rng.uniform(0.4, 0.9))
    return tuple(Event(at + 900.0 * k, "hall", value=step) for k in range(8))


def _water_season(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (held("water_c", float(rng.uniform(4, 9)), at, 1e6), held("throat_c", float(rng.uniform(2, 5)), at, 1e6))


def _seal_water(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (held("seal_water_mbar", float(rng.uniform(8, 20)), at, 10800.0),)


def _voltage_sag(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (held("mains", float(rng.uniform(0.95, 0.98)), at, float(rng.uniform(900, 5400))),)


def _neighbour(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    dips = [held("mains", 0.9, at + 40.0 * k, 4.0) for k in range(4)]
    return (*dips, held("mains", 0.985, at + 180.0, 7200.0))


def _new_lot(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (Event(at, "note", "lot", text=f"L{int(rng.integers(3000, 9000))}"),
            Event(at, "lot", value=float(rng.uniform(-0.025, 0.025))))  # fmt: skip


def _regrind(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    feeder = _powders(plant)[0]
    return tuple(
        held(f"factor_gain:{feeder}", float(rng.uniform(0.92, 1.06)), at + 300.0 * k, 300.0) for k in range(24)
    )


RUNNING: tuple[Nuisance, ...] = (
    Nuisance("recipe_change", "planned set-point or recipe change", 11000.0, _recipe_change),
    Nuisance("planned_stop", "planned stop", 5400.0, _stop, stops=True),
    Nuisance("screen_change", "screen change", 900.0, _screen_change),
    Nuisance("back_flush", "back-flush saw-tooth", 4200.0, _back_flush),
    Nuisance("vent_cleaning", "vent cleaning", 900.0, _vent_cleaning, lines=TWIN),
    Nuisance("die_wipe", "die wipe", 2400.0, _die_wipe, stops=True),
    Nuisance("rethreading", "idle while rethreading", 2700.0, _rethreading, lines=TWIN, stops=True),
    Nuisance("refill_several", "several feeders refilled at once", 900.0, _refill_several, lines=TWIN),
    Nuisance("refill_by_hand", "refill by hand, 5 to 15 min", 2400.0, _refill_by_hand, lines=TWIN),
    Nuisance("catch_sample", "catch sample", 900.0, _catch_sample, lines=TWIN),
    Nuisance("calibration", "calibration of a scale", 1200.0, _calibration, lines=TWIN),
    Nuisance("tare", "tare", 900.0, _tare, lines=TWIN),
    Nuisance("leaning", "someone leaning on a hopper", 600.0, _leaning, lines=TWIN),
    Nuisance("extraction_pulse", "extraction pulse on a scale", 1500.0, _extraction, lines=TWIN),
    Nuisance("blanket_gas", "blanket gas on a scale", 2100.0, _blanket_gas, lines=TWIN),
    Nuisance("rate_trim", "automatic rate trim", 4500.0, _rate_trim, lines=TWIN),
    Nuisance("ratio_control", "ratio control pulling all feeders", 2400.0, _ratio_control, lines=TWIN),
    Nuisance("limiter", "limiter trimming speed", 1500.0, _limiter),
    Nuisance("autotune", "autotune of a zone", 3600.0, _autotune),
    Nuisance("set_back", "night set-back", 13000.0, _set_back, stops=True),
    Nuisance("ambient_season", "ambient season", 9000.0, _season),
    Nuisance("water_season", "cooling-water season", 7200.0, _water_season),
    Nuisance("seal_water", "warm seal water", 11000.0, _seal_water, lines=TWIN),
    Nuisance("voltage_sag", "voltage sag", 7200.0, _voltage_sag),
    Nuisance("neighbour_starts", "neighbour line starting", 7800.0, _neighbour),
    Nuisance("new_lot", "new raw-material lot with a small shift", 3600.0, _new_lot),
    Nuisance("regrind_wander", "feed factor wandering with regrind", 7800.0, _regrind, lines=TWIN),
)
