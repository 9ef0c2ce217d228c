"""Zones with names that say nothing are told by their stillness, and nothing else is taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.propose.propose_log import propose_sample
from tests.ingest.propose.made_up import sample

N = 3000


def pair(level: float, rng: np.random.Generator, spread: float = 0.0005) -> tuple[np.ndarray, np.ndarray]:
    """A reading that stands at its set-point, and the set-point."""
    return np.round(level * (1 + rng.normal(0, spread, N)), 1), np.full(N, level)


def told(pairs: dict[int, tuple[float, float]], names: str = "AI_{0:03d} AO_{0:03d}") -> dict[str, str]:
    """Roles of a log with such pairs. pairs: number -> level and spread."""
    rng = np.random.default_rng(3)
    columns: dict[str, np.ndarray] = {}
    for number, (level, spread) in pairs.items():
        actual, wanted = names.format(number).split()
        columns[actual], columns[wanted] = pair(level, rng, spread)
    line = propose_sample(sample(columns)).lines[0]
    assert all(one.sure == "a guess" for one in line.tags if one.told)
    return {one.tag: one.role for one in line.tags if one.told}


STILL, WEIGHED = 0.0005, 0.009
ZONES = {101: 150.0, 102: 170.0, 103: 185.0, 104: 190.0, 105: 190.0, 106: 190.0}


def test_zones_at_one_level_and_those_numbered_with_them() -> None:
    roles = told({**{n: (level, STILL) for n, level in ZONES.items()}, 201: (110.0, STILL), 301: (95.0, WEIGHED)})

    assert roles == {
        **{f"AI_{n}": "zone_temperature" for n in ZONES}, **{f"AO_{n}": "zone_setpoint" for n in ZONES},
    }  # fmt: skip


def test_where_the_numbers_go_on_the_zones_at_their_ends_cannot_be_told() -> None:
    """The tag after the last zone is a rate: which of the pairs before 104 is still a zone, the numbers do not tell."""
    pairs = {n: (level, STILL) for n, level in ZONES.items()}
    roles = told({100: (95.0, WEIGHED), **pairs})

    assert not {"AI_100", "AI_101", "AI_102", "AI_103"} & set(roles)


@pytest.mark.parametrize(
    "pairs",
    [
        # a speed, a rate and two zones: no level three times over
        {1: (300.0, STILL), 2: (180.0, STILL), 3: (180.0, STILL), 4: (120.0, WEIGHED)},
        # feeders at one rate scatter more than steel
        {1: (200.0, WEIGHED), 2: (200.0, WEIGHED), 3: (200.0, WEIGHED), 4: (200.0, WEIGHED)},
        # too low for a zone that melts anything
        {1: (50.0, STILL), 2: (50.0, STILL), 3: (50.0, STILL), 4: (50.0, STILL)},
    ],
)
def test_what_may_be_something_else_cannot_be_told(pairs: dict[int, tuple[float, float]]) -> None:
    assert told(pairs) == {}


def test_what_is_known_of_a_tag_stands_in_words() -> None:
    rng = np.random.default_rng(3)
    actual, wanted = pair(110.0, rng)
    line = propose_sample(
        sample({"AI_1": actual, "AO_1": wanted, "X_7": (np.arange(N) // 100 % 2).astype(float)})
    ).lines[0]
    seen = {one.tag: one.seen for one in line.tags}

    assert (
        seen["AI_1"].startswith("109.9 to 110.1, mostly about 110; a reading every 1 s")
        and "sits at 'AO_1'" in seen["AI_1"]
    )
    assert seen["AO_1"] == "110 throughout; a reading every 1 s at the latest; set-point or the like of 'AI_1'"
    assert seen["X_7"].startswith("switches between 0 and 1")
