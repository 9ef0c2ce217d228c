"""Whether the melt is colder than it was, and whose doing that is."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context
from monitor.exact import Floats
from monitor.explains_pressure import STIFFER_LN_C
from monitor.records import Cause
from monitor.view import CoarseView

COLDER_C = 2.0
"""Melt temperature below expectation that counts; common practice, no source."""

OTHERWISE_LN = 0.05
"""What scatter may add to what a colder melt does, natural logarithm."""

BELOW_SET_C = 5.0
"""A zone so far below its set-point is cold, as zones swing by 1 to 3 C; common practice, no source."""

ALL_SHARE = 0.6
"""Share of the zones that lose their heat together only where their supply is gone; common practice, no source."""

WITNESSES = (
    "zone_under_temperature", "melt_under_temperature", "heater_dead", "heater_partial", "setpoint_not_recipe",
    "thermocouple_open",
)  # fmt: skip


def zones_below(view: CoarseView, ctx: Context) -> tuple[Floats, Floats]:
    """How many zones stand more than `BELOW_SET_C` below their set-points, and of how many that is known, [n] each."""
    return view.once("zones below set", lambda: _zones_below(view, ctx))


def _zones_below(view: CoarseView, ctx: Context) -> tuple[Floats, Floats]:
    zones = [zone for zone in ctx.subjects_of("zone_temperature") if zone in ctx.subjects_of("zone_setpoint")]
    short = view.rows("zone_setpoint", zones) - view.rows("zone_temperature", zones)
    with np.errstate(invalid="ignore"):
        cold = np.count_nonzero(short > BELOW_SET_C, axis=0)
    return cold.astype(float), np.count_nonzero(np.isfinite(short), axis=0).astype(float)


def colder_cause(facts: dict[str, float]) -> Cause:
    """A colder melt, and whose doing it is: all zones cold is their supply, one of them its own heater."""
    cold, known, melt = facts["zones_below"], facts["zones_known"], facts["melt_c"]
    seen = []
    if cold >= 1:
        seen.append(f"{cold:.0f} of {known:.0f} zones more than {BELOW_SET_C:.0f} °C below set")
    if melt <= -COLDER_C:
        seen.append(f"melt temperature down {-melt:.0f} °C")
    if known >= 2 and cold >= ALL_SHARE * known:
        text = "melt colder: supply of the heaters off, zones below set"
    elif cold >= 1:
        text = "melt colder: heater of a zone weak or off"
    else:
        text = "melt colder: zones set lower, less work"
    return Cause(text, tuple(seen), (), WITNESSES)


def is_colder(facts: dict[str, float]) -> bool:
    """Whether zones or melt probe say that the melt is colder."""
    return facts["zones_below"] >= 1 or facts["melt_c"] <= -COLDER_C


def colder_enough(facts: dict[str, float], moved: float) -> bool:
    """Whether it is colder by enough to have moved load or pressure by so much, natural logarithm.

    A zone that is cold has a wall of stiff melt whose part nobody knows; a probe says what the melt itself can do.
    """
    return facts["zones_below"] >= 1 or moved <= STIFFER_LN_C * -facts["melt_c"] + OTHERWISE_LN
