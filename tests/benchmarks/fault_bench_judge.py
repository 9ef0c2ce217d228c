"""Judges a batch of simulated runs, as their plain and their rich logs give them, and says what came of each case."""

from __future__ import annotations

import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from monitor.core import Monitor
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.records import Finding, findings
from sample_logs.fault_scenes import scene_of
from sample_logs.plant import Plant
from sample_logs.scenario import DEFAULT_START_NS
from sample_logs.simulate import SimulatedRuns
from tests.benchmarks.fault_bench_answers import (
    EARLY_S,
    NS,
    channel_right,
    family_right,
    first_cause_right,
    in_time,
    may_answer,
)
from tests.benchmarks.fault_bench_cases import RUN_S, Batch, BenchPlant, Case
from tests.benchmarks.fault_bench_visible import stands_out_s
from tests.benchmarks.fault_bench_window import window_left_s

SAME_S = 180.0
"""What a run free of faults says within so many seconds of the same is not the fault's doing."""


@dataclass(frozen=True)
class Outcome:
    """What came of one case in one log.

    possible_s: when it first stood out of the noise of some logged channel (inf: never, 'not visible').
    found: an accepted family at its place, in time; note_only: at priority 4 alone. delay_s: to the first such word.
    first: family, condition and channel said first (priority 1 to 3, not folded under another); first_cause its
    likeliest cause; first_right, channel_right: of that one and of the first accepted one.
    fed: first of starved and flooded that was said while it lasted, both where it said that both fit, else neither.
    inner_s, outer_s: when a recipe window was left because of it, by its inner and its outer limit (inf: never).
    on_delay_s: how long the rule that found it must have held before it may speak; the shorter where it has two.
    watched: whether any rule that may answer has the channels it needs; where none has, coverage says so beforehand.
    """

    seed: int
    plant: int
    fault: str
    kind: str
    log: str
    size: str
    severity: float
    subject: str
    cadence_s: float
    possible_s: float
    found: bool
    note_only: bool
    delay_s: float
    first: str
    first_cause: str
    first_right: bool
    channel_right: bool
    fed: str
    said: tuple[str, ...]
    inner_s: float
    outer_s: float
    on_delay_s: float = 0.0
    watched: bool = True
    crash: str = ""


@dataclass(frozen=True)
class Clean:
    """What was said in a run free of faults: condition and channel of every priority 1 to 3 not folded.
    crash: what the monitor broke with instead."""

    seed: int
    plant: int
    kind: str
    log: str
    hours: float
    false: tuple[str, ...]
    crash: str = ""


def judge_batch(batch: Batch, logs: Sequence[str]) -> tuple[list[Outcome], list[Clean]]:
    """Simulates and judges one batch."""
    runs = batch.simulate()
    outcomes: list[Outcome] = []
    cleans: list[Clean] = []
    members = [case.plant for case in batch.cases] + [plant for plant, _ in batch.free]
    for log in logs:
        seen = runs.logged_as([getattr(plant, log) for plant in members])
        place = {(p.number, scene): len(batch.cases) + j for j, (p, scene) in enumerate(batch.free)}
        free = {key: said_in(seen, run) for key, run in place.items()}
        for plant, scene in batch.free:
            said, crash = free[plant.number, scene]
            false = [f for f in said if counts(f) and not _no_data(f, plant)]
            words = tuple(f"{f.last.condition} {f.last.channel}" for f in false)
            if scene == "steady":
                cleans.append(Clean(plant.seed, plant.number, plant.whole.kind, log, RUN_S / 3600.0, words, crash))
        for i, case in enumerate(batch.cases):
            key = (case.plant.number, scene_of(case.fault.kind))
            pair = seen.plants[i], case.fault, seen.shown[i], seen.shown[place[key]]
            outcomes.append(_outcome(case, log, seen, i, free[key][0], stands_out_s(*pair), window_left_s(*pair)))
    return outcomes, cleans


def armed_on(plant: Plant) -> list[tuple[str, str, str, float]]:
    """Family, condition, channel and on-delay in seconds (the shorter where it has two) of every rule that watches a
    line: what `evenmelt coverage` tells its people of."""
    monitor = Monitor(Line.model_validate(plant.line), [Recipe.model_validate(plant.recipe)])
    return [
        (
            armed.condition.family,
            armed.condition.name,
            armed.condition.channel(subject),
            delays.soonest * plant.cadence_s * (monitor.width if armed.condition.grid == "coarse" else 1),
        )
        for armed in monitor.arming.arm(next(iter(monitor.recipes)))
        for subject, delays in zip(armed.subjects, armed.delays, strict=True)
    ]


