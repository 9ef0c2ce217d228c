"""What is said of an extruder that runs empty: by how it was recognised, with causes and what to check."""

from __future__ import annotations

import numpy as np

from monitor.conditions import intake_or_path_words
from monitor.contract import Context
from monitor.records import Cause, Confidence

HOPPER_LOW_PCT = 15.0
"""A hopper whose highest level over ten minutes, some loader cycles, is below this is running out."""

BACKS_UP = 0.92
"""Feeders that were on set when the torque fell and lose so much later stand in their own material."""

THIN_PRESSURE = 0.85
"""ln pressure per ln torque from which a thinner melt fits a flood-fed screw better than less feed."""

MOST_THINNER_LN = -0.4
"""ln torque: further down than by a third no lot of the same grade goes. Common practice, no source."""

FOLLOWS_SHARE = 1 / 3
"""Of the loss of rate, in ln: a torque that has fallen by less does not bear the feeders out. With less feed torque
goes about as far as the rate, pressure a third as far (power-law flow, n about 0.35)."""

Words = tuple[str, Confidence, tuple[Cause, ...], tuple[str, ...]]


def feed_words(facts: dict[str, float]) -> Words:
    """Where the feeders themselves say so: summary, how sure, causes, checks."""
    short, fall = (100 * (1 - np.exp(facts[name])) for name in ("rate", "torque"))
    causes = (
        Cause(
            "a feeder that is off its set-point",
            (f"{short:.0f} % less fed than set",),
            shown_by=("feeder_bridged", "feeder_tripped", "feeder_off_target"),
        ),
        Cause("refill not answered: hopper empty"),
    )
    if facts["torque"] > FOLLOWS_SHARE * facts["rate"]:
        stands = f"torque is {f'down {fall:.0f} %' if fall >= 0.5 else 'not down'}"
        touched = Cause("a scale was touched or lies: the rate shown is not the true one", (f"{stands} with it",))
        return (
            f"feeders deliver {short:.0f} % less than set, {stands}: starved, or a scale was touched, both fit",
            "low",
            (*causes, touched),
            ("the feeder below set: hopper, drive, refill", "its scale: a hand, a hose, a tool on it"),
        )
    return (
        f"starved: feeders deliver {short:.0f} % less than set and the machine follows",
        "high",
        causes,
        ("the feeder below set: hopper, drive, refill", "what the other shares became"),
    )


def pressure_words(facts: dict[str, float]) -> Words:
    """Where pressures are all that is logged."""
    fall = 100 * (1 - np.exp(facts["pressure"]))
    warmer = facts["melt_c"] >= 2.0
    return (
        f"starved or thinner melt, both fit: all pressures down {fall:.0f} % at one speed; no load or rate is logged",
        "low",
        (
            Cause("less is fed: a feeder, the chute or the throat", ("all pressures stepped down together",)),
            Cause(
                "thinner melt: another lot, hotter zones, water in it",
                words_if(warmer, f"melt temperature up {facts['melt_c']:.0f} C"),
            ),
            Cause("the rate was cut by hand: it is not logged"),
        ),
        ("rates and drives on the feeders' own panels", "look into chute and throat: empty or standing full"),
    )


def path_words(facts: dict[str, float], ctx: Context) -> Words:
    """Where all feeders are on set, or none is logged, and the screws run empty."""
    fall = 100 * (1 - np.exp(facts["torque"]))
    down = f"torque down {fall:.0f} %" if fall == fall else "torque down"
    path, intake = intake_or_path_words.path_cause(facts), intake_or_path_words.intake_cause(facts)
    if not (ctx.has("feeder_rate") or ctx.has("line_rate")):
        return (
            f"starved: torque down {fall:.0f} % at the same speed; no rate is logged: less fed or less taken, both fit",
            "low",
            (Cause("a feeder gives less, or stands"), path, intake, *intake_or_path_words.thin_cause(facts)),
            ("rates and drives on the feeders' own panels", "look into chute and throat: empty or standing full"),
        )
    scale = Cause("a scale or rate signal lies", shown_by=("feeder_weight_still", "scale_wrong", "scale_jumped"))
    likely = facts["odds"] <= -2.75
    turned = facts["odds"] >= 3
    causes = (intake, path, scale) if turned else (path, scale, intake) if likely else (path, intake, scale)
    causes = (*intake_or_path_words.feeder_cause(facts), *causes, *intake_or_path_words.thin_cause(facts))
    backs_up = facts["rate"] <= np.log(BACKS_UP)
    if backs_up:
        short = 100 * (1 - np.exp(facts["rate"]))
        words = (
            f"{down} with all feeders on set, then they lost {short:.0f} % of their rate: chute "
            "or throat stands full; path blocked or intake flooded, both fit"
        )
    elif turned:
        words = "all feeders on set, less goes through: seen since, the intake was flooded rather than the path blocked"
    elif likely:
        words = f"all feeders on set, {down}: the machine runs emptier than fed"
    else:
        words = f"all feeders on set, {down}: path blocked or intake flooded, both fit"
    weighed = ("feeder weight falling as fast as the rate says",) if ctx.has("feeder_weight") else ()
    return (
        f"starved: {words}",
        "medium" if likely and not backs_up else "low",
        causes,
        (
            "look into chute and throat: empty or standing full",
            *weighed,
            "cut the rate by site procedure: a flooded intake recovers",
        ),
    )


def words_if(holds: bool, words: str) -> tuple[str, ...]:
    """The words where they hold."""
    return (words,) if holds else ()


def flood_fed_words(facts: dict[str, float], ctx: Context) -> Words:
    """Where the screw itself takes in less."""
    fall = 100 * (1 - np.exp(facts["torque"]))
    measured = facts["specific_rate"] == facts["specific_rate"]
    low = facts["hopper"] < HOPPER_LOW_PCT
    unsteady = facts["unsteady"] == 1
    sure: Confidence = "high" if measured or low else "medium" if unsteady else "low"
    hotter = facts["melt_c"] >= 2.0
    seen = (
        *words_if(measured, "rate over speed fell too"),
        *words_if(low, f"the hopper has not been above {facts['hopper']:.0f} % for ten minutes"),
        *words_if(unsteady, "pressure is unsteady"),
    )
    full = words_if(facts["hopper"] >= 50, f"the hopper shows {facts['hopper']:.0f} %")
    causes = [
        Cause("hopper empty or bridged", seen, full),
        Cause("throat too hot: molten plug", words_if(measured, "rate over speed fell too"), shown_by=("throat_warm",)),
    ]
    if not measured:
        # A thinner melt takes as much of the pressure as of the torque; one that is starved gets hotter too.
        as_much = facts["pressure"] <= THIN_PRESSURE * facts["torque"]
        too_far = facts["torque"] <= MOST_THINNER_LN
        thin = Cause(
            "thinner melt: a new lot, hotter zones",
            words_if(hotter, f"melt temperature up {facts['melt_c']:.0f} C"),
            (
                *words_if(not as_much, "pressure fell less than torque"),
                *words_if(too_far, "lots of one grade do not differ so far"),
                *words_if(unsteady, "pressure is unsteady"),
            ),
        )
        causes.insert(0 if hotter and as_much and not (low or unsteady or too_far) else 2, thin)
    drop = f"torque down {fall:.0f} % with pressure" if fall == fall else "pressure and rate over speed down"
    return (
        f"starved: {drop} at the same speed",
        sure,
        tuple(causes),
        ("hopper level and throat", "throat cooling", "melt temperature"),
    )
