"""Draws what happens in a run: nuisances that are no fault, faults with fitting subjects, starts and stops."""

from __future__ import annotations

import numpy as np

from sample_logs.fault_subjects import possible_faults, subjects
from sample_logs.faults import FAULTS, Fault
from sample_logs.plant import Plant
from sample_logs.scenario import DEFAULT_START_NS, Event, Scenario


def draw_fault(
    rng: np.random.Generator,
    plant: Plant,
    kind: str,
    start_s: float,
    duration_s: float,
    subject: str | None = None,
) -> Fault:
    """A fault with a subject and a severity drawn from the catalogue's range."""
    entry = FAULTS[kind]
    if plant.kind not in entry.lines:
        raise ValueError(f"a {plant.kind} plant has no {kind}")
    choice = subjects(plant, kind)
    if not choice:
        raise ValueError(f"plant {plant.name} has nothing on which {kind} would show")
    chosen = str(rng.choice(choice)) if subject is None else subject
    return Fault(kind, chosen, start_s, start_s + duration_s, round(float(rng.uniform(entry.low, entry.high)), 3))


def draw_nuisances(rng: np.random.Generator, plant: Plant, seconds: float, *, often: float = 1.0) -> tuple[Event, ...]:
    """Everyday disturbances that deserve no finding, about eight in 12 h times `often`."""
    hours = seconds / 3600.0
    events: list[Event] = []

    def some(per_12_h: float) -> list[float]:
        count = rng.poisson(per_12_h * often * hours / 12.0)
        return sorted(float(t) for t in rng.uniform(0.0, max(seconds - 300.0, 1.0), count))

    events += [Event(t, "hall", value=float(rng.uniform(-2.5, 2.5))) for t in some(1.5)]
    events += [Event(t, "lot", value=float(rng.normal(0.0, 0.012))) for t in some(0.7)]
    events += [Event(t, "gap", duration_s=float(rng.uniform(5, 150))) for t in some(1.0)]
    for t in some(2.0):
        key = str(rng.choice(plant.channels))
        events.append(Event(t, "spike", key, float(rng.choice([0.0, plant.facts["steady"][key] * 2.0 + 50.0]))))
    for t in some(1.5):
        if plant.feeders:
            feeder = str(rng.choice(plant.feeders))
            slot = plant.facts["slots"][plant.feeders.index(feeder)]
            load = float(rng.uniform(0.01, 0.06) * plant.parameters.feeder.capacity_kg[slot])
            events.append(Event(t, "hopper_touched", feeder, load, float(rng.uniform(3, 15))))
    for t in some(0.7):
        if len(plant.feeders) > 2:
            events.append(
                Event(t, "catch_sample", str(rng.choice(plant.feeders[1:3])), 1.0, float(rng.uniform(30, 60)))
            )
    for t in some(0.7):
        half = float(rng.uniform(10, 25))
        events += [Event(t, "screen_half", duration_s=half), Event(t + half, "screen_change"),
                   Event(t, "note", "remark", text="screen changed")]  # fmt: skip
    return tuple(sorted(events, key=lambda e: e.at_s))


def start_up(
    rng: np.random.Generator, plant: Plant, *, cold: bool, screw_at_s: float, feed_after_s: float = 60.0
) -> tuple[Event, ...]:
    """Events that start a stopped line: heat at once if cold, screw slow, feed in at a fifth, ramp to the recipe."""
    feed_at = screw_at_s + feed_after_s
    full_at = feed_at + float(rng.uniform(240, 420))
    events = [Event(0.0, "heat", value=1.0)] if cold else []
    events += [
        Event(0.0, "rate", value=0.2),
        Event(screw_at_s, "speed", value=0.35),
        Event(screw_at_s, "screw", value=1.0),
        Event(feed_at, "feed", value=1.0),
        Event(feed_at + 120.0, "speed", value=1.0),
        Event(feed_at + 120.0, "rate", value=1.0, duration_s=full_at - feed_at - 120.0),
        Event(full_at, "vacuum", value=1.0),
    ]
    return tuple(events)


def planned_stop(at_s: float, *, restart_s: float | None = None) -> tuple[Event, ...]:
    """A planned stop: feed off, screw runs empty for a minute and stops; optional restart on the same recipe."""
    events = [
        Event(at_s, "note", "planned stop", text="planned stop"),
        Event(at_s, "feed", value=0.0),
        Event(at_s + 5.0, "vacuum", value=0.0),
        Event(at_s + 75.0, "screw", value=0.0),
    ]
    if restart_s is not None:
        events += [
            Event(restart_s, "screw", value=1.0),
            Event(restart_s + 40.0, "feed", value=1.0),
            Event(restart_s + 200.0, "vacuum", value=1.0),
        ]
    return tuple(events)


def clean_scenario(
    rng: np.random.Generator,
    plant: Plant,
    seconds: float,
    *,
    often: float = 1.0,
    start_ns: int = DEFAULT_START_NS,
) -> Scenario:
    """A shift with nuisances and no fault."""
    return Scenario(events=draw_nuisances(rng, plant, seconds, often=often), start_ns=start_ns)


def fault_scenario(
    rng: np.random.Generator,
    plant: Plant,
    seconds: float,
    kind: str,
    *,
    start_s: float | None = None,
    duration_s: float | None = None,
    subject: str | None = None,
    often: float = 0.5,
    start_ns: int = DEFAULT_START_NS,
) -> Scenario:
    """A shift with one fault. The fault begins at start_s, else somewhere in the second third.

    'cold_start' makes a start from cold; 'feeding_stopped_screw' and the like happen in a running line.
    """
    begin = float(rng.uniform(0.35, 0.6) * seconds) if start_s is None else start_s
    lasts = duration_s or max(seconds - begin, 60.0)
    if kind == "cold_start":
        begin = max(begin, 1500.0)
        fault = draw_fault(rng, plant, kind, begin, duration_s or 1200.0, subject)
        return Scenario((fault,), start_up(rng, plant, cold=True, screw_at_s=begin), "cold", start_ns)
    fault = draw_fault(rng, plant, kind, begin, lasts, subject)
    quiet = [e for e in draw_nuisances(rng, plant, seconds, often=often) if not begin - 60 <= e.at_s <= begin + 300]
    return Scenario((fault,), tuple(quiet), start_ns=start_ns)


__all__ = ["clean_scenario", "draw_fault", "draw_nuisances", "fault_scenario", "planned_stop", "possible_faults",
           "start_up", "subjects"]  # fmt: skip
