"""Zones of one electrical phase that leave their set-points in the same minutes: a phase or a supply group is lost.

Bands of two and three phases keep part of their power, and a zone that needs little holds for long: not all of them are
dead. But heaters do not fail together, and those that hang on one phase do.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, run_length

LEFT_C, LOST_C, TOGETHER_S = 0.75, 1.5, 300.0
"""Under its set-point a zone has left it, and lacks heat; so far apart it may have done so: dead times of barrel zones
are 0.5 to 4 min (values from memory)."""

MORE_PCT, MORE_SHARE = 2.0, 0.3
"""Output over usual that says its controller asks for more. Common practice, no source."""

FULL_PCT = 90.0
"""A controller that asks for so much asks for all there is. Common practice, no source."""

BESIDE_SHARE = 0.3
"""Of what a zone is under its set-point another next to it may be for its sake (value from memory)."""


def start(zones: int) -> State:
    """left: cells since each zone left its set-point. with: those that lost their heat with it since, as `beside`."""
    return {"left": np.zeros(zones, np.int64), "with": np.zeros(zones)}


def phases(zones: tuple[str, ...], ctx: Context) -> list[Bools]:
    """Which zones hang on one electrical phase, as the line file says; else every third, where there are six and more.

    Only phases with two zones and more: one zone alone is its own heater.
    """
    named = [ctx.line.zone_named(zone).electrical_phase for zone in zones]
    if not any(named):
        named = [str(place % 3) for place in range(len(zones))] if len(zones) >= 6 else []
    groups = [np.array([name == phase for name in named]) for phase in sorted({*named} - {""})]
    return [members for members in groups if members.sum() >= 2 and not members.all()]


def beside(
    state: State, under: Floats, output: Floats, usual: Floats, zones: tuple[str, ...], ctx: Context
) -> tuple[State, Floats]:
    """Which zones of its phase lost their heat with each zone, as a sum of 2 to the power of their places [zone, n]; 0
    where zones of other phases did so too, and not for the sake of one next to them.

    Told as long as the zone is off its set-point: one that holds with half of its bands comes back. under: C; output,
    usual: % [zone, n].
    """
    with np.errstate(invalid="ignore"):
        left, after = run_length(state["left"], under > LEFT_C)
        asks = output - usual >= np.fmax(MORE_PCT, MORE_SHARE * np.abs(usual))
        # Of a zone that is switched on and off it may not be known what it usually takes.
        asks |= np.isnan(usual) & (output >= FULL_PCT)
        lost = (under >= LOST_C) & asks
    out = np.zeros(under.shape)
    if np.count_nonzero(lost.any(axis=1)) < 2:
        return _since_it_left(state["with"], left, after, out)
    places = 2.0 ** np.arange(len(zones))[:, None]
    for members in phases(zones, ctx):
        near = members.copy()
        near[1:] |= members[:-1]
        near[:-1] |= members[1:]
        for zone in np.flatnonzero(members).tolist():
            with_it = lost & (np.abs(left - left[zone]) <= ctx.cells(TOGETHER_S)) & (left > 0)
            with_it[zone] = False
            with np.errstate(invalid="ignore"):
                by_itself = ~near[:, None] | (under > BESIDE_SHARE * under[zone] + LOST_C)
            alone = (left[zone] > 0) & ~(with_it & ~members[:, None] & by_itself).any(axis=0)
            out[zone] = np.where(alone, (places * (with_it & members[:, None])).sum(axis=0), 0.0)
    return _since_it_left(state["with"], left, after, out)


def _since_it_left(
    before: Floats, left: NDArray[np.int64], after: NDArray[np.int64], now: Floats
) -> tuple[State, Floats]:
    """The state, and the most zones that were with each one since it left its set-point."""
    out = now.copy()
    for zone in np.flatnonzero((before > 0) | (now > 0).any(axis=1)).tolist():
        kept = int(before[zone])
        for cell, (gone, mask) in enumerate(zip((left[zone] > 0).tolist(), now[zone].tolist(), strict=True)):
            kept = kept | int(mask) if gone else 0
            out[zone, cell] = kept
    return {"left": after, "with": out[:, -1].copy() if out.shape[1] else before}, out


def named(mask: float, zones: tuple[str, ...]) -> tuple[str, ...]:
    """The zones of such a sum."""
    return tuple(zone for place, zone in enumerate(zones) if mask == mask and int(mask) >> place & 1)