def said_in(runs: SimulatedRuns, run: int, recipes: Sequence[dict[str, Any]] = ()) -> tuple[list[Finding], str]:
    """Every finding of one run, judged in one go with the settings as committed, and what the monitor broke with.
    recipes: further ones that the run's notes may call for."""
    plant = runs.plants[run]
    known = [Recipe.model_validate(recipe) for recipe in (plant.recipe, *recipes)]
    try:
        monitor = Monitor(Line.model_validate(plant.line), known)
        state, step = monitor.advance(monitor.start(), runs.block(run))
        return findings([*step.records, *monitor.finish(state)]), ""
    except Exception as error:  # a bench that stops tells nothing of the other cases; every crash is printed
        at = traceback.extract_tb(error.__traceback__)[-1]
        return [], f"{type(error).__name__} at {at.name}, {at.filename.rsplit('/', 1)[-1]}:{at.lineno}: {error}"


def _called(finding: Finding) -> str:
    """Starved, flooded, or both where the finding itself says that both fit."""
    return "both" if "both fit" in finding.last.summary else finding.last.family


def counts(finding: Finding) -> bool:
    """Whether somebody is called for it: priority 1 to 3, not folded under another."""
    return finding.last.priority < 4 and not finding.last.part_of


def _no_data(finding: Finding, plant: BenchPlant) -> bool:
    """Whether it says that there is no data while there is none: right, not false."""
    at = (finding.last.since - DEFAULT_START_NS) / NS
    gaps = (e for e in plant.events if e.kind == "gap")
    return finding.last.family == "data" and any(e.at_s - 60.0 <= at <= e.at_s + e.duration_s for e in gaps)


def _outcome(
    case: Case,
    log: str,
    runs: SimulatedRuns,
    run: int,
    free: list[Finding],
    possible_s: float,
    left_s: tuple[float, float],
) -> Outcome:
    fault, whole = case.fault, case.plant.whole
    truth = runs.truth(run)[0]
    start, end = truth.start_ns, truth.end_ns
    usual = {(f.last.condition, f.last.channel): f.last.since for f in free}

    def new(f: Finding) -> bool:
        before = usual.get((f.last.condition, f.last.channel))
        return before is None or abs(before - f.last.since) > SAME_S * NS

    every, crash = said_in(runs, run)
    said = [f for f in every if f.last.since >= start - EARLY_S * NS and new(f)]
    said.sort(key=lambda f: (f.first_decided_at, f.last.priority))
    armed = armed_on(runs.plants[run])
    accepted = [f for f in said if family_right(f, fault) and in_time(f, start, end)]
    by = [accepted[0].last.condition, accepted[0].last.channel] if accepted else []
    waits = [on_delay_s for _, *rule, on_delay_s in armed if rule == by]
    heard = [f for f in said if counts(f) and in_time(f, start, end)]
    first = heard[0] if heard else None
    fed = [f for f in said if f.last.family in ("starved", "flooded") and start <= f.first_decided_at <= end]
    allowed_s = 60.0 * float(whole.recipe["recipe"]["hot_hold_min"]) if fault.kind == "hot_hold" else 0.0
    allowed_s = (
        allowed_s if allowed_s < (end - start) / NS else np.inf
    )  # the run ends before the allowed minutes are over
    return Outcome(
        case.plant.seed, case.plant.number, fault.kind, whole.kind, log, case.size, fault.severity, fault.subject,
        whole.cadence_s, max(possible_s, allowed_s), bool(accepted), bool(accepted) and accepted[0].last.priority == 4
        and all(f.last.priority == 4 for f in accepted),
        (accepted[0].first_decided_at - start) / NS if accepted else np.inf,
        f"{first.last.family}/{first.last.condition}/{first.last.channel}" if first else "",
        first.last.causes[0].text if first and first.last.causes else "",
        first is not None and first_cause_right(first, fault),
        bool(accepted) and channel_right(accepted[0], fault), _called(fed[0]) if fed else "neither",
        tuple(sorted({f"{f.last.family}/{f.last.condition}" for f in heard})), *left_s,
        min(waits, default=0.0),
        any(may_answer(family, channel, fault) for family, _, channel, _ in armed), crash,
    )  # fmt: skip
