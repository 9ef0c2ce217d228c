"""What torque and pressure say about how much is in the screws, against what they should be here and now.

Loss of feed moves ln torque more than ln pressure, about 1 to 0.35; a thinner or thicker melt moves ln pressure
at least as much as ln torque (power-law flow through the die, exponent about 0.35). Never ask for equal falls.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest.roles import channel_key
from monitor.contract import Context
from monitor.exact import Bools, Floats
from monitor.view import CoarseView

LEAST_SHARE_OF_REFERENCE = 0.02


@dataclass(frozen=True)
class Load:
    """Log ratios to expectation, [n] each; NaN where not known. Negative = less than expected.

    torque, pressure, rate (against set-point), specific_rate (fed or measured rate over speed, against its own
    expectation). melt_c: melt temperature less expectation, C. *_scatter: usual scatter of the same.
    feeds_on_set: every feeder within 6 % (0.3 kg/h at least) of its set-point, or nothing known of them.
    raw_current: the load is a motor current of which the magnetising part could not be taken off.
    """

    torque: Floats
    torque_scatter: Floats
    pressure: Floats
    pressure_scatter: Floats
    rate: Floats
    specific_rate: Floats
    melt_c: Floats
    feeds_on_set: Bools
    raw_current: bool


def load(view: CoarseView, ctx: Context) -> Load:
    """Evidence of one run of cells."""
    torque, torque_scatter = _log_ratio(view, "net_torque", view.quantity("net_torque"))
    pressure, pressure_scatter = _pressure(view, ctx)
    feed, wanted = view.quantity("total_feed"), view.quantity("total_setpoint")
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.log(np.fmax(feed, LEAST_SHARE_OF_REFERENCE * wanted) / wanted)
        rate = np.where((wanted > 0) & np.isfinite(feed), rate, np.nan)
    specific, _ = _log_ratio(view, "specific_throughput", view.quantity("specific_throughput"))
    melt = np.full(view.n, np.nan)
    for probe in ctx.subjects_of("melt_temperature"):
        expected, _ = view.expectation(channel_key("melt_temperature", probe))
        melt = np.where(np.isnan(melt), view.get(channel_key("melt_temperature", probe)) - expected, melt)
    drive = ctx.line.drive
    raw = not ctx.has("torque") and not ctx.has("drive_power") and drive.rated_current_a is None
    return Load(torque, torque_scatter, pressure, pressure_scatter, rate, specific, melt, _on_set(view, ctx), raw)


def gross_torque_pct(view: CoarseView, ctx: Context) -> Floats:
    """Torque as shown, percent of rated, to be held against the drive's limit; NaN where its unit is not known."""
    if "torque" in ctx.line.relative_channels:
        return np.full(view.n, np.nan)
    return view.get("torque")


def _log_ratio(view: CoarseView, name: str, value: Floats) -> tuple[Floats, Floats]:
    expected, scatter = view.expectation(name)
    with np.errstate(divide="ignore", invalid="ignore"):
        floor = LEAST_SHARE_OF_REFERENCE * expected
        ratio = np.where(expected > 0, np.log(np.fmax(value, floor) / expected), np.nan)
        ratio = np.where(np.isnan(value), np.nan, ratio)
        return ratio, np.where(expected > 0, scatter / expected, np.nan)


def _pressure(view: CoarseView, ctx: Context) -> tuple[Floats, Floats]:
    """The sensor with the highest expected pressure: the one ahead of screen and die."""
    ratio, scatter, height = (np.full(view.n, np.nan) for _ in range(3))
    for sensor in ctx.subjects_of("melt_pressure"):
        key = channel_key("melt_pressure", sensor)
        expected, _ = view.expectation(key)
        its_ratio, its_scatter = _log_ratio(view, key, view.get(key))
        higher = np.isfinite(its_ratio) & ~(height >= expected)
        ratio, scatter = np.where(higher, its_ratio, ratio), np.where(higher, its_scatter, scatter)
        height = np.where(higher, expected, height)
    return ratio, scatter


def _on_set(view: CoarseView, ctx: Context) -> Bools:
    on_set = np.ones(view.n, bool)
    for feeder in ctx.subjects_of("feeder_setpoint"):
        rate, wanted = view.get(f"feeder_rate:{feeder}"), view.get(f"feeder_setpoint:{feeder}")
        off = np.abs(rate - wanted) > np.fmax(0.06 * wanted, 0.3)
        on_set &= ~off
    return on_set
