"""What the feeder conditions share: which cells of a feeder are fit to be judged."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context
from monitor.exact import Bools, Floats, blank, with_past
from monitor.view import CoarseView

AFTER_REFILL_CELLS = 3


def refill_start(subjects: tuple[str, ...]) -> Floats:
    """State of `refilling`: the weight and the refill marks of the cells before."""
    return blank(2 * len(subjects), AFTER_REFILL_CELLS)


def refilling(past: Floats, view: CoarseView, subjects: tuple[str, ...]) -> tuple[Bools, Floats]:
    """Cells in which a feeder is being refilled or was within the last 30 s, [subject, n].

    From the refill signal, else from a weight that rises by more than 0.3 % of itself (0.05 kg at least).
    """
    count = len(subjects)
    weight, mark = view.rows("feeder_weight", subjects), view.rows("feeder_refill", subjects)
    joined, after = with_past(past, np.concatenate((weight, mark), axis=0))
    weights, marks = joined[:count], joined[count:]
    with np.errstate(invalid="ignore"):
        grows = np.zeros(weights.shape, bool)
        step = weights[:, 1:] - weights[:, :-1]
        grows[:, 1:] = step > np.fmax(0.003 * weights[:, 1:], 0.05)
        busy = (marks > 0.05) | (grows & ~np.isfinite(marks))
    out = np.zeros((count, view.n), bool)
    for offset in range(AFTER_REFILL_CELLS + 1):
        out |= busy[:, offset : offset + view.n]
    return out, after


def in_use(view: CoarseView, wanted: Floats) -> Bools:
    """Cells in which a feeder is wanted and the line is past the settling of a start or change, [subject, n]."""
    return view.in_phase("steady") & (wanted > 0.0)


def wanted_rates(view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> Floats:
    """Set-point of each feeder, else its recipe share of the recipe's rate, kg/h, [subject, n]."""
    wanted = view.rows("feeder_setpoint", subjects)
    rate = ctx.recipe.recipe.rate_kg_h if ctx.recipe else None
    if rate is not None and ctx.recipe:
        for row, subject in enumerate(subjects):
            share = ctx.recipe.shares.get(subject)
            if share is not None:
                wanted[row] = np.where(np.isnan(wanted[row]), share / 100 * rate, wanted[row])
    return wanted


def usable_feeders(ctx: Context) -> tuple[str, ...]:
    """Feeders with a rate in a known unit."""
    relative = ctx.line.relative_channels
    return tuple(name for name in ctx.subjects_of("feeder_rate") if f"feeder_rate:{name}" not in relative)


def label(subject: str, ctx: Context) -> str:
    """Feeder name with what it feeds."""
    feeder = ctx.line.feeder_named(subject)
    return (
        f"feeder {subject} ({feeder.material or feeder.title})"
        if feeder.material or feeder.title
        else (f"feeder {subject}")
    )
