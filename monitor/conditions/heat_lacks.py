"""A zone that falls although it is given more heat than it takes at its set-point: the heat does not arrive.

What a zone loses grows with its temperature. One that is colder than it should be, and gets more heat than held it
there, warms up, whatever its size and its bands, once the heat has come through its steel. Where it goes on falling,
part of the heat is not given (bands, a connection, a phase), or something takes it away (water let on the wall).
"""

from __future__ import annotations

import numpy as np

from monitor import cautions
from monitor.conditions import leaps
from monitor.conditions.duty_against_reference import Duty, beyond_the_others
from monitor.conditions.zone_minutes import Minutes, left_right
from monitor.contract import Context, Explanation
from monitor.exact import Bools, Floats
from monitor.records import Cause, Evidence

UNDER_C, COLD_MIN = 3.0, 5
MORE_MIN = 8
"""Minutes of more heat: three for it to come through the steel, five in which the reading should rise (value from
memory: thermocouples of barrel zones answer to their bands in one to three minutes)."""

MORE_SHARE, MORE_PCT = 0.2, 5.0
FALLS_C_MIN = -0.1
COOLED_PCT, IN_HAND_PCT = 1.0, 5.0


def lacks(x: Minutes, duty: Duty, limit: Floats) -> Bools:
    """Zones that have been 3 C and more under set for 5 min and still fall, while for 8 min, without a break, they were
    given a fifth and 5 % more heat than they need here, beyond what the other zones take more; not cooled, and no
    neighbour colder. What calls for all there is, is `heater_dead`. limit: of each output, % [zone, 1]. [zone, m]."""
    value, wanted = x.now("temperature"), x.now("wanted")
    least, _ = x.extremes(x.zone["output"], MORE_MIN)
    cooled = x.extremes(x.zone["cool"], MORE_MIN)[1]
    with np.errstate(invalid="ignore"):
        off = beyond_the_others(np.where(duty.valid, least - duty.expected, np.nan))
        more = off >= np.fmax(np.fmax(MORE_PCT, duty.slack), MORE_SHARE * np.abs(duty.expected))
        cold = x.held(x.zone["temperature"] < x.zone["wanted"] - UNDER_C, COLD_MIN)
        falls = x.slope_c_min(x.zone["temperature"], COLD_MIN) <= FALLS_C_MIN
        left, right = left_right(value - wanted)
        cold &= x.now("output") < limit - IN_HAND_PCT
        return more & cold & falls & ~(cooled > COOLED_PCT) & ~(left < -UNDER_C) & ~(right < -UNDER_C)


def given(x: Minutes) -> tuple[Floats, Floats]:
    """Mean output of the last 5 min, %, and how fast the reading falls, C a minute, [zone, m] each."""
    return x.mean(x.zone["output"], COLD_MIN), -x.slope_c_min(x.zone["temperature"], COLD_MIN)


def explain(subject: str, facts: dict[str, float], ctx: Context) -> Explanation:
    """Bands or water, by how fast it falls."""
    under, output, expected = facts["wanted"] - facts["value"], facts["output"], facts["expected"]
    why = "what held it at its set-point would lift a zone that has become colder, and it gets more"
    bands = Cause("heater of this zone or part of its bands dead, or a bad connection", (why,))
    passes = Cause("cooling of this zone passes", shown_by=("cooling_passing",))
    causes = (bands, passes)
    if ctx.line.zone_named(subject).cooled and facts["falls"] > leaps.without_heat_c(np.array(expected)):
        fast = f"it falls by {facts['falls']:.0f} °C a minute, faster than without any heat"
        causes = (Cause(passes.text, (fast,), (), passes.shown_by), bands)
    return Explanation(
        f"zone {subject} falls, {under:.0f} °C under set, though it gets {output:.0f} % heat where {expected:.0f} % "
        "held it",
        3,
        "medium",
        (
            Evidence("zone output", output, "%", expected, None, f"zone_output:{subject}"),
            Evidence(f"zone {subject}", facts["value"], "C", facts["wanted"], None, f"zone_temperature:{subject}"),
            Evidence("falls by", facts["falls"], "C/min", None, None, f"zone_temperature:{subject}"),
        ),
        causes,
        ("heater current of each band", "terminals, fuses and contactor", "cooling valve closed and cold"),
        cautions.ELECTRICAL,
    )
