"""Derived quantities of single feeders: refills by mark and weight, feed factor, composition at the die."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest

from ingest.block import Note
from monitor.core import Monitor
from monitor.line import Line
from monitor.quantities.windows import window_mean, window_start, window_sums
from monitor.recipe import Recipe
from tests.monitor.conditions.told import block_of, without
from tests.monitor.scripted_world import NS, T0
from tests.monitor.world_feeders import SETS, FeederScript, feeder_line, feeder_recipe

Story = Callable[[FeederScript], None]


def quantity(name: str, s: FeederScript, line: Line | None = None, recipe: Recipe | None = None) -> np.ndarray:
    """One derived quantity of a whole log."""
    used = line or s.line
    monitor = Monitor(used, [recipe or feeder_recipe()], conditions=())
    return monitor.advance(monitor.start(), block_of(s, used))[1].quantities[name][1]


def steady(seconds: int = 2400) -> FeederScript:
    s = FeederScript(seconds)
    s.even_weight("F2", 180, 0, seconds)
    return s


@pytest.mark.parametrize("widths", [(1, 7, 30)])
def test_windows_are_sums_of_what_is_known_at_every_cut(widths: tuple[int, ...]) -> None:
    generator = np.random.default_rng(1)
    x = generator.normal(0, 1, (2, 200))
    x[generator.random(x.shape) < 0.2] = np.nan
    sums, counts, _ = window_sums(window_start(2, 30), x, widths)
    for place, width in enumerate(widths):
        for cell in (0, 5, 29, 30, 150):
            part = x[:, max(0, cell - width + 1) : cell + 1]
            assert sums[place][:, cell] == pytest.approx(np.nansum(part, axis=1), abs=1e-12)
            assert counts[place][:, cell] == pytest.approx(np.isfinite(part).sum(axis=1))
    state, pieces = window_start(2, 30), []
    for first, last in itertools.pairwise([0, 1, 1, 8, 90, 200]):
        mean, state = window_mean(state, x[:, first:last], 30)
        pieces.append(mean)
    whole, _ = window_mean(window_start(2, 30), x, 30)
    assert np.array_equal(np.concatenate(pieces, axis=1), whole, equal_nan=True)


def unmarked(s: FeederScript) -> None:
    s.put("feeder_refill:F2", 0, 2400, 0)
    s.refill("F2", 1200, 20, over_s=40, marked=False)


def marked_only(s: FeederScript) -> None:
    s.put("feeder_refill:F2", 1200, 1240, 1)


def slow_by_hand(s: FeederScript) -> None:
    """40 kg in ten minutes while the mark is stuck at 0."""
    s.put("feeder_refill:F2", 0, 2400, 0)
    s.refill("F2", 1200, 40, over_s=600, marked=False)


@pytest.mark.parametrize(("story", "last_s"), [(unmarked, 1270), (marked_only, 1270), (slow_by_hand, 1830 + 300)])
def test_refills_are_seen_by_mark_and_by_weight(story: Story, last_s: int) -> None:
    s = steady()
    story(s)
    busy = quantity("refilling:F2", s)

    assert (busy[1230 // 10 : last_s // 10 - 2] >= 1).all(), "from the first cells to half a minute after"
    assert (busy[1230 // 10 : last_s // 10 - 2] == 2).any() == (story is slow_by_hand), "only filling by hand lasts"
    assert not busy[:119].any() and not busy[last_s // 10 + 3 :].any()


@pytest.mark.parametrize(("held_s", "by_hand"), [(170, False), (60, True)])
def test_a_large_hopper_that_fills_for_long_under_its_hold_is_not_filled_by_hand(held_s: int, by_hand: bool) -> None:
    s = steady()
    s.refill("F2", 1200, 18, over_s=160)
    s.put("feeder_rate:F2", 1195, 1200 + held_s, SETS["F2"])
    busy = quantity("refilling:F2", s)

    assert (busy == 2).any() == by_hand
    assert (busy[(1200 + 160 + 60) // 10 : (1200 + 160 + 200) // 10] > 0).all() == by_hand


def test_the_weight_is_enough_and_so_is_the_mark() -> None:
    s = steady()
    s.refill("F2", 1200, 20)
    for gone in ("feeder_weight", "feeder_refill"):
        assert quantity("refilling:F2", s, without(s.line, gone)).sum() >= 4


@pytest.mark.parametrize("noise_kg", [0.05, 0.3, 1.0])
def test_a_noisy_scale_is_not_a_refill(noise_kg: float) -> None:
    s = steady(7200)
    s.x["feeder_weight:F2"] += s.noise(noise_kg)

    assert quantity("refilling:F2", s)[30:].mean() < 0.01


@pytest.mark.parametrize("digit", [0.1, 0.01, 1.0])
def test_a_coarse_scale_is_not_a_refill(digit: float) -> None:
    s = steady(7200)
    s.even_weight("F3", 40, 0, 7200)
    for feeder in ("F2", "F3"):
        weight = s.x[f"feeder_weight:{feeder}"] + s.noise(0.3 * digit)
        s.x[f"feeder_weight:{feeder}"] = np.round(weight / digit) * digit
        assert quantity(f"refilling:{feeder}", s)[30:].mean() < 0.01


def test_feed_factor_is_rate_over_drive_and_blank_where_it_means_nothing() -> None:
    """18 kg/h at 90 % is 0.2 kg/h per percent: the form of the usual feed factor, flow over speed."""
    s = steady()
    s.x["feeder_rate:F2"][:], s.x["feeder_drive:F2"][:] = 18.0, 90.0
    s.put("feeder_gravimetric:F2", 600, 700, 0)
    s.put("feeder_refill:F2", 900, 950, 1)
    factor = quantity("feed_factor:F2", s)

    assert factor[20] == pytest.approx(0.2)
    assert np.isnan(factor[60:70]).all() and np.isnan(factor[90:98]).all() and np.isfinite(factor[99])


def test_the_usual_feed_factor_does_not_follow_a_drift() -> None:
    s = steady()
    s.x["feeder_drive:F2"] *= np.linspace(1, 1.6, s.n)
    usual = quantity("usual_feed_factor:F2", s)

    assert np.isnan(usual[:29]).all() and np.nanstd(usual[35:]) < 1e-12
    early = SETS["F2"] / 45 / 1.05
    assert usual[-1] == pytest.approx(early, rel=0.03), "of the first five minutes of steady running"


def test_the_usual_feed_factor_is_learned_anew_with_another_recipe() -> None:
    s = steady()
    s.scale("feeder_drive:F2", 1200, 2400, 1.5)
    s.notes.append(Note(T0 + 1200 * NS, "recipe", "nobody gave this one"))
    usual = quantity("usual_feed_factor:F2", s)

    assert np.isnan(usual[121:140]).all()
    assert usual[-1] == pytest.approx(usual[100] / 1.5, rel=0.02)


def line_with_ways() -> Line:
    data = feeder_line().model_dump()
    data["geometry"] = {**data["geometry"], "screw_diameter_mm": 160}
    return Line.model_validate({**data, "version": "ways"})


def test_a_common_change_of_rate_makes_a_blip_where_ways_are_unequal() -> None:
    """All feeders a third up at once: the side feeder's share is right before, right after, and too high between."""
    s = steady()
    for feeder in SETS:
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", 1500, 2400, 4 / 3)
    share = quantity("die_share:F2", s, line_with_ways())
    usual = 100 * SETS["F2"] / sum(SETS.values())

    assert share[149] == pytest.approx(usual, rel=0.01) and share[-1] == pytest.approx(usual, rel=0.01)
    assert share[150:170].max() > 1.1 * usual


def test_shares_at_the_die_sum_to_a_hundred() -> None:
    s = steady()
    s.scale("feeder_rate:F2", 1500, 1700, 0.3)
    shares = [quantity(f"die_share:{feeder}", s, line_with_ways()) for feeder in SETS]
    known = np.isfinite(shares[0])

    assert known.sum() > 100 and sum(shares)[known] == pytest.approx(np.full(known.sum(), 100.0))


def test_a_short_gap_is_bridged_a_long_one_makes_the_die_unknown_until_it_has_left() -> None:
    short, long = steady(), steady()
    short.put("feeder_rate:F2", 1500, 1540, float("nan"))
    long.put("feeder_rate:F2", 1500, 1620, float("nan"))
    bridged, broken = (quantity("die_flow:F2", s, line_with_ways())[150:] for s in (short, long))

    assert np.isfinite(bridged[5:]).all()
    assert np.isnan(broken[7:12]).all() and np.isfinite(broken[-1])
