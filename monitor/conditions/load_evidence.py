"""What moved and what did not, as facts and as evidence, for the conditions that judge the load of the screws."""

from __future__ import annotations

import numpy as np

from monitor.conditions.machine_load import Load
from monitor.contract import Context
from monitor.exact import Floats
from monitor.quantities.load import load_words
from monitor.records import Evidence
from monitor.view import CoarseView


def load_facts(found: Load, view: CoarseView) -> dict[str, Floats]:
    """What `load_evidence` needs of each cell, [n] each."""
    expected_torque, _torque_scatter = view.expectation("net_torque")
    return {
        "torque": found.torque,
        "pressure": found.pressure,
        "rate": found.rate,
        "specific_rate": found.specific_rate,
        "melt_c": found.melt_c,
        "net_torque": view.quantity("net_torque"),
        "expected_torque": expected_torque,
        "torque_sigma": found.torque / found.torque_scatter,
        "pressure_sigma": found.pressure / found.pressure_scatter,
        "feed": view.quantity("total_feed"),
        "wanted": view.quantity("total_setpoint"),
    }


def load_evidence(facts: dict[str, float], ctx: Context) -> tuple[Evidence, ...]:
    """What moved and what did not, in units and sigma; used by starved and flooded alike."""
    out = []
    if facts["torque"] == facts["torque"]:
        what, unit = load_words(ctx)
        expected, sigma = facts["expected_torque"], facts["torque_sigma"]
        out.append(Evidence(what, facts["net_torque"], unit, expected, sigma, "net_torque"))
    if facts["pressure"] == facts["pressure"]:
        out.append(
            Evidence(
                "melt pressure against expected",
                100 * (np.exp(facts["pressure"]) - 1),
                "%",
                0.0,
                facts["pressure_sigma"],
            )
        )
    if facts["rate"] == facts["rate"]:
        out.append(Evidence("rate fed", facts["feed"], "kg/h", facts["wanted"], None, "total_feed"))
    if facts["specific_rate"] == facts["specific_rate"]:
        out.append(
            Evidence(
                "rate over speed against expected",
                100 * (np.exp(facts["specific_rate"]) - 1),
                "%",
                0.0,
                None,
                "specific_throughput",
            )
        )
    if facts["melt_c"] == facts["melt_c"]:
        out.append(Evidence("melt temperature against expected", facts["melt_c"], "C", 0.0))
    return tuple(out)


def moved(facts: dict[str, float], feed_bounds: bool = True) -> dict[str, float]:
    """How far torque, pressure and rate are off, as natural logarithms, and the melt, C: for the ranking of causes.

    feed_bounds: the rate is what has moved; where screws run emptier than fed it bounds nothing that follows.
    """
    rate = ("rate",) if feed_bounds else ()
    return {name: facts[name] for name in ("torque", "pressure", *rate, "melt_c")}
