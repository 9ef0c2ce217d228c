"""A set-point is not what the recipe says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import ROLES, channel_key, split_key
from monitor.contract import DISARMED, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, last_known, run_length
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

ROLES_WATCHED = ("zone_setpoint", "screw_speed_setpoint", "vacuum_setpoint", "feeder_setpoint")
SAME_SPECIFIC_SHARE = 0.05
"""Speed and rate that moved together within 5 % are a planned change of output, not a wrong speed."""

LEAST_FEED_STEP_KG_H = 0.1
"""Set-points are often entered to 0.1 kg/h."""


@dataclass(frozen=True)
class SetpointNotRecipe:
    """A set-point of a zone, the screw, a vent or a feeder is not the recipe's.

    An operator would say: "somebody set zone 3 to 235". Judged in steady running, of set-points that have stood for
    `stood_s`, so that a ramp is none. Zones against the recipe's zones; screw speed against the recipe's speed, unless
    the rate was changed by as much (a planned change of output); vacuum against the target of its window; each feeder
    against its share at the scale most feeders agree on, so that a change of the total at constant shares is none.
    Levels by size: 1 a note (zones only, 2 C), 2 a look this shift (zones 5 C, speed 5 %, vacuum 30 mbar,
    feeders 3 % of their share), 3 soon (zones 15 C, speed 20 %, vacuum 100 mbar, feeders 10 %).
    Look-alikes: a planned ramp, night set-back, start-up set-points (not steady), trim of the rate, ratio control that
    pulls all feeders, rounding of small set-points. Missing readings: a set-point stands until the next is read.
    Memory: 2 numbers a set-point. Common practice, no source.
    """

    zone_note_c: float = setting(2, 0.5, 20, "C")
    zone_c: float = setting(5, 1, 50, "C")
    zone_soon_c: float = setting(15, 2, 100, "C")
    speed_pct: float = setting(5, 1, 50, "% of the recipe's speed")
    speed_soon_pct: float = setting(20, 2, 100, "% of the recipe's speed")
    vacuum_mbar: float = setting(30, 1, 500, "mbar")
    vacuum_soon_mbar: float = setting(100, 5, 1000, "mbar")
    feeder_pct: float = setting(3, 0.5, 50, "% of its share")
    feeder_soon_pct: float = setting(10, 1, 100, "% of its share")
    stood_s: float = setting(600, 60, 7200, "s unchanged")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(60, 10, 1800, "s")

    name: ClassVar[str] = "setpoint_not_recipe"
    family: ClassVar[Family] = "window"
    title: ClassVar[str] = "set-point is not the recipe's"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("|".join(ROLES_WATCHED),)
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe", *ROLES_WATCHED)
    quantities: ClassVar[tuple[str, ...]] = ("total_setpoint",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every set-point logged in its own unit."""
        relative = ctx.line.relative_channels
        return tuple(k for k in ctx.line.channels if split_key(k)[0] in ROLES_WATCHED and k not in relative)

    def channel(self, subject: str) -> str:
        """The set-point."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the time it must have stood."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing read. cells: how long each has stood."""
        return {"last": np.full(len(subjects), np.nan), "cells": np.zeros(len(subjects), np.int64)}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a set-point."""
        read = np.array([view.get(key) for key in subjects]).reshape(len(subjects), view.n)
        value, last = last_known(state["last"], read)
        before = np.concatenate((state["last"][:, None], value), axis=1)[:, :-1] if view.n else value
        wanted, small = self._wanted(subjects, value, view, ctx)
        with np.errstate(invalid="ignore", divide="ignore"):
            same = np.abs(value - before) <= small
            off = np.abs(value - wanted)
            stood, cells = run_length(state["cells"], same)
            planned = self._planned(subjects, value, wanted, view, ctx)
            limits = self._limits(subjects, wanted)
            holds = (stood >= ctx.cells(self.stood_s)) & ~planned
            level = rule(holds & (off >= limits[0]), np.isfinite(value), view.in_phase("steady"))
            for place in (1, 2):
                level = np.where((level >= place) & (off >= limits[place]), np.int8(place + 1), level)
        level = np.where(np.isnan(wanted), np.int8(DISARMED), level).astype(np.int8)
        score = off / np.fmax(limits[2], 1e-9)
        return {"last": last, "cells": cells}, Judged(level, score, {"value": value, "wanted": wanted})

    def _wanted(
        self, subjects: tuple[str, ...], value: Floats, view: CoarseView, ctx: Context
    ) -> tuple[Floats, Floats]:
        """What the recipe asks of each, [subject, n], and how little is no change of it, [subject, 1]."""
        wanted, small = np.full(value.shape, np.nan), np.full((len(subjects), 1), 0.05)
        recipe = ctx.recipe
        feeders = [row for row, key in enumerate(subjects) if split_key(key)[0] == "feeder_setpoint"]
        for row, key in enumerate(subjects):
            role, at = split_key(key)
            if recipe is None:
                continue
            if role == "zone_setpoint":
                wanted[row] = recipe.zones.get(at, np.nan)
            elif role == "screw_speed_setpoint":
                wanted[row] = recipe.recipe.screw_speed_rpm or np.nan
                small[row] = 0.005 * (recipe.recipe.screw_speed_rpm or 0.0)
            elif role == "vacuum_setpoint":
                window = recipe.window_of(channel_key("vacuum", at))
                wanted[row] = np.nan if window is None or window.target is None else window.target
        if feeders and recipe is not None and recipe.shares:
            shares = np.array([recipe.shares.get(split_key(subjects[row])[1], 0.0) for row in feeders])
            wanted[feeders] = shares[:, None] * _scale(value[feeders], shares, recipe.recipe.rate_kg_h)
            # A trim moves feeders all the time, at constant shares: they count as standing while the shares do.
            small[feeders] = np.inf
        return wanted, small

    def _planned(
        self, subjects: tuple[str, ...], value: Floats, wanted: Floats, view: CoarseView, ctx: Context
    ) -> np.ndarray:
        """Screw speeds that were changed together with the rate, [subject, n]."""
        out = np.zeros(value.shape, bool)
        rate = ctx.recipe.recipe.rate_kg_h if ctx.recipe else None
        if rate and "screw_speed_setpoint" in subjects:
            row = subjects.index("screw_speed_setpoint")
            total = view.quantity("total_setpoint")
            out[row] = np.abs((total / rate) / (value[row] / wanted[row]) - 1.0) <= SAME_SPECIFIC_SHARE
        return out

    def _limits(self, subjects: tuple[str, ...], wanted: Floats) -> tuple[Floats, Floats, Floats]:
        """The three limits in the unit of each set-point, [subject, n]."""
        out = np.full((3, *wanted.shape), np.inf)
        for row, key in enumerate(subjects):
            role = split_key(key)[0]
            if role == "zone_setpoint":
                out[:, row] = np.array([[self.zone_note_c], [self.zone_c], [self.zone_soon_c]])
            elif role == "vacuum_setpoint":
                out[:, row] = np.array([[self.vacuum_mbar], [self.vacuum_mbar], [self.vacuum_soon_mbar]])
            else:
                near, far = (
                    (self.feeder_pct, self.feeder_soon_pct)
                    if role == "feeder_setpoint"
                    else (self.speed_pct, self.speed_soon_pct)
                )
                least = LEAST_FEED_STEP_KG_H if role == "feeder_setpoint" else 0.0
                both = np.fmax(near / 100 * np.abs(wanted[row]), least), np.fmax(far / 100 * np.abs(wanted[row]), least)
                out[0, row], out[1, row], out[2, row] = both[0], both[0], both[1]
        return out[0], out[1], out[2]

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """From what it should be to what it is."""
        role, at = split_key(subject)
        unit, value, wanted = ROLES[role].unit, facts["value"], facts["wanted"]
        label = {
            "zone_setpoint": f"zone {at}",
            "screw_speed_setpoint": "screw speed",
            "vacuum_setpoint": f"vacuum {at}",
            "feeder_setpoint": f"feeder {at}",
        }[role]
        shown = "°C" if unit == "C" else unit
        at_shares = ", by its share at today's total" if role == "feeder_setpoint" else ""
        return Explanation(
            f"{label} is set to {value:.4g} {shown}, the recipe says {wanted:.4g}{at_shares}",
            {1: 4, 2: 3, 3: 2}[level],
            "high",
            (Evidence(f"set-point of {label}", value, unit, wanted, None, subject),),
            (
                Cause("set by hand and left so", ("it has stood unchanged",) if role != "feeder_setpoint" else ()),
                "recipe not fully loaded, or another one",
                "recipe file is not the one in force",
            ),
            ("who changed it, and why", "the recipe on the line's own panel", "put it back or change the recipe"),
        )


def _scale(value: Floats, shares: Floats, rate_kg_h: float | None) -> Floats:
    """kg/h per percent of share that most feeders agree on, [n]; NaN where a set-point is missing or the line is off.

    Three feeders and more: the middle one. Two: the one that fits the recipe's rate, else the larger.
    """
    asked = np.flatnonzero(shares > 0)
    if not len(asked):
        return np.full(value.shape[1], np.nan)
    each = value[asked] / shares[asked, None]
    if len(asked) > 2:
        ordered = np.sort(each, axis=0)
        middle = (ordered[(len(asked) - 1) // 2] + ordered[len(asked) // 2]) / 2
        # Where two camps are left of an even number, the camp of the larger share is right.
        near = ordered[(len(asked) - 1) // 2] > 0.97 * ordered[len(asked) // 2]
        scale = np.where(near, middle, each[int(np.argmax(shares[asked]))])
    else:
        large = each[int(np.argmax(shares[asked]))]
        fits = np.abs(each / (rate_kg_h / 100.0) - 1.0) <= 0.01 if rate_kg_h else np.zeros(each.shape, bool)
        scale = np.where(fits.any(axis=0), (rate_kg_h or 0.0) / 100.0, large)
    whole = np.isfinite(value).all(axis=0)
    return np.where(whole & (scale > 0), scale, np.nan)
