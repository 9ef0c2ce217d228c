"""Hundreds of drawn lines and events: starved is never called flooded, nor flooded starved."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from monitor.conditions.flooded import Flooded
from monitor.conditions.starved import Starved
from tests.monitor.conditions.screw_model import (
    EVENT,
    FLOODED,
    NUISANCE,
    RECIPE,
    STARVED,
    Event,
    Run,
    fluffy_lot,
    powder_flushes,
    throat_grows_hot,
)
from tests.monitor.conditions.told import seconds, told

DRAWS = 40
BOTH = "both fit"


def outcome(event: Event, seed: int) -> tuple[set[str], list[str], Run]:
    """Families said with certainty, all summaries, the run."""
    run = Run(np.random.default_rng([seed, *event.__name__.encode()]))
    event(run)
    script, line = run.script()
    found = told(script, Starved(), Flooded(), line=line, recipe=RECIPE)
    sure = {f.last.condition for f in found if BOTH not in f.last.summary}
    return sure, [f.last.summary for f in found], run


@pytest.mark.parametrize("event", STARVED, ids=lambda event: event.__name__)
def test_starved_is_found_and_never_called_flooded(event: Event) -> None:
    seen = Counter()
    for seed in range(DRAWS):
        sure, summaries, _ = outcome(event, seed)
        assert "flooded" not in sure, (seed, summaries)
        seen[bool(summaries)] += 1

    assert seen[True] >= 0.95 * DRAWS, seen


@pytest.mark.parametrize("event", FLOODED, ids=lambda event: event.__name__)
def test_flooded_is_never_called_starved(event: Event) -> None:
    for seed in range(DRAWS):
        sure, summaries, _ = outcome(event, seed)
        assert "starved" not in sure, (seed, summaries)


@pytest.mark.parametrize("event", NUISANCE, ids=lambda event: event.__name__)
def test_other_melt_speed_and_rate_are_neither(event: Event) -> None:
    """Where no pressure is logged a thinner melt that comes at once cannot be told: then it is said as such."""
    for seed in range(DRAWS):
        sure, summaries, run = outcome(event, seed)
        # A thicker melt that drives torque into its limit is flooded, torque-limited: that is no mistake.
        mistakes = [text for text in summaries if "torque-limited" not in text]
        assert not mistakes or not run.m.has_pressure, (seed, summaries)
        assert sure <= {"flooded"}, (seed, summaries)


@pytest.mark.parametrize(
    ("event", "seen"),
    [
        (fluffy_lot, lambda run: run.m.drives),
        (throat_grows_hot, lambda run: run.m.throat),
        (powder_flushes, lambda run: run.m.has_pressure),
    ],
    ids=["feeder drives logged", "throat logged", "pressure logged"],
)
def test_where_the_cause_is_logged_flooding_is_found(event: Event, seen) -> None:  # type: ignore[no-untyped-def]
    """Nine in ten; the rest are shallow falls inside a noisy torque."""
    found = total = 0
    for seed in range(DRAWS):
        _, summaries, run = outcome(event, seed)
        if seen(run):
            total += 1
            found += any(text.startswith(("flooded", "over-fed")) for text in summaries)

    assert total >= 10 and found >= 0.9 * total, (found, total)


def test_a_chute_that_blocks_wholly_is_said_without_doubt_within_a_minute() -> None:
    for seed in range(20):
        run = Run(np.random.default_rng([seed, 7]))
        run.taken = run.ramp(EVENT, 3, 0.02)
        script, line = run.script()
        found = told(script, Starved(), Flooded(), line=line, recipe=RECIPE)
        first = [f for f in found if f.last.condition == "starved"]
        assert first and found[0] is first[0], seed
        assert (seconds(first[0].first_decided_at) or 0) <= EVENT + 60 + run.m.residence_s, seed
        assert first[0].last.cause_texts[0] == "path blocked between feeder and throat", seed
