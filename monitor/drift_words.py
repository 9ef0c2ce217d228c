"""What a creeping quantity is told with: when it would be at the edge, since when it is elsewhere, likely causes."""

from __future__ import annotations

import math

from monitor.records import shown_unit

TOUCHES_NOTHING = 0.02
"""An interval whose end is so small a part of the slope reaches to nothing but for its last digits."""

FARTHEST_FORECAST_H = 48.0
"""A trend of four hours says nothing about the day after tomorrow."""


def forecast_words(facts: dict[str, float], unit: str, base: float) -> str:
    """Speed of the trend with its interval, and when it would reach the window's edge; '' where it is not clear.

    base: what the logged quantity has beside the one followed (no-load torque), in its unit.
    """
    slope, low, high = facts["slope"], facts["slope_low"], facts["slope_high"]
    if not all(map(math.isfinite, (slope, low, high))) or low * high <= 0:
        return ""
    if min(abs(low), abs(high)) <= TOUCHES_NOTHING * abs(slope):
        return ""
    said = f", now {slope:+.2g} {shown_unit(unit)} an hour ({low:+.2g} to {high:+.2g})"
    left = facts["edge"] - facts["mean"]
    if not math.isfinite(left) or left * slope <= 0 or left / slope > FARTHEST_FORECAST_H:
        return said
    slow, fast = sorted((abs(low), abs(high)))
    soonest, latest = abs(left) / fast, abs(left) / slow
    span = f"{soonest:.1f} to {latest:.1f} h" if latest <= FARTHEST_FORECAST_H else f"{soonest:.1f} h at the soonest"
    return (
        f"{said}; at the window's edge, {facts['edge'] + base:.1f} {shown_unit(unit)}, in {left / slope:.1f} h ({span})"
    )


RUNS_EMPTIER = "less reaches the screws than the feeders say: chute or throat closing slowly, material building up"
RUNS_EMPTIER_UNSEEN = "less reaches the screws: a feeder, chute or throat; no rate is logged"
LOST_LN, MOST_PRESSURE = -0.1, 0.8
"""Net torque lost, in ln, and the most of the pressure lost with it, as a part: a thinner melt takes as much of one as
of the other, less feed about a third, and up to twice that where what is left runs hotter. The same part as a loss
that crept in is judged by in intake_or_path. Common practice, no source."""


HOTTER_C, THINS_PER_C, AS_MUCH = 1.5, 0.02, 1.2
"""A thinner melt takes less work and gets colder; less of one that takes the same work gets hotter. So a melt that is
hotter by so much tells less feed where the pressure went as far as the load, but for what the heat itself thins, a part
a degree. Common practice, no source."""


def runs_emptier(facts: dict[str, float]) -> bool:
    """Whether load and pressure have gone down as they do where less comes in."""
    load, pressure, hotter = facts["load_ln"], facts["pressure_ln"], facts["melt_c"]
    if not (load <= LOST_LN and pressure <= 0.0):
        return False
    by_heat = hotter >= HOTTER_C and load <= LOST_LN - THINS_PER_C * hotter and AS_MUCH * load <= pressure
    return MOST_PRESSURE * load <= pressure or by_heat


MOVES_LN, MOVES_C, LEAST_LOAD_SHARE = 0.02, 1.5, 0.4
"""What is no scatter of half an hour, ln and C, and the least part of a pressure, in ln, that a load goes along with
where the melt itself has changed; where it goes less, the way out has. As in die_side; common practice, no source."""


MOST_UNSEEN_LN = 0.1
"""ln torque: more of it by feed, melt or way out shows in the pressure or the melt. Common practice, no source."""


def leads(facts: dict[str, float], role: str) -> bool:
    """Whether a quantity is the one that the others follow, by what all of them did: less that comes in and another lot
    are told by the load, heat by the melt, a narrower or wider way out by the pressure."""
    load, pressure, hotter = facts["load_ln"], facts["pressure_ln"], facts["melt_c"]
    by_heat = abs(hotter) >= MOVES_C and hotter * pressure < 0.0 and abs(pressure) >= MOVES_LN
    if by_heat and not (hotter < 0.0 and load < 0.0) and not runs_emptier(facts):
        return role == "melt_temperature"
    if math.isnan(load) or (abs(pressure) >= MOVES_LN and abs(load) < LEAST_LOAD_SHARE * abs(pressure)):
        return role == "melt_pressure"
    return role == "net_torque"


def way_out_changed(facts: dict[str, float]) -> bool:
    """Whether a reading moved while the load hardly did: no thinner or thicker melt does that."""
    if not (facts["mean"] > 0.0 and facts["anchor"] > 0.0):
        return False
    return abs(facts["load_ln"]) < LEAST_LOAD_SHARE / 2 * abs(math.log(facts["mean"] / facts["anchor"]))


HOTTER = "melt hotter by the screws' own work: worn elements, cooling of the barrel, screws fuller than they were"
MORE_LN = 0.005
"""Net torque gained, in ln, that is no scatter of half an hour; common practice, no source."""


def heats_itself(facts: dict[str, float], role: str) -> bool:
    """Whether load has gone up and pressure down: more work, and a melt that is thinner for it."""
    return role != "net_torque" and facts["load_ln"] >= MORE_LN and facts["pressure_ln"] <= -MORE_LN


def clock_words(hours_ago: float) -> str:
    """How long ago it stepped."""
    return (
        f", about {hours_ago:.1f} h before this was said"
        if hours_ago >= 0.2
        else ", a short while before this was said"
    )


def began_words(hours_ago: float) -> str:
    """How long ago it began to creep; '' where that lies before what is looked back at."""
    return f", began about {hours_ago:.1f} h before this was said" if math.isfinite(hours_ago) else ""


def causes_of(role: str, way: str, stepped: bool, facts: dict[str, float]) -> tuple[str, ...]:
    """Likely causes, likeliest first: a step speaks for another lot or a hand on the machine, a creep for wear."""
    if role == "melt_pressure" and way == "up" and stepped and way_out_changed(facts):
        return ("screen or die restricted: the load hardly followed", "pressure sensor", "another raw-material lot")
    if role == "melt_pressure" and way == "down" and way_out_changed(facts):
        return ("screen or die lets more through, or melt leaks: the load held", "pressure sensor", "thinner melt")
    held = abs(facts["pressure_ln"]) < LEAST_LOAD_SHARE / 2 * facts["load_ln"] and abs(facts["melt_c"]) < MOVES_C
    if role == "net_torque" and way == "up" and facts["load_ln"] >= MOST_UNSEEN_LN and held:
        return ("drag of the machine itself: bearing, gearbox, screw rubbing", "feeder shares", "drive or its signal")
    usual = {
        "melt_pressure": (
            "screen blinding" if way == "up" else "thinner melt or screen let go",
            "melt temperature",
            "another raw-material lot",
        ),
        "melt_temperature": ("zones or cooling", "another raw-material lot", "probe"),
        "net_torque": ("another raw-material lot", "melt temperature", "feeder shares"),
    }[role]
    if not stepped or usual[0] == "another raw-material lot":
        return usual
    return ("another raw-material lot", *(cause for cause in usual if cause != "another raw-material lot"))
