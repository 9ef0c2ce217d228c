"""What goes into the line: rate fed, rate wanted, share of each feeder."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from monitor.contract import Context
from monitor.exact import Bools, Floats
from monitor.physics.composition import shares_pct, total_rate_kg_h
from monitor.quantities import asked_rate
from monitor.quantities.quantity import Inputs, Quantity, pointwise
from monitor.view import Readings


def total_feed(readings: Readings, ctx: Context) -> Floats:
    """Rate of all feeders together, or of the line where feeders are not logged, [n], as logged."""
    feeders = ctx.subjects_of("feeder_rate")
    if not feeders:
        return readings.get("line_rate")
    return total_rate_kg_h(readings.rows("feeder_rate", feeders))


def _total_setpoint(x: Inputs) -> Floats:
    """Logged set-points, else the recipe's rate times what all feeders have moved by together since."""
    feeders, weighed = x.ctx.subjects_of("feeder_setpoint"), x.ctx.subjects_of("feeder_rate")
    if feeders and (feeders == weighed or not weighed):  # the sum of some would be held against the feed of all
        return total_rate_kg_h(x.readings.rows("feeder_setpoint", feeders))
    wanted = x.readings.get("line_rate_setpoint")
    recipe_rate = x.ctx.recipe_rate_kg_h
    planned = np.nan if recipe_rate is None else recipe_rate * x.asked.factor
    return np.where(np.isnan(wanted), planned, wanted)


def wanted_rates(readings: Readings, feeders: Sequence[str], ctx: Context) -> Floats:
    """Set-point of each feeder, else its recipe share of the recipe's rate, kg/h, [feeder, n]."""
    wanted = readings.rows("feeder_setpoint", feeders).copy()
    rate = ctx.recipe_rate_kg_h
    if rate is not None and ctx.recipe:
        for row, feeder in enumerate(feeders):
            share = ctx.recipe.shares.get(feeder)
            if share is not None:
                wanted[row] = np.where(np.isnan(wanted[row]), share / 100 * rate, wanted[row])
    return wanted


GOING_SHARE, GONE_SHARE = 0.5, 0.1
"""A feeder below half its set-point is going off with the others; where only the recipe says what it should deliver,
below a tenth of it: a line may run for hours at half its recipe's rate."""

SMALL_SHARE = 0.05
"""A feeder of less than this part of the feed may lag: its reported rate moves by small steps."""

STOPPING_SHARE = 0.99
"""A feeder whose drive stands and whose rate has begun to fall is off."""

STANDS_PCT = 3.0
"""Feeder drive above which a feeder has not been switched off, whatever it delivers."""


def feed_off_together(
    readings: Readings, feeders: Sequence[str], ctx: Context, going: float = GOING_SHARE, gone: float = GONE_SHARE
) -> Bools:
    """Cells in which all feeders have lost their rate together, [n]: they were switched off, none of them has failed.

    going, gone: share of its set-point, else of its recipe rate, below which a feeder counts as off. All that matter
    must be off, and at least two and half of all: one feeder alone may have failed. Common practice, no source.
    """
    if len(feeders) < 2:
        return np.zeros(readings.n, bool)
    rate, wanted = readings.rows("feeder_rate", feeders), wanted_rates(readings, feeders, ctx)
    told = np.isfinite(readings.rows("feeder_setpoint", feeders))
    drive = readings.rows("feeder_drive", feeders)
    with np.errstate(invalid="ignore"):
        used = (wanted > 0) & np.isfinite(rate)
        low = rate < np.where(told, going, gone) * wanted
        # A drive stands at once; the reported rate, a filtered slope of the weight, follows within a minute.
        low |= (drive <= STANDS_PCT) & (rate < STOPPING_SHARE * wanted)
        off = used & low & ~(drive > STANDS_PCT)
    total = total_rate_kg_h(np.where(used, wanted, 0.0))
    with np.errstate(invalid="ignore"):
        matters = used & (wanted >= SMALL_SHARE * total)
    count, known = np.add.reduce(off, axis=0, dtype=np.int64), np.add.reduce(used, axis=0, dtype=np.int64)
    return ~(matters & ~off).any(axis=0) & (count >= 2) & (2 * count >= known)


def _relative(ctx: Context) -> bool:
    """Rates whose unit is not known cannot be compared with anything but themselves."""
    return ctx.line.any_relative("feeder_rate", "line_rate")


TOTAL_FEED = Quantity(
    "total_feed",
    "kg/h",
    "rate of all feeders together, or of the line where feeders are not logged",
    pointwise(lambda x: total_feed(x.readings, x.ctx)),
    possible=lambda ctx: (ctx.has("feeder_rate") or ctx.has("line_rate")) and not _relative(ctx),
)
MOVED_TOGETHER = Quantity(
    "moved_together",
    "1",
    "1 while all feeders are on their way to another rate by one factor, where no set-point is logged, else 0",
    pointwise(lambda x: x.asked.together),
    possible=asked_rate.possible,
)
TOTAL_SETPOINT = Quantity(
    "total_setpoint",
    "kg/h",
    "rate wanted of all feeders together",
    pointwise(_total_setpoint),
    possible=lambda ctx: not _relative(ctx),
)


def share_of(feeder: str) -> Quantity:
    """Share of one feeder in all that is fed, percent, from reported rates."""

    def share(x: Inputs) -> Floats:
        feeders = x.ctx.subjects_of("feeder_rate")
        return shares_pct(x.readings.rows("feeder_rate", feeders))[feeders.index(feeder)]

    return Quantity(
        f"share:{feeder}",
        "%",
        f"share of {feeder} in all that is fed",
        pointwise(share),
        possible=lambda ctx: len(ctx.subjects_of("feeder_rate")) > 1 and not _relative(ctx),
    )
