"""A screen that fills is said with its time; rate changes, thicker melt and self-cleaning changers are not."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from monitor.conditions.screen_blinding import ScreenBlinding, _between
from monitor.conditions.under_temperature import UnderTemperature
from monitor.contract import Context
from tests.monitor.conditions.told import only, seconds, told, words
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import add, path_line, path_recipe, path_script

P1 = "melt_pressure:P1"
ONE = path_line("twin-screw", P1="before_screen")
LOG_S = 5 * 3600


def filling(bar_h: float, line=ONE) -> Script:
    s = path_script(LOG_S, line)
    add(s, P1, 0, LOG_S, 0, bar_h * LOG_S / 3600)
    return s


def test_a_filling_screen_is_said_with_the_time_to_the_limit_inside_its_interval() -> None:
    """60 bar and 3 bar/h: the recipe's 69 bar after 3 h."""
    found = only(told(filling(3.0), ScreenBlinding(), recipe=path_recipe()))
    first = seconds(found.first_decided_at) or 0
    assert 3600 <= first < 3 * 3600 and found.last.priority in (2, 3)
    s = path_script(int(first) + 60, ONE)
    add(s, P1, 0, first + 60, 0, 3.0 * (first + 60) / 3600)
    early = only(told(s, ScreenBlinding(), recipe=path_recipe()))
    left = 3 - first / 3600
    low, high = map(float, re.findall(r"\((\S+) to (\S+) h\)", early.last.summary)[0])
    assert low <= left <= high and high - low < 2.0
    assert "screen" in early.last.cause_texts[0] and "die plugging" in early.last.cause_texts


def climbs(share: float, over_s: float) -> Script:
    """Pressure ahead of the screen climbs by a share within a time and stays."""
    s = path_script(9000)
    part = s.span(5000, 9000)
    s.x[P1][part] *= 1 + share * np.minimum(np.arange(len(s.x[P1][part])) / over_s, 1)
    return s


def test_a_screen_that_fills_within_minutes_is_said_and_a_step_is_not() -> None:
    found = only(told(climbs(0.4, 2400), ScreenBlinding(), recipe=path_recipe()))
    assert 5600 <= (seconds(found.first_decided_at) or 0) <= 5000 + 1800
    assert told(climbs(0.13, 60), ScreenBlinding(), recipe=path_recipe()) == []


def test_two_sensors_take_the_drop_and_blame_the_screen_alone() -> None:
    found = only(told(filling(3.0, path_line()), ScreenBlinding(), recipe=path_recipe()))
    assert found.last.confidence == "high" and "drop over the screen" in found.last.summary
    assert "die plugging" not in found.last.cause_texts


def thicker(s: Script, share: float, start_s: float = 0.0) -> Script:
    """The melt gets thicker by so much until the end; a single screw hardly feels it, screen and die do alike."""
    part = s.span(start_s, LOG_S)
    for key in (P1, "melt_pressure:P2"):
        s.x[key][part] *= np.linspace(1, 1 + share, len(s.x[key][part]))
    return s


def test_a_screen_cannot_raise_the_pressure_behind_it() -> None:
    assert told(thicker(path_script(LOG_S), 0.25), ScreenBlinding(), recipe=path_recipe()) == []


def test_what_the_melt_does_beside_is_taken_out_of_time_and_urgency() -> None:
    """20 bar over the screen, 1 bar/h; at half time a lot 13 % thicker takes it over the 69 bar at once."""
    s = filling(1.0, path_line())
    for key in (P1, "melt_pressure:P2"):
        s.scale(key, 9000, LOG_S, 1.13)
    found = only(told(s, ScreenBlinding(), recipe=path_recipe()))
    assert found.last.priority == 3 and "with the melt, as behind it" in found.last.summary
    low, high = map(float, re.findall(r"\((\S+) to (\S+) h\)", found.last.summary)[0])
    assert low <= 4 <= high, "69 bar less the 65 that the melt of before would have at the end"
    assert any("pressure behind the screen meanwhile" in row.what for row in found.last.evidence)


def test_a_filling_screen_is_said_the_same_whatever_the_die_has_done_before_its_change() -> None:
    s = filling(3.0, path_line())
    s.scale("melt_pressure:P2", 0, LOG_S, 1.4)
    add(s, P1, 0, LOG_S, 16)
    assert len(told(s, ScreenBlinding(), recipe=path_recipe())) == 1


@pytest.mark.parametrize("bar_h", [0.0, 0.3, -3.0])
def test_slow_or_falling_is_no_news(bar_h: float) -> None:
    assert told(filling(bar_h), ScreenBlinding(), recipe=path_recipe()) == []


