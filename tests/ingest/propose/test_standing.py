"""In a log of changes a reading stands until the next."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ingest.propose.behaviour import relations_of
from ingest.propose.sample import Sample
from ingest.propose.standing import with_standing_readings
from ingest.propose.tag_numbers import numbers_of
from tests.ingest.propose.made_up import sample, zone

N = 3000


def columns() -> dict[str, np.ndarray]:
    rng = np.random.default_rng(3)
    found: dict[str, np.ndarray] = {}
    for number, level in enumerate((176.0, 188.0, 201.0, 214.0)):
        found[f"a{number}"], found[f"w{number}"], found[f"y{number}"] = zone(level, rng, N)
    return found


def of_changes(told_again: int = 300) -> Sample:
    """Readings where they change, and every so often to say that the channel lives."""
    full = sample(columns())
    changed = np.diff(full.values, axis=1, prepend=np.nan) != 0
    # As with a dead band: not every change is stored.
    changed &= np.random.default_rng(4).random(changed.shape) < 0.2
    changed[:, ::told_again] = True
    return replace(full, values=np.where(changed, full.values, np.nan))


def test_set_points_are_found_in_a_log_of_changes() -> None:
    bare = of_changes()
    filled = with_standing_readings(bare)
    pairs = {(one.actual, one.wanted) for one in relations_of(filled, numbers_of(filled)).follows}

    assert relations_of(bare, numbers_of(bare)).follows == ()
    assert pairs == {(f"a{n}", f"w{n}") for n in range(4)}


def test_every_row_holds_the_last_reading_before_it() -> None:
    bare = of_changes()
    filled = with_standing_readings(bare)

    for before, after in zip(bare.values, filled.values, strict=True):
        last = np.nan
        for x, y in zip(before, after, strict=True):
            last = x if np.isfinite(x) else last
            np.testing.assert_equal(y, last)


def test_nothing_stands_over_a_gap_between_parts() -> None:
    bare = of_changes(told_again=10_000)
    part = np.repeat([0, 1], N // 2)
    filled = with_standing_readings(replace(bare, part=part))

    assert np.isnan(filled.values[bare.tags.index("w0"), N // 2 :]).all()
    assert np.isfinite(filled.values[bare.tags.index("w0"), : N // 2]).all()


def test_a_log_with_slow_channels_stays_as_it_is() -> None:
    """Read every ten seconds, changed or not: set-points repeat."""
    full = sample(columns())
    slow = replace(full, values=np.where(np.arange(N) % 10 == 0, full.values, np.nan))

    assert with_standing_readings(slow) is slow
    assert with_standing_readings(full) is full
