"""What torque, pressure and rate say about how much is in the screws, against what they should be here and now.

Loss of feed moves ln torque more than ln pressure, about 1 to 0.35; a thinner or thicker melt moves ln pressure
at least as much as ln torque (power-law flow through the die, exponent about 0.35). Never ask for equal falls.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ingest.roles import channel_key
from monitor import pressure_path
from monitor.contract import Context
from monitor.exact import Bools, Floats
from monitor.quantities.load import gross_torque_known, gross_torque_of
from monitor.view import CoarseView

LEAST_SHARE_OF_REFERENCE = 0.02

PLACES = ("before_screen", "", "after_screen", "pump_suction", "barrel")
"""Where a melt pressure judges the extruder, the best first. Behind a melt pump the pump makes the pressure, and over
a vent there should be none."""

LEAST_PRESSURE_BAR = 3.0
"""A sensor that usually shows less stands in a part-filled stretch: its ratio is that of two zero errors."""

ASSUMED_FIELD_WIDER = 1.3
"""Limits of a torque got from motor current with an assumed magnetising part; common practice, no source."""

RAW_CURRENT_NARROWER = 0.6
"""A motor current of unknown rating moves by this much of what its torque does: with a third of the rated current
magnetising and 8 % no-load torque, d ln I / d ln T is 0.5 to 0.7 between 40 and 70 % torque (quadrature sum)."""


@dataclass(frozen=True)
class Load:
    """Log ratios to expectation, [n] each; NaN where not known. Negative = less than expected.

    torque, pressure, rate (against set-point), specific_rate (fed or measured rate over speed, against its own
    expectation), sme. melt_c: melt temperature less expectation, C. *_scatter: usual scatter of the same.
    fed_together: all feeders lie the same share below their set-points, two at least. feeds_on_set: every feeder
    within 6 % (0.3 kg/h at least) of its set-point, or nothing known of them. raw_current: the load is a motor current
    of which the magnetising part could not be taken off. wider: what limits in ln torque are multiplied by because
    the no-load or the magnetising part is assumed, [n], at least 1; less than 1 for a raw current.
    """

    torque: Floats
    torque_scatter: Floats
    pressure: Floats
    pressure_scatter: Floats
    rate: Floats
    specific_rate: Floats
    sme: Floats
    melt_c: Floats
    feeds_on_set: Bools
    fed_together: Bools
    raw_current: bool
    wider: Floats


def load(view: CoarseView, ctx: Context) -> Load:
    """Evidence of one run of cells, made once for all conditions that ask."""
    return view.once("load", lambda: _load(view, ctx))


def _load(view: CoarseView, ctx: Context) -> Load:
    torque, torque_scatter = log_ratio(view, "net_torque", view.quantity("net_torque"))
    pressure, pressure_scatter = _pressure(view, ctx)
    feed, wanted = view.quantity("total_feed"), view.quantity("total_setpoint")
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.log(np.fmax(feed, LEAST_SHARE_OF_REFERENCE * wanted) / wanted)
        rate = np.where((wanted > 0) & np.isfinite(feed), rate, np.nan)
    specific, _ = log_ratio(view, "specific_throughput", view.quantity("specific_throughput"))
    pumped, _ = log_ratio(view, "pumped_per_turn", view.quantity("pumped_per_turn"))
    specific = np.where(np.isnan(specific) & (not ctx.starve_fed), pumped, specific)
    sme, _ = log_ratio(view, "sme", view.quantity("sme"))
    on_set, together = _feeds(view, ctx)
    raw = not ctx.has("torque") and not ctx.has("drive_power") and ctx.line.drive.rated_current_a is None
    return Load(
        torque,
        torque_scatter,
        pressure,
        pressure_scatter,
        rate,
        specific,
        sme,
        melt_off_c(view, ctx),
        on_set,
        together,
        raw,
        _wider(view, ctx, raw),
    )


def melt_off_c(view: CoarseView, ctx: Context) -> Floats:
    """Melt temperature of the first probe that is known less what is expected of it, C, [n]."""
    melt = np.full(view.n, np.nan)
    for probe in ctx.subjects_of("melt_temperature"):
        expected, _ = view.expectation(channel_key("melt_temperature", probe))
        melt = np.where(np.isnan(melt), view.get(channel_key("melt_temperature", probe)) - expected, melt)
    return melt


def with_carried(found: Load, view: CoarseView, ctx: Context) -> Load:
    """The same evidence where, after a change of speed and rate, nothing is learned yet: torque and pressure against
    what was known before it, carried over, with the scatter that leaves."""
    if np.isfinite(found.torque).all():
        return found
    torque, torque_scatter = log_ratio(view, "carried net_torque", view.quantity("net_torque"))
    pressure, pressure_scatter = _pressure(view, ctx, "carried ")
    open_still = np.isnan(found.torque) & np.isfinite(torque)
    return replace(
        found,
        torque=np.where(open_still, torque, found.torque),
        torque_scatter=np.where(open_still, torque_scatter, found.torque_scatter),
        pressure=np.where(open_still, pressure, found.pressure),
        pressure_scatter=np.where(open_still, pressure_scatter, found.pressure_scatter),
    )


def gross_torque_pct(view: CoarseView, ctx: Context) -> Floats:
    """Torque as shown or got from current or power, percent of rated, to be held against the drive's limit.

    NaN where its unit is not known, and for a current of unknown rating.
    """
    return gross_torque_of(view, ctx) if gross_torque_known(ctx) else np.full(view.n, np.nan)


def judging_sensors(ctx: Context) -> tuple[tuple[str, ...], ...]:
    """Melt pressure sensors that say how the extruder is doing, best place first, one group a place."""
    return ctx.once("judging sensors", lambda: _judging_sensors(ctx))


def _judging_sensors(ctx: Context) -> tuple[tuple[str, ...], ...]:
    groups: dict[str, list[str]] = {place: [] for place in PLACES}
    for sensor in ctx.line.sensor:
        if sensor.role == "melt_pressure":
            place = place_of(sensor.position, sensor.at, ctx)
            if place in groups:
                groups[place].append(sensor.at)
    return tuple(tuple(group) for group in groups.values() if group)


def place_of(position: str, at: str, ctx: Context) -> str:
    """Where a melt pressure stands in the stream: as the line file says, else by the zone it is in.

    On a line with a melt pump one of unknown place stands behind the pump: 'pump_discharge'; so does one after the
    screen where that is behind the pump. Where the pump's speed is not logged that one has to tell how much comes.
    """
    if position == "after_screen" and ctx.has("melt_pump_speed") and pressure_path.screen_behind_pump(ctx):
        return "pump_discharge"
    if position:
        return position
    zone = next((zone for zone in ctx.line.zone if zone.name == at), None)
    if zone is not None and zone.kind in ("feed", "barrel"):
        return "barrel"
    if zone is not None and zone.kind == "adapter":
        return "before_screen"
    return "pump_discharge" if has_melt_pump(ctx) else ""


def has_melt_pump(ctx: Context) -> bool:
    """Whether a melt pump makes the output: it is logged, or a pressure stands at it."""
    logged = ctx.has("melt_pump_speed") or ctx.has("melt_pump_load")
    return logged or any(sensor.position.startswith("pump_") for sensor in ctx.line.sensor)


def log_ratio(view: CoarseView, name: str, value: Floats) -> tuple[Floats, Floats]:
    """ln of a value over its expectation, and the usual scatter of it, [n] each."""
    expected, scatter = view.expectation(name)
    with np.errstate(divide="ignore", invalid="ignore"):
        floor = LEAST_SHARE_OF_REFERENCE * expected
        ratio = np.where(expected > 0, np.log(np.fmax(value, floor) / expected), np.nan)
        ratio = np.where(np.isnan(value), np.nan, ratio)
        return ratio, np.where(expected > 0, scatter / expected, np.nan)


def _pressure(view: CoarseView, ctx: Context, known: str = "") -> tuple[Floats, Floats]:
    """Ratio to what is usual, and its scatter, of the best-placed sensor that has an expectation.

    Of several in one place that with the highest pressure. known: 'carried ' to hold them against what was known before
    a change.
    """
    out, out_scatter = np.full(view.n, np.nan), np.full(view.n, np.nan)
    for group in judging_sensors(ctx):
        ratio, scatter, height = (np.full(view.n, np.nan) for _ in range(3))
        for sensor in group:
            key = channel_key("melt_pressure", sensor)
            expected, _ = view.expectation(known + key)
            its_ratio, its_scatter = log_ratio(view, known + key, view.get(key))
            least = 0.0 if key in ctx.line.relative_channels else LEAST_PRESSURE_BAR
            higher = np.isfinite(its_ratio) & ~(height >= expected) & (expected >= least)
            ratio, scatter = np.where(higher, its_ratio, ratio), np.where(higher, its_scatter, scatter)
            height = np.where(higher, expected, height)
        open_still = np.isnan(out)
        out, out_scatter = np.where(open_still, ratio, out), np.where(open_still, scatter, out_scatter)
    return out, out_scatter


def _feeds(view: CoarseView, ctx: Context) -> tuple[Bools, Bools]:
    """Whether all feeders are on set, and whether all lie the same share (within 3 %) below it."""
    on_set, low, high, count = np.ones(view.n, bool), np.full(view.n, np.inf), np.full(view.n, -np.inf), 0
    for feeder in ctx.subjects_of("feeder_setpoint"):
        rate, wanted = view.get(f"feeder_rate:{feeder}"), view.get(f"feeder_setpoint:{feeder}")
        off = np.abs(rate - wanted) > np.fmax(0.06 * wanted, 0.3)
        on_set &= ~off
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(wanted > 0.3, rate / wanted, np.nan)
        low, high, count = np.fmin(low, share), np.fmax(high, share), count + np.isfinite(share)
    return on_set, (count >= 2) & (high - low <= 0.03) & (high < 1 - 0.03)


def astray(view: CoarseView, ctx: Context) -> Floats:
    """What the feeders give too much or too little, in sum, as a share of what is asked of them, [n].

    NaN where no feeder logs both. What leaves is then another mixture at another rate.
    """
    return view.once("feeders astray", lambda: _astray(view, ctx))


def _astray(view: CoarseView, ctx: Context) -> Floats:
    off, asked = np.zeros(view.n), np.zeros(view.n)
    for feeder in ctx.subjects_of("feeder_setpoint"):
        rate, wanted = view.get(f"feeder_rate:{feeder}"), view.get(f"feeder_setpoint:{feeder}")
        known = np.isfinite(rate) & np.isfinite(wanted)
        off += np.where(known, np.abs(rate - wanted), 0.0)
        asked += np.where(known, wanted, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(asked > 0, off / asked, np.nan)


def _wider(view: CoarseView, ctx: Context, raw: bool) -> Floats:
    if raw:
        return np.full(view.n, RAW_CURRENT_NARROWER)
    drive = ctx.line.drive
    out = np.ones(view.n)
    torque_stated = ctx.has("torque")
    if not torque_stated and ctx.has("motor_current") and drive.magnetising_current_a is None:
        out = out * ASSUMED_FIELD_WIDER
    if "no_load_torque_pct" not in drive.model_fields_set and gross_torque_known(ctx):
        expected, _ = view.expectation("net_torque")
        with np.errstate(divide="ignore", invalid="ignore"):
            by_no_load = 1 + 0.5 * drive.no_load_torque_pct / np.fmax(expected, 1.0)
        out = out * np.where(np.isnan(by_no_load), 1.0, by_no_load)
    return out


def asked_specific(fed: Floats, view: CoarseView, ctx: Context) -> Floats:
    """Rate over speed as it is asked for where set-points are logged, else as fed, a mean of minutes; [n]."""
    if not (ctx.has("feeder_setpoint") or ctx.has("line_rate_setpoint")):
        return fed
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = view.get("screw_speed")
        wanted = np.where(speed > 0, view.quantity("total_setpoint") / speed, np.nan)
    return np.where(np.isnan(wanted), fed, wanted)
