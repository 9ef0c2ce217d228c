"""What people do at a running line and what passes by itself is no fault; the fault that looks alike is still said."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.conditions.feeder_stopped import FeederTripped
from monitor.conditions.flooded import Flooded
from monitor.conditions.rate_not_weight import RateNotWeight
from monitor.conditions.recipe_window import RecipeWindow
from monitor.conditions.screw_turning_empty import ScrewTurningEmpty
from monitor.conditions.starved import Starved
from monitor.recipe import Recipe
from tests.monitor.conditions.feeder_stories import calm
from tests.monitor.conditions.told import R1, TWIN, Story, seconds, single, told, twin, without
from tests.monitor.scripted_world import FEEDERS, Script
from tests.monitor.world_feeders import feeder_recipe
from tests.monitor.world_path import path_recipe, path_script

LOG_S, AT = 3600, 1800


def fed_windows() -> Recipe:
    """The recipe with a window of 3 % for each feeder's rate."""
    data = R1.model_dump()
    feeders = [
        {"role": "feeder_rate", "at": name, "low": 0.97 * rate, "target": rate, "high": 1.03 * rate}
        for name, rate in FEEDERS.items()
    ]
    return Recipe.model_validate({**data, "window": [*data["window"], *feeders], "version": "fed windows"})


def bump(feeder: str, size: float = 1.0) -> Story:
    """A weight shifted once: the filtered slope reads low for a cell, then high, and is back in a minute."""

    def story(s: Script) -> None:
        for after, factor in enumerate((-0.60, 0.26, 0.20, 0.12, 0.08, 0.04)):
            s.scale(f"feeder_rate:{feeder}", AT + 10 * after, AT + 10 * after + 10, 1 + size * factor)

    story.__name__ = f"bump_{feeder}"
    return story


def feeds(s: Script, factor: float, *, told_so: bool) -> None:
    """All feeders in proportion, by their set-points or without."""
    for feeder in FEEDERS:
        s.scale(f"feeder_rate:{feeder}", AT, LOG_S, factor)
        if told_so:
            s.scale(f"feeder_setpoint:{feeder}", AT, LOG_S, factor)


def summaries(found: list) -> list[str]:
    return [f.last.summary for f in found]


def test_a_hand_on_the_hopper_is_one_bump() -> None:
    s = twin(LOG_S)
    bump("F2")(s)

    assert summaries(told(s, FeederOffTarget())) == []


@pytest.mark.parametrize(("percent", "for_s", "said"), [(18, 55, 0), (4.5, 600, 1)])
def test_a_rate_back_in_its_window_is_not_out_of_it(percent: float, for_s: float, said: int) -> None:
    """A fifth too much for a minute is 4 % in the mean of five: over a window of 3 % for as long as it is in there."""
    s = twin(LOG_S)
    s.scale("feeder_rate:F2", AT, AT + for_s, 1 + percent / 100)

    assert len(told(s, RecipeWindow(), recipe=fed_windows())) == said


def test_an_error_that_the_controller_takes_out_is_none_and_one_that_stays_is() -> None:
    """A feed factor that steps by 14 %: high for a minute, back within two."""
    s, stays = twin(LOG_S), twin(LOG_S)
    part = s.span(AT, AT + 150)
    s.x["feeder_rate:F2"][part] *= 1 + 0.10 * np.exp(-np.arange(150) / 50)
    stays.scale("feeder_rate:F2", AT, LOG_S, 1.045)

    assert summaries(told(s, FeederOffTarget())) == []
    assert [f.last.channel for f in told(stays, FeederOffTarget())] == ["feeder_rate:F2"]


def test_a_feeder_whose_rate_wanders_for_minutes_is_given_its_own_scatter() -> None:
    """An autocorrelated rate, 3 % over a minute and a half: long means scatter more than minutes let expect."""
    s = twin(6 * 3600)
    slow = np.zeros(s.n)
    white = np.random.default_rng(5).normal(0, 1, s.n)
    keep = np.exp(-1 / 90)
    for i in range(1, s.n):
        slow[i] = keep * slow[i - 1] + np.sqrt(1 - keep**2) * white[i]
    s.x["feeder_rate:F2"] *= 1 + 0.03 * slow

    assert len(told(s, FeederOffTarget())) <= 3  # in six hours; ten where minutes alone set the limit


@pytest.mark.parametrize(("logged", "channels"), [(False, 0), (True, 3)])
def test_a_line_run_below_its_recipe_rate_has_no_feeder_off_target(logged: bool, channels: int) -> None:
    """All 6 % under the recipe: where no set-point is logged that is a rate somebody chose; one further off is said."""
    line = TWIN if logged else without(TWIN, "feeder_setpoint")
    s, one = twin(LOG_S), twin(LOG_S)
    for script in (s, one):
        feeds(script, 0.94, told_so=False)
    one.scale("feeder_rate:F2", AT, LOG_S, 0.93)

    assert len({f.last.channel for f in told(s, FeederOffTarget(), line=line)}) == channels
    assert "feeder_rate:F2" in {f.last.channel for f in told(one, FeederOffTarget(), line=line)}


