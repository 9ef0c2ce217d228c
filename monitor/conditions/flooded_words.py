"""What is said of screws that are given more than they take: by how it was recognised, with causes and checks."""

from __future__ import annotations

import numpy as np

from monitor.conditions import intake_or_path_words
from monitor.records import Cause, Confidence

CLEARED = 0.4
"""A torque that leaps by more at the same speed was low before, rather than being high now. Common practice, no source.
"""

LEAPT = 0.05
"""ln torque: so much over what is usual at this speed and rate is no line that always runs near its limit. Common
practice, no source."""

SAY_MORE_PCT = 5.0
"""So far over their set-points the feeders themselves say that more comes in. Common practice, no source."""

Words = tuple[str, Confidence, tuple[Cause, ...], tuple[str, ...]]

INTAKE_CHECKS = (
    "material standing in the throat",
    "cut the rate or raise the speed, by site procedure",
    "bulk density of the lot",
)

FLUSHING = "powder flushing through a feeder, often in a refill hold"
REFILLED = "a feeder was refilled within three minutes"


def overfed_words(facts: dict[str, float]) -> Words:
    """More comes in than the feeders say."""
    # A screw that this has stopped works at nothing any more: what it rose to before counts.
    rise = 100 * (np.exp(facts["torque"] if facts["torque"] == facts["torque"] else facts["rose"]) - 1)
    refilled = facts["refilled"]
    flushing = Cause(
        FLUSHING,
        (REFILLED,) if refilled == 1 else (),
        ("no feeder was refilled",) if refilled == 0 else (),
        shown_by=("flushing",),
    )
    scale = Cause("a scale reads low and is over-fed", shown_by=("scale_wrong", "scale_jumped"))
    causes = (flushing, scale) if refilled != 0 else (scale, flushing)
    leaps = rise >= 100 * CLEARED and refilled != 1
    short = facts["short"] == 1
    cleared = Cause(
        "less went through before than the feeders said: a chute or an intake has cleared",
        (
            *(("a torque that leaps so far at the same speed was low before",) if leaps else ()),
            *(("the load was short until just before",) if short else ()),
        ),
    )
    causes = (cleared, *causes) if leaps or short else (*causes, cleared)
    more, pressure = 100 * np.expm1(facts["rate"]), 100 * np.expm1(facts["pressure"])
    beside = "" if pressure != pressure else "pressure up less" if pressure < rise else f"pressure up {pressure:.0f} %"
    up = f"torque up {rise:.0f} %{' and ' if beside else ''}{beside}" if rise == rise else "torque up to its limit"
    up += ", then the screw stopped" if facts["tripped"] == 1 else ""
    reported = f"the feeders report {more:.0f} % more than set"
    over = f"over-fed: {up}: {reported if more >= SAY_MORE_PCT else 'more comes in than the feeders say'}"
    return (
        f"over-fed, or too little came in before: {up}" if leaps else over,
        "medium",
        (
            *causes,
            Cause(
                "loss of oil or lubricant raises torque too", shown_by=("liquid_prime_lost", "liquid_nozzle_plugged")
            ),
        ),
        ("weight of each feeder after its refill", "feeder drives at minimum", "throat backing up"),
    )


def intake_words(facts: dict[str, float]) -> Words:
    """Less is taken than is fed."""
    path, intake = intake_or_path_words.path_cause(facts), intake_or_path_words.intake_cause(facts)
    first = intake_or_path_words.first_seen(facts)
    named = tuple(Cause(text, ("it came before the fall of torque",)) for text in first)
    sure: Confidence = "medium" if facts["odds"] >= 3 else "low"
    if facts["odds"] <= -3:
        summary = "less goes through than is fed: seen since, the path is blocked rather than the intake flooded"
        causes = (path, intake, *named)
    elif facts["odds"] < 3:
        summary = "flooded at the intake or path blocked, both fit: feeders on set, the screws take less"
        causes = (intake, path, *named)
    else:
        came = f"; {first[0]} came first" if first else ""
        summary = f"flooded at the intake: feeders on set, the screws take less{came}"
        causes = (intake, *named, path)
    return summary, sure, (*causes, *intake_or_path_words.thin_cause(facts)), INTAKE_CHECKS


def raise_words(facts: dict[str, float]) -> Words:
    """A raise of rate over speed was not taken."""
    return (
        "flooded at the intake: feeders on set, the screws take less; rate over speed was raised came first",
        "medium",
        (
            Cause(
                "rate over speed was raised beyond what the intake takes",
                ("torque and pressure did not follow the raise",),
                ("by geometry the throat could take more",) if facts["full"] == 0 else (),
            ),
            Cause("throat too hot", ("throat warmer",) if facts["throat_up"] == 1 else (), shown_by=("throat_warm",)),
            Cause("path blocked between feeder and throat, if cutting the rate does not help"),
        ),
        INTAKE_CHECKS,
    )


def torque_words(facts: dict[str, float]) -> Words:
    """Torque stands at its limit."""
    torque = facts["gross_torque"]
    at = f"torque {torque:.0f} %" if torque == torque else "torque at its limit"
    tripped = facts["tripped"] == 1
    colder = facts["melt_c"] <= -2.0
    rate = Cause("rate too high for this speed", ("rate over speed was raised before",) if facts["raised"] == 1 else ())
    melt = Cause("melt too cold or viscous", (f"melt {-facts['melt_c']:.0f} C colder",) if colder else ())
    zones = Cause("zones below set", shown_by=("zone_under_temperature", "heater_dead"))
    end = "torque at its limit, then the screw stopped" if tripped else f"{at} at full rate over speed"
    causes = (melt, rate, zones) if colder else (rate, melt, zones)
    if facts["refilled"] == 1:
        flushing = Cause(FLUSHING, (REFILLED,), shown_by=("flushing",))
        # A load that leaps at the speed and rate that it held before was not asked for by either.
        leapt = facts["torque"] >= LEAPT and facts["raised"] != 1 and not colder
        causes = (flushing, *causes) if leapt else (*causes, flushing)
    return (
        f"flooded, torque-limited: {end}",
        "medium",
        causes,
        ("cut the rate or raise the speed, by site procedure", "zone temperatures", "side feeder and vents"),
    )
