"""Quantities that each look right and do not fit together as they did in the reference. Evidence only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, cell_means, ewma, run_length
from monitor.learned_quantities import learned_cells
from monitor.levels import rule
from monitor.records import Evidence, Family
from monitor.reference.model import Together
from monitor.reference.together import LARGEST_RESIDUAL, components_of
from monitor.statistics.principal import contributions, t2_and_spe
from monitor.view import CoarseView

NAMED = 3
MINUTE_S = 60


@dataclass(frozen=True)
class OutOfPattern:
    """Several quantities at once are not as they were together in the reference.

    An operator would say: "nothing is out, but it is not running as it used to". Every minute the distance of each
    quantity from its reference, in units of its scatter there, goes into a moving mean of five minutes and on to the
    principal components of the reference; T2 (inside their plane) or SPE (off it) must pass its limit for `hold_s`.
    Limits: for 2000 h in control, from reference data not used for the components (Box 1954), never below the largest
    value seen there, under the statistic's own autocorrelation. A score alone is not said: a quantity must stand
    `own_sigmas` off by itself as the second witness, and up to three are named by their contribution. Priority 4.
    Look-alikes: a new raw-material lot; season, where the reference saw only one. Only with a reference that holds
    here; outside its range nothing is judged. Missing quantities count as normal; with more than a fifth missing
    nothing is judged. Memory: one minute of cells and one mean a quantity.
    """

    hold_s: float = setting(900, 60, 14400, "s")
    own_sigmas: float = setting(3, 1, 12, "scatters of a minute")
    limit_factor: float = setting(1, 0.5, 10, "times the limit of the reference")
    rest_s: float = setting(1800, 0, 7200, "s unchanged before it is judged")
    off_s: float = setting(600, 10, 7200, "s")

    name: ClassVar[str] = "out_of_pattern"
    family: ClassVar[Family] = "multivariate"
    title: ClassVar[str] = "not running as in the reference"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("reference",)
    sharpened_by: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line as a whole."""
        return ("line",)

    def channel(self, subject: str) -> str:
        """None of its own: the evidence names them."""
        return ""

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The hold is part of the rule, which speaks by minutes."""
        return Timing(10, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Everything as in the reference."""
        return {"cells": None, "calm": np.zeros(0, bool), "mean": None, "over": 0, "facts": None}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Between the ends of minutes nothing changes."""
        together = ctx.reference.reference.together if ctx.reference is not None else None
        if together is None:
            nothing = np.full((1, view.n), np.nan)
            level = rule(np.zeros((1, view.n), bool), np.isfinite(nothing), np.zeros((1, view.n), bool))
            facts = dict.fromkeys(_fact_names(), nothing)
            return self.start(subjects, ctx), Judged(level, nothing, facts)
        calm = view.in_phase("steady") & (view.ages["unchanged"] >= self.rest_s)
        width = ctx.cells(MINUTE_S)
        residual = _residuals(together, view, ctx)
        lead = (view.t0 // view.step) % width
        pending = np.empty((residual.shape[0], 0)) if state["cells"] is None else state["cells"]
        missed = max(0, lead - pending.shape[1])
        blank = np.full((len(residual), missed), np.nan)
        cells = np.concatenate((blank, pending, residual), axis=1)
        all_calm = np.concatenate((np.zeros(missed, bool), state["calm"], calm))
        whole = len(all_calm) // width
        minute = cell_means(cells[:, : whole * width], width)
        good = all_calm[: whole * width].reshape(whole, width).all(axis=1)
        s = {**state, "cells": cells[:, whole * width :].copy(), "calm": all_calm[whole * width :].copy()}
        now = np.full(len(_fact_names()), np.nan) if s["facts"] is None else s["facts"]
        rows, ends = [now], [0]
        known = np.isfinite(minute).mean(axis=0) >= 0.8 if whole else np.zeros(0, bool)
        for part in _stretches(good & known):
            if not (good & known)[part.start]:
                s["mean"], s["over"] = None, 0
                rows.append(np.full(len(now), np.nan))
                ends.append((part.start + 1) * width - lead)
                continue
            s, made = self._minutes(s, np.where(np.isfinite(minute[:, part]), minute[:, part], 0.0), together)
            rows += list(made)
            ends += [(place + 1) * width - lead for place in range(part.start, part.stop)]
        s["facts"] = rows[-1]
        spans = np.diff(np.minimum([*ends, view.n], view.n))
        held = np.repeat(np.array(rows).T, spans, axis=1)
        facts = {name: row[None, :] for name, row in zip(_fact_names(), held, strict=True)}
        score = facts["score"]
        level = rule(facts["says"] == 1, np.isfinite(score), calm)
        return s, Judged(level, score, facts)

    def _minutes(self, s: State, minute: Floats, together: Together) -> tuple[State, Floats]:
        """Facts of some minutes in a row, [minute, fact]."""
        before = np.zeros(len(minute)) if s["mean"] is None else s["mean"]
        mean, after = ewma(before, np.clip(minute, -LARGEST_RESIDUAL, LARGEST_RESIDUAL), together.weight)
        made = components_of(together)
        t2, spe = t2_and_spe(np.ascontiguousarray(mean.T), made)
        score = np.maximum(t2 / together.t2_limit, spe / together.spe_limit) / self.limit_factor
        witness = np.abs(mean).max(axis=0) >= self.own_sigmas
        over, last = run_length(np.array([s["over"]]), (score >= 1)[None, :])
        says = (over[0] * MINUTE_S >= self.hold_s) & witness
        facts = np.full((mean.shape[1], len(_fact_names())), np.nan)
        facts[:, 0], facts[:, 1], facts[:, 2], facts[:, 3] = score, says, t2, spe
        for place in np.flatnonzero(score >= 1).tolist():
            inside = t2[place] / together.t2_limit >= spe[place] / together.spe_limit
            facts[place, 4:] = _named(mean[:, place].copy(), bool(inside), together)
        return {**s, "mean": after, "over": int(last[0])}, facts

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which quantities, and which way."""
        together = ctx.reference.reference.together if ctx.reference is not None else None
        named = []
        for place in range(NAMED):
            which, own, share = (facts[f"{what}_{place}"] for what in ("which", "own", "share"))
            if together is not None and np.isfinite(which) and (place == 0 or share >= 0.1):
                named.append((together.names[int(which)], own, share))
        words = ", ".join(f"{_label(name)} {'high' if own > 0 else 'low'}" for name, own, _ in named)
        evidence = tuple(
            Evidence(
                f"{_label(name)} in scatters of its reference; {100 * share:.0f} % of the distance",
                own, "", 0.0, own, name,
            )
            for name, own, share in named
        )  # fmt: skip
        scores = (
            Evidence("T2 of the components of the reference", facts["t2"], "", together and together.t2_limit),
            Evidence("SPE, squared distance from them", facts["spe"], "", together and together.spe_limit),
        )
        return Explanation(
            f"does not run as in the reference: {words}",
            4,
            "low",
            (*evidence, *scores),
            ("another raw-material lot", "a sensor that has moved", "wear or deposits since the reference"),
            ("the quantities named, beside each other", "raw-material lots", "whether the reference still holds"),
        )