@pytest.mark.parametrize(("told_so", "said"), [(True, 0), (False, 3)])
def test_windows_of_feeders_move_with_a_ratio_that_all_were_given(told_so: bool, said: int) -> None:
    s = twin(LOG_S)
    feeds(s, 0.96, told_so=told_so)

    assert len(told(s, RecipeWindow(), recipe=fed_windows())) == said


@pytest.mark.parametrize(("key", "value"), [("melt_pressure:P1", 48.0), ("torque", 47.0)])
@pytest.mark.parametrize(("for_s", "said"), [(60, 0), (400, 1)])
def test_a_catch_sample_passes_and_a_lasting_fall_is_said(key: str, value: float, for_s: float, said: int) -> None:
    s = twin(LOG_S)
    s.put(key, AT, AT + for_s, value)

    assert len(told(s, RecipeWindow())) == said


def slide_shut(s: Script, stops: bool) -> None:
    """The hopper's slide is shut: the load falls to no-load in 40 s, pressure after it; stopped after 75 s, or not."""
    part = s.span(AT + 10, LOG_S)
    s.x["torque"][part] = np.fmax(s.x["torque"][part] - 1.3 * np.arange(len(s.x["torque"][part])), 7)
    s.x["line_rate"][part] *= np.exp(-np.arange(len(s.x["line_rate"][part])) / 15)
    s.x["melt_pressure:P1"][part] *= np.fmax(np.exp(-np.arange(len(s.x["line_rate"][part])) / 60), 0.1)
    if stops:
        for key in ("screw_speed", "torque"):
            s.put(key, AT + 75, LOG_S, 0)


def test_a_flood_fed_screw_run_empty_before_a_stop_is_not_starved_and_one_left_empty_is() -> None:
    stopped, left = single(LOG_S), single(LOG_S)
    slide_shut(stopped, True)
    slide_shut(left, False)

    assert summaries(told(stopped, Starved())) == []
    (found,) = told(left, Starved())
    assert AT < (seconds(found.first_decided_at) or 0) <= AT + 150


@pytest.mark.parametrize(("share", "for_s", "said"), [(0.35, 480, 0), (0.35, 1200, 1), (1.0, 420, 1)])
def test_an_empty_screw_wears_by_the_way_it_turns(share: float, for_s: float, said: int) -> None:
    s = path_script(4000)
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", 2000, 2000 + for_s, 0.0)
    s.scale("screw_speed", 2000, 2000 + for_s, share)
    s.put("torque", 2000, 2000 + for_s, 9)

    assert len(told(s, ScrewTurningEmpty(), recipe=path_recipe())) == said


@pytest.mark.parametrize(("touched", "said"), [(True, 0), (False, 1)])
def test_a_touched_scale_over_feeds_for_half_a_minute_only(touched: bool, said: int) -> None:
    """The main feeder's rate reads low and then high, torque follows; with a rate that stays on set powder flushes."""
    s = twin(LOG_S)
    if touched:
        bump("F1")(s)
    s.scale("torque", AT + 10, AT + 60, 1.22)
    s.scale("melt_pressure:P1", AT + 20, AT + 70, 1.06)

    assert len(told(s, Flooded())) == said


@pytest.mark.parametrize(("for_s", "said"), [(45, 0), (240, 1)])
def test_torque_is_near_its_limit_for_a_minute_not_after_each_refill(for_s: float, said: int) -> None:
    s = twin(LOG_S)
    s.put("torque", AT, AT + for_s, 95.0)
    s.put("melt_pressure:P1", AT, AT + for_s, 100.0)  # thick melt, not over-fed

    assert len(told(s, Flooded())) == said


@pytest.mark.parametrize(("together", "said"), [(True, 0), (False, 1)])
def test_drives_that_all_stand_were_switched_off_while_the_rates_still_die_away(together: bool, said: int) -> None:
    """The small feeders' filters are long: their rates are on set for most of a minute yet."""
    s = twin(LOG_S)
    for feeder, halves_s in (("F1", 8), ("F2", 400), ("F3", 400)):
        part = s.span(AT, LOG_S)
        if together or feeder == "F1":
            s.put(f"feeder_drive:{feeder}", AT, LOG_S, 0.0)
            s.x[f"feeder_rate:{feeder}"][part] *= 0.5 ** (np.arange(len(s.x["torque"][part])) / halves_s)

    assert len(told(s, FeederTripped())) == said


def test_the_tare_of_a_small_scale_is_not_what_it_fed() -> None:
    """30 g on a feeder of 3 kg/h that weighs to 3 g: 12 % of what it loses in five minutes."""
    s = calm()
    fed = 3.0 / 3600 * np.arange(s.n)
    s.x["feeder_weight:F3"] = 40 - fed + np.random.default_rng(3).normal(0, 0.003, s.n)
    s.x["feeder_weight:F3"][s.span(AT, s.n)] -= 0.04

    assert summaries(told(s, RateNotWeight(), recipe=feeder_recipe())) == []
