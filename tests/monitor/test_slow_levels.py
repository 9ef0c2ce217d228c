"""Recent level, fixed base, onsets: what they give, and the same bits at every cut."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from monitor import fixed_base, onset, recent_level

RNG = np.random.default_rng(5)


def test_recent_level_is_the_mean_of_the_cells_that_ended_so_long_ago() -> None:
    x = RNG.normal(50, 3, (2, 200))
    x[0, 40:60] = np.nan
    _, mean = recent_level.advance(recent_level.start(2, 10, 5), x)

    assert mean[1, 100] == pytest.approx(x[1, 86:96].mean())
    assert np.isnan(mean[0, 64]) and mean[0, 47] == pytest.approx(np.nanmean(x[0, 33:43]))
    assert np.isnan(mean[1, 3])


@pytest.mark.parametrize("cuts", [[1], [7, 8, 9], [50, 100, 150], list(range(1, 200))])
def test_every_cut_gives_the_same_bits(cuts: list[int]) -> None:
    x = RNG.normal(50, 3, (2, 200))
    x[1, 20:33] = np.nan
    calm, forget = RNG.random(200) > 0.3, np.zeros(200, bool)
    forget[90:95] = True
    holds = RNG.random((2, 200)) > 0.9
    whole = (
        recent_level.advance(recent_level.start(2, 12, 4), x)[1],
        fixed_base.advance(fixed_base.start(2), x, calm, forget, 20)[1],
        onset.onsets(onset.start(2), holds, 6)[0],
    )
    states = [recent_level.start(2, 12, 4), fixed_base.start(2), onset.start(2)]
    parts: list[list[np.ndarray]] = [[], [], []]
    for a, b in itertools.pairwise([0, *cuts, 200]):
        states[0], one = recent_level.advance(states[0], x[:, a:b])
        states[1], two = fixed_base.advance(states[1], x[:, a:b], calm[a:b], forget[a:b], 20)
        three, states[2] = onset.onsets(states[2], holds[:, a:b], 6)
        for part, piece in zip(parts, (one, two, three), strict=True):
            part.append(piece)
    for want, got in zip(whole, parts, strict=True):
        np.testing.assert_array_equal(want, np.concatenate(got, axis=1))


def test_the_base_holds_from_the_cell_after_it_is_full_until_it_is_forgotten() -> None:
    x = np.arange(60.0)[None, :]
    calm, forget = np.ones(60, bool), np.zeros(60, bool)
    forget[40] = True
    _, base = fixed_base.advance(fixed_base.start(1), x, calm, forget, 11)

    assert np.isnan(base[0, :11]).all() and (base[0, 11:40] == 5.0).all()
    assert np.isnan(base[0, 40:52]).all() and (base[0, 52:] == 46.0).all()


def test_an_onset_needs_quiet_before_it() -> None:
    holds = np.zeros((1, 30), bool)
    holds[0, [5, 6, 9, 20]] = True
    starts, _ = onset.onsets(np.zeros(1, np.int64), holds, 5)

    assert np.flatnonzero(starts[0]).tolist() == [5, 20]
