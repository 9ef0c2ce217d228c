"""A reading that rests for a reason: its zone left its set-point and came to rest elsewhere, or gets no heat at all.

What a dead heater or a cooling that fails leaves of a zone comes to rest where neighbours and melt hold it, and its
output, at its end or on its way there, moves nothing any more. A frozen couple stands where its zone was held.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from monitor.conditions.zone_signals import ASKS_PCT, PAUSE_A, set_age, wanted
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, run_length
from monitor.view import CoarseView

AWAY_C, WITHIN_S, NO_HEAT_S = 3.0, 7200.0, 600.0
"""Off its set-point, since it left it and before it rested, without any current: usual tolerance of a zone; the time a
zone takes to settle elsewhere, twice a slow time constant; longer than any pulse. Common practice, no source."""


def start(zones: int) -> State:
    """Nothing seen: cells off the set-point, cells without current."""
    return {"off": np.zeros(zones, np.int64), "no_heat": np.zeros(zones, np.int64)}


def resting(
    state: State, view: CoarseView, zones: tuple[str, ...], value: Floats, held: NDArray[np.int64], ctx: Context
) -> tuple[Bools, State]:
    """Zones that rest so, [zone, n], and the state. value: readings, C; held: cells each has stood still."""
    with np.errstate(invalid="ignore"):
        off, off_after = run_length(state["off"], np.abs(value - wanted(view, zones, ctx)) > AWAY_C)
        none = view.rows("zone_current", zones) <= PAUSE_A
        no_heat, none_after = run_length(state["no_heat"], none & (view.rows("zone_output", zones) >= ASKS_PCT))
    step_s = view.step / 1e9
    # It left its set-point as the line ran, by itself, and rested only then: a reading that froze stands at once.
    left_s, set_s = off * step_s, set_age(view, zones, ctx)
    elsewhere = (off > held) & ((off - held) * step_s <= WITHIN_S) & (set_s > left_s) & (view.ages["started"] > left_s)
    return elsewhere | (no_heat >= ctx.cells(NO_HEAT_S)), {"off": off_after, "no_heat": none_after}
