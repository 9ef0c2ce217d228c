"""What zones needed before the last stop, held against what they need since: the stop is when hands are at work."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from monitor.conditions.zone_minutes import ALL_OF_IT, Minutes, left_right, others_median
from monitor.contract import State
from monitor.exact import Bools, Floats

STOP_ROWS = ("temperature", "wanted", "output", "set_age_s")
STOP_LINE = ("steady", "unchanged_s", "still_s", "speed", "rate")
STOOD_S = 600.0
SAME_POINT_SHARE = 0.05
SAME_SET_C = 2.0


@dataclass(frozen=True)
class SinceStop:
    """Duties of zones, % [zone, m] each: mean of 15 min, before the stop, the difference (NaN where not to be
    compared), and what of it the other zones do not share. armed: the line runs as before the stop [m]."""

    mean: Floats
    was: Floats
    off: Floats
    own_off: Floats
    armed: Bools


def answered(since: SinceStop, least_pct: float) -> tuple[Bools, Floats, Floats]:
    """Zones whose heated neighbours all moved against them, [zone, m], which moved most (-1, +1) and by how much.

    least_pct: of each neighbour; half as much again where there is only one, and a twelfth of the zone's own move
    together.
    """
    own_off = np.where(since.was >= 2.0, since.own_off, np.nan)
    sign = np.sign(since.own_off)
    left, right = (rows * -sign for rows in left_right(own_off))
    known = np.isfinite(left).astype(float) + np.isfinite(right)
    least = np.where(known == 2, least_pct, 1.5 * least_pct)
    with np.errstate(invalid="ignore"):
        found = (known > 0) & ~(left < least) & ~(right < least)
        total = (np.nan_to_num(left) + np.nan_to_num(right)) / np.fmax(known, 1.0)
        found &= total >= np.abs(since.own_off) / 12.0
    nearer = np.nan_to_num(left) >= np.nan_to_num(right)
    return found, np.where(nearer, -1.0, 1.0), -sign * np.where(nearer, left, right)


def start(zones: int) -> State:
    """Duties, set-points, speed and rate of the newest settled minutes, and those of before the last stop."""
    nothing, point = np.full(zones, np.nan), np.full(2, np.nan)
    now = {"duty": nothing, "set": nothing, "point": point}
    return {**now, **{f"{name}_was": value for name, value in now.items()}, "stood": False}


def since_stop(state: State, x: Minutes, settling_s: float) -> tuple[State, SinceStop]:
    """Compare once the line has run for `settling_s` at the speed, rate and set-points of before. past >= 15."""
    zones, m = len(x.zones), x.m
    mean, wanted = x.mean(x.zone["output"], 15), x.now("wanted")
    speed, rate = (x.mean(x.line[name][None, :], 15)[0] for name in ("speed", "rate"))
    calm = x.held((x.line["steady"] >= ALL_OF_IT)[None, :], 15)[0]
    settled = calm & (x.line_now("unchanged_s") >= settling_s)
    stood = x.line_now("still_s") >= STOOD_S
    s = dict(state)
    if not s["stood"] and not stood.any():
        settled_at = np.flatnonzero(settled)
        if len(settled_at):
            i = int(settled_at[-1])
            point = np.array([speed[i], rate[i]])
            s = {**s, "duty": mean[:, i].copy(), "set": wanted[:, i].copy(), "point": point}
        if np.isnan(s["point_was"][0]):
            nothing = np.full((zones, m), np.nan)
            return s, SinceStop(mean, nothing, nothing, nothing, np.zeros(m, bool))
    was, set_was, comparable = np.full((zones, m), np.nan), np.full((zones, m), np.nan), np.zeros(m, bool)
    points, known_rate = np.array([speed, rate]), ~np.isnan(rate)
    edges = np.flatnonzero((stood[1:] != stood[:-1]) | (settled[1:] != settled[:-1])) + 1
    for first, end in itertools.pairwise([0, *edges.tolist(), m]):
        # A line that stands is not settled: in minutes that are alike only the first or the last decides.
        if stood[first] and not s["stood"] and np.isfinite(s["duty"]).any():
            kept = {f"{name}_was": s[name] for name in ("duty", "set", "point")}
            s = {**s, **kept, "stood": True, "duty": np.full(zones, np.nan)}
        elif settled[first]:
            newest = {"duty": mean, "set": wanted, "point": points}
            s = {**s, "stood": False, **{name: rows[:, end - 1].copy() for name, rows in newest.items()}}
        here = slice(first, end)
        was[:, here], set_was[:, here] = s["duty_was"][:, None], s["set_was"][:, None]
        point = s["point_was"][:, None]
        near = np.abs(points[:, here] - point) <= SAME_POINT_SHARE * np.abs(point)
        comparable[here] = near[0] & (near[1] | ~known_rate[here])
    with np.errstate(invalid="ignore"):
        same = (np.abs(wanted - set_was) <= SAME_SET_C) & (x.now("set_age_s") >= settling_s)
    off = np.where(same & settled & comparable, mean - was, np.nan)
    own_off = off - np.nan_to_num(others_median(off))
    return s, SinceStop(mean, was, off, own_off, settled & comparable)
