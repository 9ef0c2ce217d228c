"""How much of load, pressure and temperature a cause can bring about: what moved more has another one."""

from __future__ import annotations

from collections.abc import Mapping

MOST_PRESSURE_PER_RATE = 1.0
"""ln P follows ln Q at n, and n of a melt does not exceed 1 (Newtonian): a feed loss takes no larger share of pressure.
"""

MOST_PRESSURE_PER_INGREDIENT = 2.2
"""One ingredient lost changes the melt too, beside the n of the rate: a mineral that is a mass share w of the feed
makes some 1.6 w of the logarithm of its viscosity (2.5 to 4 times its volume share, after Krieger and Dougherty; value
from memory)."""

STIFFER_LN_C, MOST_HOTTER_C = 0.03, 20.0
"""A melt gains 1 to 3 % of viscosity, and its pressure as much, for each C it is colder (value from memory); one that
fewer kilograms make this much hotter is counted in full, common practice."""

MOST_TORQUE_PER_RATE = 1.5
"""Net torque goes with fill and power with throughput: near 1 : 1; the margin is common practice, no source."""

LEAST_TORQUE_PER_PRESSURE = 0.4
"""ln torque per ln pressure of a melt that has changed; where pressure moves more, the way out has, and the load
follows it (as in die_side)."""

MOST_LOSS_PER_SWING = 2.0
"""What surges falls by its whole swing, twice what it swings either way, below where it was."""

BESIDE_SET_C = 5.0
"""A zone whose set-point was moved goes where it is told, this near; what is further off has another cause."""

MOST_PER_ZONE_C = 0.01
"""One zone of several off by 1 C moves load or pressure by no more, natural logarithm: a third of what as much of the
melt itself does. Common practice, no source."""

NOISE_LN = 0.08
"""What scatter and a badly known no-load part add to a relative move."""


def too_large_for(cause: Mapping[str, float], effect: Mapping[str, float], one_ingredient: bool = False) -> bool:
    """Whether a finding moved more, or the other way, than its supposed cause can bring about.

    Both as Explanation.moved: natural logarithms against what is expected. A feed 20 % down explains a pressure some
    8 % down, at most 20 %: not a pressure of zero; nor does a load that is 9 % up make a pressure 40 % higher, nor a
    swing of 3 % either way (`swing`, of the output) a load 35 % down. Nothing is ruled out where one of the two is not
    known.
    """
    rate, swing = cause.get("rate"), cause.get("swing")
    if swing is not None:
        return abs(effect.get("torque", 0.0)) > MOST_LOSS_PER_SWING * swing + NOISE_LN
    if "zone_c" in cause:
        most = MOST_PER_ZONE_C * abs(cause["zone_c"]) + NOISE_LN
        low, high = min(cause["zone_c"], 0.0) - BESIDE_SET_C, max(cause["zone_c"], 0.0) + BESIDE_SET_C
        return not low <= effect.get("off_c", 0.0) <= high or any(
            abs(effect.get(key, 0.0)) > most for key in ("torque", "pressure")
        )
    if rate is None:
        torque, pressure = cause.get("torque"), effect.get("pressure")
        if torque is None or pressure is None or "pressure" in cause or "suction" in cause:
            return False
        return abs(pressure) > abs(torque) / LEAST_TORQUE_PER_PRESSURE + NOISE_LN
    most_pressure = MOST_PRESSURE_PER_INGREDIENT if one_ingredient else MOST_PRESSURE_PER_RATE
    for key, most in (("pressure", most_pressure), ("torque", MOST_TORQUE_PER_RATE)):
        moved = effect.get(key)
        if moved is None:
            continue
        lowest, highest = min(most * rate, 0.0) - NOISE_LN, max(most * rate, 0.0) + NOISE_LN
        if key == "pressure":
            # The same work in fewer kilograms makes them hotter, and thinner.
            lowest -= STIFFER_LN_C * min(max(effect.get("melt_c", 0.0), 0.0), MOST_HOTTER_C)
        own = cause.get(key)
        if own is not None:
            lowest, highest = min(lowest, own - NOISE_LN), max(highest, own + NOISE_LN)
        if not lowest <= moved <= highest:
            return True
    return False
