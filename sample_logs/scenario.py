"""What happens in a run besides the plant itself: how it begins, what people do, what disturbs, what fails."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sample_logs.faults import Fault

DEFAULT_START_NS = 1_803_880_800_000_000_000
"""2027-03-01 06:00 UTC, start of a shift."""

EventKind = Literal[
    "rate", "speed", "zone_setpoint", "feed", "screw", "heat", "vacuum", "ready", "lot", "hall", "screen_change",
    "screen_half", "hopper_touched", "catch_sample", "outlet_tapped", "gap", "spike", "note", "reset", "upset", "stale",
    "zeros", "burst",
]  # fmt: skip


@dataclass(frozen=True)
class Event:
    """One thing people or the surroundings do at `at_s` seconds from the start of the run.

    rate: all feeder set-points to value x nominal, over duration_s. speed: value x nominal.
    zone_setpoint: subject by value C. feed, screw, heat, vacuum: 1 on, 0 off. lot: ln consistency value.
    outlet_tapped: feed factor of subject by the part value for duration_s (a shaken hopper). hall: C to add.
    hopper_touched: value kg on the scale of subject for duration_s. catch_sample: subject's flow into a cup.
    screen_change: a clean screen. screen_half: slide-plate change, half of the area for duration_s.
    gap: no readings for duration_s. spike: one false sample of channel `subject` at value.
    reset: the drive's trip is acknowledged, the line starts again.
    upset: for duration_s the upset named by subject (or `name:feeder`, `name:zone`) stands at value.
    stale, zeros: the readings of a controller (`log_faults.controller_of`) stand, or are zero, for duration_s.
    burst: no readings for duration_s, then the last of them all at once.
    note: `subject` is the kind of note, `text` its text.
    """

    at_s: float
    kind: EventKind
    subject: str = ""
    value: float = 0.0
    duration_s: float = 0.0
    text: str = ""


@dataclass(frozen=True)
class Scenario:
    """One run. start: 'steady' in the recipe's steady state; 'hot' zones hot, screw stopped and full;
    'cold' everything at hall temperature, screw stopped. For the last two, events start the line."""

    faults: tuple[Fault, ...] = ()
    events: tuple[Event, ...] = ()
    start: Literal["steady", "hot", "cold"] = "steady"
    start_ns: int = DEFAULT_START_NS
    lot: str = "L1001"
