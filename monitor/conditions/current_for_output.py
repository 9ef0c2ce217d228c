"""Whether a heater draws less for its output than it did: dead bands draw nothing, whatever is asked.

Readings of many plants catch a current on or off with its contactor, and such samples beat with it: they stand for half
an hour and jump. So nothing is told where a current was ever off while heat was asked for, nor where it did not fall
itself; and what a heater drew for its output must have kept within `ALIKE`.
"""

from __future__ import annotations

import numpy as np

from monitor import cautions
from monitor.conditions.zone_minutes import Minutes
from monitor.contract import Explanation
from monitor.exact import Bools, Floats
from monitor.records import Cause, Evidence

LEAST_OUTPUT_PCT, LEAST_A, LEAST_READ_A = 10.0, 1.0, 0.5
"""Output, current at full output and current as it is read, that tell: displays show it to 0.1 A."""

NOW_MIN, USUAL_MIN, AGO_MIN = 3, 30, 10
"""Minutes that are low, minutes it is held against, and how long ago these ended: a fault that is being told is not yet
in them."""

ALIKE, FELL_SHARE, NOTHING_SHARE, BACK_SHARE = 1.15, 0.1, 0.1, 0.5
"""Most over least of the usual minutes; part by which the current itself has fallen at some time since; a share of it
that is no part of the bands but none; of what is missing, so little is left when it has come back. Common practice, no
source."""


def per_output(x: Minutes) -> Floats:
    """Current at full output by current and output, A [zone, past + m]; NaN where the output is low."""
    output = x.zone["output"]
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(output >= LEAST_OUTPUT_PCT, 100.0 * x.zone["current"] / output, np.nan)


def advance(before: Floats, x: Minutes, less: float) -> tuple[Floats, Bools, Floats, Floats]:
    """What each zone drew while it stands low, [zone]; where it is low; what it draws now and what it drew, A at full
    output; [zone, m] each. before: the first, as it was; less: part of the current that must be missing."""
    shape = x.now("current").shape
    if not np.isfinite(x.zone["current"]).any():
        nothing = np.full(shape, np.nan)
        return before, np.zeros(shape, bool), nothing, nothing
    drawn = per_output(x)
    least, most = x.extremes(drawn, NOW_MIN)
    usual_least, usual_most = x.extremes(x.ago_rows(drawn, AGO_MIN), USUAL_MIN)
    with np.errstate(invalid="ignore"):
        begins = (usual_least >= LEAST_A) & (usual_most <= ALIKE * usual_least)
        # Where heating is switched on, the current of the first minute lags behind the output.
        begins &= x.held(np.isfinite(drawn), NOW_MIN)
        begins &= x.extremes(x.zone["pauses"], AGO_MIN + USUAL_MIN)[1] == 0.0
        fell = x.extremes(x.zone["current"], AGO_MIN)[0]
        read = x.extremes(x.ago_rows(x.zone["current"], AGO_MIN), USUAL_MIN)[0]
        begins &= (fell <= (1.0 - FELL_SHARE) * read) & (read >= LEAST_READ_A)
        begins &= (most <= (1.0 - less) * usual_least) & (least >= NOTHING_SHARE * usual_least)
    drew, stands = np.full(shape, np.nan), before.copy()
    if begins.any() or np.isfinite(before).any():
        for i in range(x.m):
            with np.errstate(invalid="ignore"):
                back = least[:, i] > (1.0 - BACK_SHARE * less) * stands
            stands = np.where(back, np.nan, stands)
            stands = np.where(np.isnan(stands) & begins[:, i], usual_least[:, i], stands)
            drew[:, i] = stands
    return stands, np.isfinite(drew) & np.isfinite(most), most, drew


def explain(subject: str, facts: dict[str, float], asked: bool, bands: str) -> Explanation:
    """Less current for its output (asked), or under set. bands: what is said of bands that are dead in part."""
    none = facts["current"] <= 0.05 * facts["usual"]
    under = ("a controller under its set-point calls for more, not for less",)
    supply = ("heating supply, a phase or a main contactor",) if facts["count"] >= 3 else ()
    gone = 100 * (1 - facts["current"] / facts["usual"])
    less = (f"{gone:.0f} % of its current is missing, whatever its output asks",) if asked else under
    off = facts["wanted"] - facts["value"]
    other = "mains voltage low at this zone" if asked else "zone in manual, or its output limited"
    return Explanation(
        f"zone {subject} draws {gone:.0f} % less current for its output than it did"
        if asked
        else f"zone {subject} draws {facts['current']:.1f} A where it took {facts['usual']:.1f} A, and is {off:.0f} °C "
        "under set",
        3,
        "medium",
        (
            Evidence(
                "heater current, for full output" if asked else "heater current",
                facts["current"],
                "A",
                facts["usual"],
                None,
                f"zone_current:{subject}",
            ),
            Evidence(f"zone {subject}", facts["value"], "C", facts["wanted"], None, f"zone_temperature:{subject}"),
        ),
        (*supply, Cause("heater of this zone dead: fuse, contactor or bands" if none else bands, less), other),
        ("heater current of each band", "terminals, fuses and contactor", "mode and output of its controller"),
        cautions.ELECTRICAL,
    )