def test_a_rate_change_in_between_neither_hides_nor_makes_it() -> None:
    s = filling(3.0)
    for key in ("feeder_rate:F1", "feeder_rate:F2", "feeder_rate:F3"):
        s.scale(key, 5000, LOG_S, 1.2)
        s.scale(key.replace("rate", "setpoint"), 5000, LOG_S, 1.2)
    s.scale(P1, 5000, LOG_S, 1.2**0.45)
    assert len(told(s, ScreenBlinding(), recipe=path_recipe())) == 1


def test_faster_and_faster_is_a_trend_too() -> None:
    """Exponential, as with intermediate blocking: from 60 bar by a fifth in five hours, most of it in the last two."""
    s = path_script(LOG_S, ONE)
    s.x[P1] *= 1 + 0.2 * np.expm1(np.linspace(0, 3, s.n)) / np.expm1(3)
    found = only(told(s, ScreenBlinding(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) < 4.7 * 3600


def test_a_viscosity_that_wanders_slowly_is_no_screen() -> None:
    """A wave of 3 % either way with a period of three hours, torque along with it."""
    s = path_script(LOG_S, ONE)
    wave = 1 + 0.03 * np.sin(np.arange(s.n) / 10800 * 2 * np.pi)
    s.x[P1] *= wave
    s.x["torque"] = 8 + (s.x["torque"] - 8) * wave
    assert told(s, ScreenBlinding(), recipe=path_recipe()) == []


def test_a_hotter_melt_hides_it_from_the_eye_but_not_from_the_rule() -> None:
    """Melt temperature climbs by 8 C: pressure stands still only because of it."""
    s = path_script(LOG_S, ONE)
    add(s, "melt_temperature:MT1", 0, LOG_S, 0, 10)
    heat = 20 / 8.314e-3 * (1 / (228 + np.linspace(0, 10, s.n) + 273.15) - 1 / 501.15)
    s.x[P1] *= np.exp(heat) * np.linspace(1, 1.14, s.n)
    assert len(told(s, ScreenBlinding(), recipe=path_recipe())) == 1


def test_a_screen_change_ends_it_and_starts_anew() -> None:
    s = filling(3.0)
    s.x[P1][s.span(9000, LOG_S)] -= 3.0 * 9000 / 3600
    found = told(s, ScreenBlinding(), recipe=path_recipe())
    assert len(found) == 2 and found[0].last.until is not None


def test_a_step_up_is_not_filling() -> None:
    s = path_script(LOG_S, ONE)
    s.scale(P1, 9000, 11000, 1.3)
    assert told(s, ScreenBlinding(), recipe=path_recipe()) == []


def test_thicker_melt_lifts_torque_as_well_and_is_not_a_screen() -> None:
    s = filling(3.0)
    s.x["torque"] = 8 + (s.x["torque"] - 8) * s.x[P1] / 60
    assert told(s, ScreenBlinding(), recipe=path_recipe()) == []


def test_a_changer_that_cleans_itself_is_left_alone_once_it_is_known() -> None:
    s = path_script(8 * 3600, ONE)
    s.x[P1] *= 1 + 0.10 * (np.arange(s.n) % 5400) / 5400
    found = told(s, ScreenBlinding(), recipe=path_recipe())
    assert all((seconds(f.last.since) or 0) < 3 * 5400 for f in found)


def test_without_any_limit_it_is_said_by_its_rise() -> None:
    line = ONE.model_copy(update={"limits": type(ONE.limits)(), "version": "no limit"})
    recipe = path_recipe()
    recipe = type(recipe).model_validate({**recipe.model_dump(), "window": []})
    found = only(told(filling(3.0, line), ScreenBlinding(), recipe=recipe))
    assert "bar in" not in found.last.summary and "nan" not in words(found)


def test_a_limit_met_within_minutes_is_told_as_reached_and_not_in_no_hours() -> None:
    ctx = Context(line=ONE, recipe=path_recipe(), material=None, step_s=10.0)
    (subject, *_) = ScreenBlinding().subjects(ctx)

    def left(hours: float, latest_h: float = 0.5) -> str:
        facts = {"left_h": hours, "from_h": hours, "to_h": latest_h, "limit": 96.0}
        return ScreenBlinding()._left(subject, facts, ctx)

    assert "is reached" in left(0.04) and " h" not in left(0.04)
    assert "in 0.1 h (0.1 to 0.5 h)" in left(0.06)
    # What may as well take half a year has no latest hour worth telling.
    assert "in 2.8 h (not before 2.8 h)" in left(2.8, 4711.5)


def test_an_interval_without_an_end_is_told_in_words() -> None:
    assert _between(0.4, math.inf) == " (not before 0.4 h)"
    assert _between(0.4, 2.0) == " (0.4 to 2.0 h)"
    assert _between(math.inf, 2.0) == " (2.0 h at the latest)"
    assert _between(math.nan, math.nan) == "" and _between(math.inf, math.inf) == ""


def test_no_row_of_evidence_is_empty() -> None:
    facts = dict.fromkeys(("drop_bar", "base_bar", "bar_h", "left_h"), 1.0)
    facts |= dict.fromkeys(("torque_rise", "from_h", "to_h", "melt_rise"), math.nan)
    rows = ScreenBlinding()._evidence("P1", {**facts, "from_h": math.inf})

    assert [row.what for row in rows] == ["corrected to one rate and melt temperature", "rising", "time to the limit"]


def test_a_zero_that_drifts_is_among_the_causes() -> None:
    assert any(
        "zero of the sensor" in cause
        for cause in only(told(filling(3.0), ScreenBlinding(), recipe=path_recipe())).last.cause_texts
    )


@pytest.mark.parametrize("share", [0.12, 0.2])
def test_a_step_on_a_slow_drift_is_no_trend_however_long_it_stands(share: float) -> None:
    """A new lot at 7000 s; two per cent of drift in the whole log lean the slope of all points upward."""
    s = path_script(LOG_S, ONE)
    s.x[P1] *= np.linspace(1.0, 1.02, s.n)
    s.scale(P1, 7000, LOG_S, 1 + share)
    assert told(s, ScreenBlinding(), recipe=path_recipe()) == []


@pytest.mark.parametrize("rise", [0.15, 0.4])
def test_a_small_rise_that_has_come_to_rest_is_over_and_a_full_screen_is_when_it_is_changed(rise: float) -> None:
    """Up within forty minutes, and then it stands for hours: no dirt has left it."""
    s = path_script(LOG_S, ONE)
    part, changed_s = s.span(5000, LOG_S), LOG_S - 1800
    s.x[P1][part] *= 1 + rise * np.minimum(np.arange(len(s.x[P1][part])) / 2400, 1)
    s.scale(P1, changed_s, LOG_S, 1 / (1 + rise))
    found = only(told(s, ScreenBlinding(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) <= 7400
    over = seconds(found.last.until) or LOG_S
    assert (7400 < over <= 7400 + 2700) if rise < 0.3 else (changed_s <= over <= changed_s + 900)


@pytest.mark.parametrize("bar", [0.6, 2.5])
def test_no_creep_is_told_from_the_zero_of_a_sensor(bar: float) -> None:
    """A disc has burst, or a die stands open: what is left is the hot zero of the sensor, and that moves."""
    line = ONE.model_copy(update={"limits": type(ONE.limits)(), "version": "no limit"})
    recipe = path_recipe()
    recipe = type(recipe).model_validate({**recipe.model_dump(), "window": []})
    s = filling(8, line)
    assert told(s, ScreenBlinding(), recipe=recipe)
    s.x[P1] *= bar / 60
    assert told(s, ScreenBlinding(), recipe=recipe) == []


def test_the_machines_limit_is_told_as_it_is_and_four_fifths_of_it_as_such() -> None:
    recipe = path_recipe()
    recipe = type(recipe).model_validate({**recipe.model_dump(), "window": []})
    machine = ONE.limits.melt_pressure_bar or 0
    finding = only(told(filling(8), ScreenBlinding(), recipe=recipe))
    assert f"; {0.8 * machine:.0f} bar, four fifths of the machine's limit of {machine:.0f}, " in finding.last.summary


@pytest.mark.parametrize("die_c", [-33.0, 0.0])
def test_what_a_die_without_its_heat_adds_is_told_under_it(die_c: float) -> None:
    """A third more pressure within the hour in which its die goes cold."""
    s = path_script(12000)
    part = s.span(6000, 12000)
    t = np.arange(len(s.x[P1][part])) * s.cadence
    s.x[P1][part] *= 1 + 0.35 * np.minimum(t / 2400, 1.0)
    s.x["zone_temperature:DIE"][part] += die_c * np.minimum(t / 1200, 1.0)
    found = {
        f.last.condition: f.last
        for f in told(s, ScreenBlinding(limit_bar=60), UnderTemperature(), recipe=path_recipe())
    }
    assert found["screen_blinding"].part_of == (found["zone_under_temperature"].finding if die_c else "")
