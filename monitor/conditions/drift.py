"""A quantity wanders from what it was, slowly, toward the edge of its window. Evidence only."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from ingest.roles import split_key
from monitor import pressure_path, recent_level
from monitor.conditions.machine_load import judging_sensors
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.drift_dating import BINS_AN_HOUR, LEAST_BINS, step_at, trend
from monitor.drift_dating import began as dated
from monitor.drift_words import (
    HOTTER,
    RUNS_EMPTIER,
    RUNS_EMPTIER_UNSEEN,
    began_words,
    causes_of,
    clock_words,
    forecast_words,
    heats_itself,
    leads,
    runs_emptier,
)
from monitor.exact import Bools, Floats
from monitor.levels import rule
from monitor.quantities.load import load_words
from monitor.records import Evidence, Family, shown_unit
from monitor.view import CoarseView

BIN_S = 600
ANCHOR_BINS = 3
RING_BINS = 24
SPREAD_OF_DIFFERENCE = 0.947
"""Standard deviation of the difference of two medians of three, in that of one value (0.4487 of its variance each)."""
BACK_SHARE, BACK_S = 0.3, 300.0
"""Of the way: a quantity whose mean of so long is this near to where it was is back. Common practice, no source."""

WITNESS_SHARE = 0.6
"""Of the sigmas that a quantity must have gone: enough for another one that only bears witness to it."""

MEDIAN_TO_MEAN = 1.2533
"""A median scatters sqrt(pi / 2) times as much as a mean of normal readings."""
MAD_TO_SIGMA = 1.4826
FACTS = (
    "mean", "anchor", "sigmas", "slope", "slope_low", "slope_high", "edge", "step_h", "hours", "began_h", "together",
    "load_ln", "pressure_ln", "melt_c",
)  # fmt: skip


@dataclass(frozen=True)
class Drift:
    """Melt pressure, melt temperature or net torque wanders from what it was, toward the edge of its window.

    An operator would say: "it has been creeping since this morning". Medians of 10 min are held against an anchor,
    the median of the first three after `rest_s` unchanged. The newest three must lie `limit_sigmas` off; sigma is
    that of a 10 min median under the channel's measured autocorrelation (integral time, Sokal 1997), or of medians
    from one to the next if that is more, and counts the anchor's own uncertainty. With everything known, five sigma
    are an in-control run length of about a million medians; with an anchor of half an hour it is less, so a statistic
    only adds evidence: the quantity must also have gone 40 % of the way to the window's edge (`no_window_pct`,
    `no_window_c` where there is none), and either another quantity must have moved with it or it must have gone
    `alone_share` of the way; half of `way_share` is enough for a melt temperature while the melt pressure has gone the
    other way, and for that pressure while net torque has, by three sigma, as of a melt that itself grows hotter by the
    screws' work or colder. The finding is priority 4; 3 where torque has lost clearly more than pressure: less and less
    reaches the screws. Told with it: Theil-Sen trend of the last four hours with its 95 % interval, when it would reach
    the edge, whether it stepped rather than crept, and since when (drift_dating). Behind a melt pump the discharge is
    the pressure that shows the melt.
    Look-alikes: the slide of torque and pressure in the first hour after a start, a new raw-material lot.
    A change of speed, rate or recipe starts it anew; missing cells are skipped. Memory: 24 medians and 210 cells a
    subject.
    """

    limit_sigmas: float = setting(5, 2, 12, "sigma of the difference")
    way_share: float = setting(0.4, 0.1, 1.0, "of the way to the window's edge")
    alone_share: float = setting(0.6, 0.1, 1.0, "of the way, without a second witness")
    no_window_pct: float = setting(5, 0.5, 50, "% of the anchor, without a window")
    no_window_c: float = setting(4, 0.5, 50, "C, without a window")
    rest_s: float = setting(1800, 0, 7200, "s unchanged before the anchor is learned")
    on_s: float = setting(300, 10, 7200, "s")
    off_s: float = setting(600, 10, 7200, "s")

    name: ClassVar[str] = "drift"
    family: ClassVar[Family] = "drift"
    title: ClassVar[str] = "creeping away from where it was"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power|melt_pressure|melt_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe",)
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
        return {
            "cells": np.full((len(subjects), 0), np.nan),
            "calm": np.zeros(0, bool),
            "lately": recent_level.start(len(subjects), ctx.cells(BACK_S), 0),
            **_no_anchor(len(subjects)),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a subject. Between the ends of 10 min bins nothing changes."""
        count, n, width = len(subjects), view.n, ctx.cells(BIN_S)
        value = np.array([view.quantity(key) if key == "net_torque" else view.get(key) for key in subjects])
        value = value.reshape(count, n)
        calm = view.in_phase("steady")
        forget = ~view.in_phase("steady", "settling", "unknown")
        lead, pending = (view.t0 // view.step) % width, state["cells"].shape[1]
        rested = calm & (view.ages["unchanged"] >= self.rest_s)
        all_calm = np.concatenate((np.zeros(lead - pending, bool), state["calm"], rested))
        whole = len(all_calm) // width
        joined = np.concatenate((state["cells"], value), axis=1)
        spare = len(all_calm) - joined.shape[1]
        run = _Run(self, {k: v for k, v in state.items() if k not in ("cells", "calm", "lately")}, subjects, ctx)
        for cell in np.flatnonzero(forget & ~np.concatenate(([False], forget[:-1]))).tolist():
            run.forgets.append(cell)
        for number in range(whole):
            first, end = number * width, (number + 1) * width
            run.forget_before(end - lead)
            if all_calm[first:end].all():
                run.bin(
                    joined[:, first - spare : end - spare], end - lead, (view.t0 // view.step - lead) // width + number
                )
        run.forget_before(n + 1)
        left = min(len(all_calm) - whole * width, joined.shape[1])
        after = {
            **run.s,
            "cells": joined[:, joined.shape[1] - left :].copy(),
            "calm": all_calm[len(all_calm) - left :].copy(),
        }
        on, facts, score = run.cells(n)
        known = np.isfinite(value) & np.isfinite(facts["sigmas"])
        # Medians show for ten minutes and more what is over by now.
        after["lately"], lately = recent_level.advance(state["lately"], value)
        with np.errstate(invalid="ignore"):
            on &= ~(np.abs(lately - facts["anchor"]) < BACK_SHARE * np.abs(facts["mean"] - facts["anchor"]))
        return after, Judged(rule(on, known, np.broadcast_to(calm, value.shape)), score, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """From where to where, how fast, and when it would be at the edge."""
        role, at = split_key(subject)
        unit = {"net_torque": "%", "melt_pressure": "bar", "melt_temperature": "C"}[role]
        label = f"{role.replace('_', ' ')} {at}".strip()
        if subject == "net_torque":
            label, unit = load_words(ctx)
        elif subject in ctx.line.relative_channels:
            unit = "(unit not known)"
        way = "up" if facts["mean"] > facts["anchor"] else "down"
        stepped = bool(np.isfinite(facts["step_h"]))
        moved = f"stepped {way}" if stepped else f"crept {way}"
        base = ctx.line.drive.no_load_torque_pct if subject == "net_torque" and ctx.has("torque") else 0.0
        summary = f"{label} has {moved} from {facts['anchor']:.1f} to {facts['mean']:.1f} {shown_unit(unit)}"
        summary += clock_words(facts["step_h"]) if stepped else began_words(facts["began_h"])
        summary += "" if stepped else forecast_words(facts, unit, base)
        evidence = [
            Evidence(f"{label}, newest half hour", facts["mean"], unit, facts["anchor"], facts["sigmas"], subject)
        ]
        # Over a step, and where the last minutes moved it, the trend of hours says nothing.
        if not stepped and facts["slope"] * facts["sigmas"] > 0:
            evidence.append(
                Evidence(f"{label}, trend of the last {facts['hours']:.1f} h", facts["slope"], f"{unit}/h", 0.0)
            )
        if role == "melt_temperature" and np.isfinite(facts["pressure_ln"]):
            evidence.append(Evidence("melt pressure meanwhile", 100 * math.expm1(facts["pressure_ln"]), "%"))
        less = runs_emptier(facts) and role in ("net_torque", "melt_pressure")
        emptier = RUNS_EMPTIER if ctx.has("feeder_rate") or ctx.has("line_rate") else RUNS_EMPTIER_UNSEEN
        return Explanation(
            summary,
            3 if less else 4,
            "low",
            tuple(evidence),
            ((emptier,) if less else ())
            + ((HOTTER,) if heats_itself(facts, role) and (way == "down") == (role == "melt_pressure") else ())
            + causes_of(role, way, stepped, facts),
            ("what else moved in the same hours", "raw-material lots", "screen age"),
            moved={**_moved(role, facts), "leads": float(leads(facts, role)), "began_h": facts["began_h"]},
        )


def _moved(role: str, facts: dict[str, float]) -> dict[str, float]:
    what = {"net_torque": "torque", "melt_pressure": "pressure"}.get(role)
    if what is None:
        return {"melt_c": facts["mean"] - facts["anchor"]}
    if not (facts["mean"] > 0 and facts["anchor"] > 0):
        return {}
    return {what: math.log(facts["mean"] / facts["anchor"])}


def _no_anchor(count: int) -> State:
    return {
        "first": np.full((count, 0), np.nan),
        "ring": np.full((count, RING_BINS), np.nan),
        "times": np.full(RING_BINS, np.nan),
        "bins": 0,
        "anchor": np.full(count, np.nan),
        "sigma": np.full(count, np.nan),
        "on": np.zeros(count, bool),
        "began": np.full(count, np.nan),
        "said": np.full(count, np.nan),
        "stepped": np.full(count, np.nan),
        "facts": np.full((len(FACTS), count), np.nan),
        "score": np.full(count, np.nan),
    }


class _Run:
    """What is known from which cell on, while bins end and changes come."""

    def __init__(self, settings: Drift, state: State, subjects: tuple[str, ...], ctx: Context) -> None:
        self.settings, self.s, self.subjects, self.ctx = settings, state, subjects, ctx
        # What a pump carries at one speed shows the melt; ahead of it its control holds what the screws build.
        behind = tuple(pressure_path.groups(ctx, "pump_discharge", known_unit=False).values())
        self.pressures = tuple(f"melt_pressure:{at}" for group in (behind or judging_sensors(ctx))[:1] for at in group)
        self.forgets: list[int] = []
        self.since = [0]
        self.rows = [(state["on"], state["facts"], state["score"])]

    def _holds_from(self, cell: int) -> None:
        self.since.append(cell)
        self.rows.append((self.s["on"], self.s["facts"], self.s["score"]))

    def forget_before(self, cell: int) -> None:
        """Changes up to there: no anchor any more."""
        while self.forgets and self.forgets[0] < cell:
            self.s = _no_anchor(len(self.subjects))
            self._holds_from(self.forgets.pop(0))

    def bin(self, cells: Floats, end: int, number: int) -> None:
        """Take the 10 min into account whose last cell lies before `end`. number: of the bin on the absolute grid."""
        s = dict(self.s)
        s["ring"] = np.concatenate((s["ring"][:, 1:], _medians(cells)[:, None]), axis=1)
        s["times"] = np.append(s["times"][1:], float(number))
        s["bins"] = min(s["bins"] + 1, RING_BINS)
        if s["first"].shape[1] < ANCHOR_BINS * cells.shape[1] and np.isnan(s["anchor"]).all():
            s["first"] = np.concatenate((s["first"], cells), axis=1)
            if s["bins"] == ANCHOR_BINS:
                s["anchor"] = _middle_of_three(s["ring"][:, -ANCHOR_BINS:])
                s["sigma"] = _sigma_of_bin(s["first"], cells.shape[1])
                s["first"] = s["first"][:, :0]
        self.s = s
        if s["bins"] >= LEAST_BINS:
            self._judge()
            self._holds_from(end)

    def _judge(self) -> None:
        s, settings = self.s, self.settings
        mean = _middle_of_three(s["ring"][:, -3:])
        moved = mean - s["anchor"]
        ring = s["ring"][:, RING_BINS - s["bins"] :]
        between = _medians(np.abs(ring[:, 1:] - ring[:, :-1])) * (MAD_TO_SIGMA / math.sqrt(2))
        sigma = SPREAD_OF_DIFFERENCE * np.fmax(s["sigma"], between)
        distance, edge = _distance(settings, self.subjects, s["anchor"], moved, self.ctx)
        with np.errstate(invalid="ignore", divide="ignore"):
            sigmas, way = moved / sigma, np.abs(moved) / distance
            sure = np.abs(sigmas) >= settings.limit_sigmas
            moving = sure & (way >= settings.way_share / 2)
            together = moving.sum() - moving
            least = np.where(together > 0, settings.way_share, settings.alone_share)
            least[self._of_hotter_melt(sure, sigmas)] = settings.way_share / 2
            rises, near = sure & (way >= least), way < 0.7 * np.fmin(least, settings.way_share)
        on, times = rises | (s["on"] & ~near), s["times"][-s["bins"] :]
        began, said, stepped = s["began"].copy(), s["said"].copy(), s["stepped"].copy()
        facts = np.full((len(FACTS), len(self.subjects)), np.nan)
        facts[:3] = mean, s["anchor"], sigmas
        facts[FACTS.index("edge")] = edge
        facts[FACTS.index("together")] = together
        facts[-3:] = self._machine(mean)[:, None]
        for row in np.flatnonzero(on).tolist():
            facts[3:6, row], (late, facts[8, row]) = trend(times, ring[row])
            if not s["on"][row]:
                said[row] = times[-1]
                began[row] = dated(times, ring[row], s["anchor"][row], sigma[row], moved[row])
            if not began[row] < times[0]:
                stepped[row] = step_at(times, ring[row], moved[row], late)
        # Before it was first said, however often it is looked at again.
        facts[FACTS.index("began_h")] = (said - began + 1) / BINS_AN_HOUR
        facts[FACTS.index("step_h")] = np.maximum(said - stepped + 1, 0.0) / BINS_AN_HOUR
        stood = {"began": began, "said": said, "stepped": stepped}
        self.s = {**s, **stood, "on": on, "facts": facts, "score": way / settings.way_share}

    def _of_hotter_melt(self, sure: Bools, sigmas: Floats) -> Bools:
        """Melt temperatures while the pressure that judges the screws goes the other way, and that pressure while net
        torque does: the melt itself is hotter and thinner, or colder and thicker, and no probe alone; [subject]."""
        far = np.where(np.abs(sigmas) >= WITNESS_SHARE * self.settings.limit_sigmas, np.sign(sigmas), 0.0)
        judges = np.array([key in self.pressures for key in self.subjects])
        pressure = far[int(np.argmax(judges))] if judges.any() else 0.0
        load = far[0] if self.subjects[:1] == ("net_torque",) else 0.0
        of_melt = [key.startswith("melt_temperature") for key in self.subjects]
        witness = np.where(of_melt, pressure, np.where(judges, load, 0.0))
        return sure & (witness != 0.0) & (np.sign(sigmas) == -witness)

    def _machine(self, mean: Floats) -> Floats:
        """How far net torque and the pressure that judges the screws have gone from their anchors, in ln, and a melt
        temperature, C, [3]."""
        out = np.full(3, np.nan)
        with np.errstate(invalid="ignore", divide="ignore"):
            gone = np.log(np.where(mean > 0, mean, np.nan) / self.s["anchor"])
        for row, key in enumerate(self.subjects):
            hot = key.startswith("melt_temperature")
            place = 2 if hot else 0 if key == "net_torque" else 1 if key in self.pressures else None
            if place is not None and not np.isfinite(out[place]):
                out[place] = mean[row] - self.s["anchor"][row] if hot else gone[row]
        return out

    def cells(self, n: int) -> tuple[NDArray[np.bool_], dict[str, Floats], Floats]:
        """Repeated over the cells each holds for."""
        spans = np.diff(np.minimum([*self.since, n], n))
        on, facts, score = (np.array(part) for part in zip(*self.rows, strict=True))
        spread = np.repeat(facts.transpose(1, 2, 0), spans, axis=2)
        return (
            np.repeat(on.T, spans, axis=1),
            dict(zip(FACTS, spread, strict=True)),
            np.repeat(score.T, spans, axis=1),
        )


def _middle_of_three(values: Floats) -> Floats:
    """Median of each row of three; NaN where one is not known."""
    a, b, c = values.T
    return np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))


def _medians(cells: Floats) -> Floats:
    """Median of each row; NaN where fewer than 60 % are known."""
    count = np.isfinite(cells).sum(axis=1)
    ordered, rows = np.sort(cells, axis=1), np.arange(len(cells))
    last = np.fmax(count, 1)
    middle = (ordered[rows, (last - 1) // 2] + ordered[rows, last // 2]) / 2
    return np.where(count >= 0.6 * cells.shape[1], middle, np.nan)


def _sigma_of_bin(cells: Floats, width: int) -> Floats:
    """Standard deviation of a median of `width` cells like these, under their autocorrelation; [subject]."""
    from monitor.statistics.autocorrelation import lag1_for_design
    from monitor.statistics.moments import mean_and_sd

    out = np.full(len(cells), np.nan)
    for row, own in enumerate(cells):
        centre, spread = mean_and_sd(own)
        phi = lag1_for_design(own)
        phi = 0.0 if np.isnan(phi) else phi
        share = min((1 + phi) / ((1 - phi) * width), 1.0)
        out[row] = max(MEDIAN_TO_MEAN * spread * np.sqrt(share), 1e-4 * abs(centre))
    return out


def _distance(
    settings: Drift, subjects: tuple[str, ...], anchor: Floats, moved: Floats, ctx: Context
) -> tuple[Floats, Floats]:
    """The whole way to the window's edge on the side it moves, and that edge (NaN without a window); [subject]."""
    way, edge = np.full(len(subjects), np.nan), np.full(len(subjects), np.nan)
    for row, key in enumerate(subjects):
        window = ctx.recipe.window_of("torque" if key == "net_torque" else key) if ctx.recipe else None
        plain = (
            settings.no_window_c
            if key.startswith("melt_temperature") and key not in ctx.line.relative_channels
            else settings.no_window_pct / 100 * abs(anchor[row])
        ) / settings.way_share
        way[row] = plain
        logged = "torque" if key == "net_torque" else key
        if window is None or logged in ctx.line.relative_channels:
            continue
        base = ctx.line.drive.no_load_torque_pct if key == "net_torque" and ctx.has("torque") else 0.0
        high, low = window.high or window.high_outer, window.low or window.low_outer
        limit = high if moved[row] > 0 else low
        if limit is not None:
            edge[row] = limit - base
            way[row] = max(abs(edge[row] - anchor[row]), 0.2 * plain)
    return way, edge
