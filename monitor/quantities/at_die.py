"""What leaves the die of each ingredient: every feeder with its own way, delayed by kilograms, mixed, integrated."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Floats, last_known, run_length, running_total, with_past
from monitor.physics.composition import shares_pct
from monitor.physics.die_response import leaves_die
from monitor.physics.residence_lag import PLUG_FLOW_SHARE
from monitor.quantities.quantity import Inputs, Quantity, pointwise
from monitor.quantities.screw import melt_density
from monitor.quantities.windows import window_mean, window_start

REACH_S = 1800.0
"""How far back a kilogram at the die can have been fed; what is older is not followed."""

HELD_S = 60.0
"""A rate that is not read is taken to hold for so long."""

FACTOR_S = 120.0
"""The feed factor that holds through a refill is the mean of so long before it."""

SIDE_WAY = 0.6
"""Part of the screw a side feed passes where the line file does not say where it enters; common practice, no source."""


def way_through_screw(feeder: str, ctx: Context) -> float:
    """Part of the screw's hold-up that what this feeder feeds passes, 0 to 1: from the zone it is at."""
    part = ctx.line.feeder_named(feeder)
    barrel = [zone.name for zone in ctx.line.zone if zone.kind in ("feed", "barrel")]
    if part.at in barrel:
        return 1.0 - barrel.index(part.at) / len(barrel)
    return SIDE_WAY if part.side else 1.0


def _way(feeder: str, ctx: Context) -> tuple[float, float]:
    """What line and screw hold of what this feeder feeds: kg behind the screw, and the part of the screw's hold-up."""
    return ctx.line.geometry.downstream_volume_l * melt_density(ctx) / 1000, way_through_screw(feeder, ctx)


def die_flow_of(feeder: str, needs: tuple[str, ...]) -> Quantity:
    """Rate of one ingredient at the die, kg/h.

    needs: the feeder's `refilling`, `feed_factor` and `usual_feed_factor`, where known.
    Counts every kilogram fed, refills included: there the drive speed times the feed factor, where known, tells more
    than a held rate.
    """

    def start(ctx: Context) -> State:
        reach = ctx.cells(REACH_S)
        return {
            "sums": np.zeros((3, reach)),
            "held": np.full(2, np.nan),
            "blind": np.zeros(2, np.int64),
            "factor": window_start(1, ctx.cells(FACTOR_S)),
            "kept": np.full(2, np.nan),
        }

    def cells(state: State, x: Inputs) -> tuple[State, Floats]:
        delivered, factor_state = _delivered(feeder, state, x)
        given = np.array([x["total_feed"], delivered])
        held, held_state = last_known(state["held"], given)
        blind, blind_state = run_length(state["blind"], np.isnan(given))
        lost = (blind * x.ctx.step_s > HELD_S).any(axis=0) | np.isnan(held).any(axis=0)
        held = np.where(lost, 0.0, held)
        step_kg = held[0] * (x.ctx.step_s / 3600)
        sums = running_total(state["sums"][:, -1], np.array([step_kg, held[1] * step_kg, lost.astype(float)]))
        joined, past = with_past(state["sums"], sums)
        downstream, part = x.ctx.once(("way to the die", feeder), lambda: _way(feeder, x.ctx))
        in_screw = x["residence_time"] * x["total_feed"] / 3600 - downstream
        way = part * in_screw
        rate, oldest = leaves_die(
            joined[0], joined[1], past.shape[1], PLUG_FLOW_SHARE * way + downstream, (1 - PLUG_FLOW_SHARE) * way
        )
        gapless = sums[2] == joined[2, oldest]
        after = {**state, **factor_state, "sums": past, "held": held_state, "blind": blind_state}
        return after, np.where(gapless, np.maximum(rate, 0.0), np.nan)

    return Quantity(
        f"die_flow:{feeder}",
        "kg/h",
        f"rate of {feeder} at the die",
        cells,
        ("total_feed", "residence_time", *needs),
        start=start,
        possible=composition_possible,
    )


def _delivered(feeder: str, state: State, x: Inputs) -> tuple[Floats, State]:
    """Reported rate; while it is refilled, drive speed times the feed factor of the minutes before.

    The factor follows the fill of the hopper as far as the usual one is known at both fills. While a feeder is filled
    by hand, and its controller's filter remembers it, a reported rate is the slope of feed and filling together:
    without a drive speed nobody knows what it delivers. Returns also the state.
    """
    rate = x.readings.get(f"feeder_rate:{feeder}")
    busy, factor = x.made.get(f"refilling:{feeder}"), x.made.get(f"feed_factor:{feeder}")
    if busy is None:
        return rate, {}
    with np.errstate(invalid="ignore"):
        rate = np.where(busy > 1, np.nan, rate)
    if factor is None:
        return rate, {}
    usual = x.made.get(f"usual_feed_factor:{feeder}", np.full(x.readings.n, np.nan))
    mean, window = window_mean(state["factor"], factor[None, :], x.ctx.cells(FACTOR_S), 3)
    calm = np.isfinite(factor)[None, :]
    kept, last = last_known(state["kept"], np.where(calm, np.array([mean[0], usual]), np.nan))
    with np.errstate(invalid="ignore", divide="ignore"):
        follows = usual / kept[1]
        turned = x.readings.get(f"feeder_drive:{feeder}") * kept[0] * np.where(np.isfinite(follows), follows, 1.0)
        delivered = np.where((busy > 0) & np.isfinite(turned), turned, rate)
    return delivered, {"factor": window, "kept": last}


def die_share_of(feeder: str, feeders: tuple[str, ...]) -> Quantity:
    """Share of one ingredient in what leaves the die, percent."""
    names = tuple(f"die_flow:{name}" for name in feeders)
    place = feeders.index(feeder)
    return Quantity(
        f"die_share:{feeder}",
        "%",
        f"share of {feeder} in what leaves the die",
        pointwise(lambda x: shares_pct(np.array([x[name] for name in names]))[place]),
        names,
    )


def composition_possible(ctx: Context) -> bool:
    """Whether the feeders set the rate, there are at least two, and all in a known unit."""
    return ctx.starve_fed and not ctx.line.any_relative("feeder_rate") and len(ctx.subjects_of("feeder_rate")) > 1
