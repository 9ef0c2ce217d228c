"""A quantity wanders from what it was, slowly, toward the edge of its window. Evidence only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import split_key
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, two_threshold
from monitor.levels import rule
from monitor.quantities.load import load_words
from monitor.records import Evidence, Family, shown_unit
from monitor.view import CoarseView

WEIGHT = 1 / 60
"""Weight of one 10 s cell in the moving mean: a memory of ten minutes."""

MOST_SIGMAS = 4.0
"""A cell further off than this pulls the mean no harder: an upset of minutes is not a drift."""


@dataclass(frozen=True)
class Drift:
    """Melt pressure, melt temperature or net torque wanders from what it was, toward the edge of its window.

    An operator would say: "it has been creeping since this morning". An exponentially weighted mean is held
    against an anchor learned from the first 20 steady minutes after `rest_s` unchanged. Limits use the spread of the
    moving mean under its measured lag-1 autocorrelation (Schmid 1997: variance lambda/(2-lambda) *
    (1+phi(1-lambda))/(1-phi(1-lambda))) together with that of the anchor itself. By simulation such a chart alone
    calls falsely in no 8 h run in a hundred at phi 0.5, in 5 at 0.9, in 12 at 0.95: so a statistic only adds
    evidence. It must also have gone 40 % of the way to the window's edge (`no_window_pct`, `no_window_c` where there
    is none), and the finding is priority 4.
    Look-alikes: the slide of torque and pressure in the first hour after a start, a new raw-material lot.
    A change of speed, rate or recipe starts it anew; missing cells are skipped. Memory: 120 cells a subject.
    """

    limit_sigmas: float = setting(5, 2, 12, "sigma of the moving mean")
    way_share: float = setting(0.4, 0.1, 1.0, "of the way to the window's edge")
    no_window_pct: float = setting(5, 0.5, 50, "% of the anchor, without a window")
    no_window_c: float = setting(4, 0.5, 50, "C, without a window")
    rest_s: float = setting(1800, 0, 7200, "s unchanged before the anchor is learned")
    on_s: float = setting(300, 10, 7200, "s")
    off_s: float = setting(600, 10, 7200, "s")

    name: ClassVar[str] = "drift"
    family: ClassVar[Family] = "drift"
    title: ClassVar[str] = "creeping away from where it was"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every melt pressure and melt temperature, and net torque."""
        load = ("net_torque",) if any(ctx.has(r) for r in ("torque", "motor_current", "drive_power")) else ()
        return load + tuple(
            key for key in ctx.line.channels if split_key(key)[0] in ("melt_pressure", "melt_temperature")
        )

    def channel(self, subject: str) -> str:
        """The quantity or channel itself."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Slow in, slow out."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No anchor."""
        count = len(subjects)
        return {
            "cells": np.full((count, 0), np.nan),
            "anchor": np.full(count, np.nan),
            "sigma": np.full(count, np.nan),
            "phi": np.full(count, np.nan),
            "mean": np.full(count, np.nan),
            "on": np.zeros(count, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a subject."""
        value = np.array([view.quantity(key) if key == "net_torque" else view.get(key) for key in subjects]).reshape(
            len(subjects), view.n
        )
        calm = view.in_phase("steady")
        forget = ~view.in_phase("steady", "settling", "unknown")
        learn = calm & (view.ages["unchanged"] >= self.rest_s)
        s, width = dict(state), ctx.cells(1200)
        mean_out, anchor_out, spread_out = (np.full(value.shape, np.nan) for _ in range(3))
        for i in range(view.n):
            if forget[i]:
                s = {**self.start(subjects, ctx), "on": s["on"]}
            elif calm[i]:
                if learn[i] and s["cells"].shape[1] < width:
                    s["cells"] = np.concatenate((s["cells"], value[:, i : i + 1]), axis=1)
                    if s["cells"].shape[1] == width:
                        s = _anchor(s)
                known = np.isfinite(value[:, i]) & np.isfinite(s["anchor"])
                step = np.clip(value[:, i] - s["mean"], -MOST_SIGMAS * s["sigma"], MOST_SIGMAS * s["sigma"])
                s["mean"] = np.where(known, s["mean"] + WEIGHT * step, s["mean"])
            mean_out[:, i], anchor_out[:, i] = s["mean"], s["anchor"]
            spread_out[:, i] = s["sigma"] * np.hypot(spread_of_mean(s["phi"]), spread_of_anchor(s["phi"], width))
        off = mean_out - anchor_out
        way = self._way(subjects, anchor_out, off, ctx)
        with np.errstate(invalid="ignore", divide="ignore"):
            sigmas = off / spread_out
            far, near = np.abs(off) >= way, np.abs(off) < 0.7 * way
        rises = far & (np.abs(sigmas) >= self.limit_sigmas) & calm
        on, on_state = two_threshold(state["on"], rises, near | forget)
        level = rule(on, np.isfinite(off), np.broadcast_to(calm, off.shape))
        facts = {"mean": mean_out, "anchor": anchor_out, "sigmas": sigmas}
        return {**s, "on": on_state}, Judged(level, np.abs(off) / way, facts)

    def _way(self, subjects: tuple[str, ...], anchor: Floats, off: Floats, ctx: Context) -> Floats:
        """How far off counts, [subject, n]: a share of the way to the window's edge on the side it moves."""
        out = np.full(anchor.shape, np.nan)
        for row, key in enumerate(subjects):
            window = ctx.recipe.window_of("torque" if key == "net_torque" else key) if ctx.recipe else None
            plain = (
                np.full(anchor.shape[1], self.no_window_c)
                if key.startswith("melt_temperature")
                else (self.no_window_pct / 100 * np.abs(anchor[row]))
            )
            base = ctx.line.drive.no_load_torque_pct if key == "net_torque" and ctx.has("torque") else 0.0
            logged = "torque" if key == "net_torque" else key
            if window is None or logged in ctx.line.relative_channels:
                out[row] = plain
                continue
            high, low = window.high or window.high_outer, window.low or window.low_outer
            up = plain if high is None else self.way_share * np.fmax(high - base - anchor[row], 0.2 * plain)
            down = plain if low is None else self.way_share * np.fmax(anchor[row] - (low - base), 0.2 * plain)
            out[row] = np.where(off[row] > 0, up, down)
        return out

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """From where to where."""
        role, at = split_key(subject)
        unit = {"net_torque": "%", "melt_pressure": "bar", "melt_temperature": "C"}[role]
        label = f"{role.replace('_', ' ')} {at}".strip()
        if subject == "net_torque":
            label, unit = load_words(ctx)
        elif subject in ctx.line.relative_channels:
            unit = "(unit not known)"
        way = "up" if facts["mean"] > facts["anchor"] else "down"
        sigma = None if not np.isfinite(facts["sigmas"]) else facts["sigmas"]
        return Explanation(
            f"{label} has crept {way} from {facts['anchor']:.1f} to {facts['mean']:.1f} {shown_unit(unit)}",
            4,
            "low",
            (Evidence(f"{label}, 10 min mean", facts["mean"], unit, facts["anchor"], sigma, subject),),
            {
                "melt_pressure": (
                    "screen blinding" if way == "up" else "thinner melt or screen let go",
                    "melt temperature",
                    "another raw-material lot",
                ),
                "melt_temperature": ("zones or cooling", "another raw-material lot", "probe"),
                "net_torque": ("another raw-material lot", "melt temperature", "feeder shares"),
            }[role],
            ("what else moved in the same hours", "raw-material lots", "screen age"),
        )


def _anchor(s: State) -> State:
    """Centre, spread and lag-1 autocorrelation of the anchor cells; the mean starts at the centre."""
    cells = s["cells"]
    known = np.isfinite(cells)
    enough = known.sum(axis=1) >= 0.8 * cells.shape[1]
    safe = np.where(enough[:, None], cells, 0.0)
    centre = np.nanmean(safe, axis=1)
    apart = np.where(np.isfinite(safe), safe - centre[:, None], 0.0)
    variance = (apart * apart).sum(axis=1) / np.fmax(known.sum(axis=1) - 1, 1)
    lagged = (apart[:, 1:] * apart[:, :-1]).sum(axis=1)
    measured = lagged / np.fmax((apart * apart).sum(axis=1), 1e-300)
    phi = np.clip(measured + (1 + 4 * measured) / cells.shape[1], 0.0, 0.99)  # Kendall 1954, value from memory
    variance = variance / np.fmax(1 - spread_of_anchor(phi, cells.shape[1]) ** 2, 0.2)
    centre = np.where(enough, centre, np.nan)
    return {
        **s,
        "anchor": centre,
        "mean": centre,
        "phi": phi,
        "sigma": np.sqrt(np.fmax(variance, (1e-4 * np.abs(np.where(enough, centre, 0.0))) ** 2)),
    }


def spread_of_anchor(phi: Floats, cells: int) -> Floats:
    """Standard deviation of the mean of so many cells in units of a cell's, for lag-1 autocorrelation phi."""
    return np.sqrt(np.fmin((1 + phi) / ((1 - phi) * cells), 1.0))


def spread_of_mean(phi: Floats) -> Floats:
    """Standard deviation of the moving mean in units of a cell's, for lag-1 autocorrelation phi (Schmid 1997)."""
    kept = phi * (1 - WEIGHT)
    return np.sqrt(WEIGHT / (2 - WEIGHT) * (1 + kept) / (1 - kept))