def _fact_names() -> tuple[str, ...]:
    named = (f"{what}_{place}" for place in range(NAMED) for what in ("which", "own", "share"))
    return ("score", "says", "t2", "spe", *named)


def _label(name: str) -> str:
    return name.replace("_", " ").replace(":", " ")


def _residuals(together: Together, view: CoarseView, ctx: Context) -> Floats:
    """Distance from the reference in minute scatters, [quantity, n]; NaN where the reference does not hold."""
    normals = {normal.name: normal for normal in ctx.reference.normals} if ctx.reference is not None else {}
    values = learned_cells(together.names, view, view.quantities)
    out = np.full(values.shape, np.nan)
    for row, name in enumerate(together.names):
        if name in view.leans:
            expected, _ = view.expectation(name)
            with np.errstate(invalid="ignore", divide="ignore"):
                distance = (values[row] - expected) / normals[name].spread(expected, minute=True)
            out[row] = np.where(view.leans[name], distance, np.nan)
    return out


def _stretches(good: np.ndarray) -> list[slice]:
    """Runs of minutes that count and single minutes that do not."""
    out: list[slice] = []
    for place, holds in enumerate(good.tolist()):
        if holds and out and good[out[-1].start]:
            out[-1] = slice(out[-1].start, place + 1)
        else:
            out.append(slice(place, place + 1))
    return out


def _named(mean: Floats, inside: bool, together: Together) -> Floats:
    """The largest contributors to T2 (`inside` the plane) or SPE: which, own distance, share of the whole; flat."""
    to_t2, to_spe = contributions(mean, components_of(together))
    parts = to_t2 if inside else to_spe
    total = float(np.fmax(parts, 0).sum())
    out = np.full(3 * NAMED, np.nan)
    for place, which in enumerate(np.argsort(-parts, kind="stable")[:NAMED].tolist()):
        out[3 * place : 3 * place + 3] = which, mean[which], parts[which] / total if total > 0 else np.nan
    return out
