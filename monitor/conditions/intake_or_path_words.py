"""What speaks for and against a blocked path, a flooded intake and what looks like them, in words."""

from __future__ import annotations

import numpy as np

from monitor.conditions.intake_or_path import HALF_DEEP
from monitor.records import Cause


def feeder_cause(facts: dict[str, float]) -> tuple[Cause, ...]:
    """A feeder that delivers less than it says, where its drive shows it."""
    if facts["says_more"] != 1:
        return ()
    why = "a main feeder needs far more drive for the rate it reports, or reports its set-point to the last digit"
    return (
        Cause(
            "a feeder delivers less than it says: hopper bridged or its rate a copy of the set-point",
            (why,),
            shown_by=("feeder_drive_near_limit", "feed_factor_moved", "rate_not_weight", "actual_is_setpoint"),
        ),
    )


def path_cause(facts: dict[str, float]) -> Cause:
    """What speaks for and against a path blocked between feeder and throat."""
    speaks_for, against = [], []
    if facts["deep"] == 1:
        known = facts["torque"] == facts["torque"]
        left = f"only {100 * np.exp(facts['torque']):.0f} %" if known else "little"
        speaks_for.append(f"{left} of the net torque is left: toward no-load")
    if facts["sharp"] == 1:
        speaks_for.append("torque fell within half a minute")
    elif facts["sharp"] == 0:
        against.append("torque fell slowly")
    if not first_seen(facts) and facts["factor_down"] == 0:
        speaks_for.append("nothing came first that would flood the intake")
    if facts["not_recovered"] == 1:
        speaks_for.append("it did not recover when rate over speed was cut")
    if facts["recovered"] == 1:
        against.append("it recovered when rate over speed was cut")
    if facts["deep"] == 0 and facts["torque"] > np.log(HALF_DEEP):
        against.append("most of the torque is still there")
    return Cause("path blocked between feeder and throat", tuple(speaks_for), tuple(against))


def intake_cause(facts: dict[str, float]) -> Cause:
    """What speaks for and against a flooded intake."""
    speaks_for = [f"{words} first" for words in first_seen(facts)]
    against = []
    if facts["full"] == 1:
        speaks_for.append("the throat is nearly full at this rate and speed")
    elif facts["full"] == 0:
        against.append("by geometry the throat could take more")
    if facts["recovered"] == 1:
        speaks_for.append("it recovered when rate over speed was cut")
    if facts["not_recovered"] == 1:
        against.append("it did not recover when rate over speed was cut")
    if facts["deep"] == 1:
        against.append("a flooded intake still takes what fits: torque would not go toward no-load")
    if not first_seen(facts):
        against.append("no cause of it was seen")
    return Cause("flooded at the intake: the screws take less than is fed", tuple(speaks_for), tuple(against))


def thin_cause(facts: dict[str, float]) -> tuple[Cause, ...]:
    """A thinner melt, where no pressure is there to rule it out."""
    if facts["pressure"] == facts["pressure"]:
        return ()
    return (Cause("thinner melt: a new lot", ("no pressure is known that would rule it out",)),)


def first_seen(facts: dict[str, float]) -> list[str]:
    """What came first that floods an intake, in words."""
    words = {
        "factor_down": "bulk density or feed factor down",
        "raised": "rate over speed was raised",
        "weak_raise": "rate over speed was raised earlier, and torque followed",
        "slower": "screw slower than it was",
        "throat_up": "throat warmer",
        "was_limited": "torque at its limit",
    }
    return [text for name, text in words.items() if facts[name] == 1]
