"""What a vacuum was set to in the first steady running, where the recipe says nothing of it."""

from __future__ import annotations

from ingest.roles import split_key
from monitor import fixed_base
from monitor.contract import Context, State
from monitor.exact import Floats
from monitor.view import CoarseView

AT_FIRST_S, STOOD_S = 1200.0, 600.0
"""Steady running whose median it is, and a stand of the screw after which it is learned anew; common practice, no
source."""


def untold(subjects: tuple[str, ...], asked: Floats) -> list[int]:
    """Places of the vacuum set-points of which the recipe says nothing. asked: what it says of each, NaN: nothing."""
    return [r for r, key in enumerate(subjects) if split_key(key)[0] == "vacuum_setpoint" and asked[r] != asked[r]]


def set_at_first(
    state: State, value: Floats, other_recipe: bool, view: CoarseView, ctx: Context
) -> tuple[State, Floats]:
    """State and base [vent, n], mbar, NaN until it is learned. other_recipe: these cells are the first of another."""
    anew = view.ages["still"] > STOOD_S
    if view.n and other_recipe:
        anew[0] = True
    return fixed_base.advance(state, value, view.in_phase("steady"), anew, ctx.cells(AT_FIRST_S))
