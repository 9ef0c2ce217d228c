"""Starved with all feeders on set: a feeder that says more than it delivers, a path blocked while pressure rises or
is gone; and feeders that the machine does not bear out."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.flooded import Flooded
from monitor.conditions.recipe_window import RecipeWindow
from monitor.conditions.sme_off import SmeOff
from monitor.conditions.starved import Starved
from monitor.line import Line
from tests.monitor.conditions.told import TWIN, Story, only, seconds, told, twin
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 2400, 1200, 1800


def rate_is_a_copy(s: Script) -> None:
    """The main feeder's hopper bridges; its rate shows the set-point, its drive goes to the end."""
    s.put("feeder_rate:F1", FROM, TO, 240.0)
    s.put("feeder_drive:F1", FROM, TO, 100.0)
    s.scale("torque", FROM + 20, TO, 0.8)
    s.scale("melt_pressure:P1", FROM + 30, TO, 0.9)


def half_as_much_a_turn(s: Script) -> None:
    s.scale("feeder_drive:F1", FROM, TO, 1.9)
    s.scale("torque", FROM + 20, TO, 0.8)
    s.scale("melt_pressure:P1", FROM + 30, TO, 0.9)


@pytest.mark.parametrize("story", [rate_is_a_copy, half_as_much_a_turn])
def test_a_feeder_that_says_more_than_it_delivers_starves_and_does_not_flood(story: Story) -> None:
    """A bulk density a fifth down floods an intake; no material takes all of the drive, or half as much again."""
    s = twin(LOG_S)
    story(s)
    found = told(s, Starved(), Flooded())

    assert {finding.last.condition for finding in found} == {"starved"}
    assert "delivers less than it says" in found[0].last.cause_texts[0]


def test_half_of_the_torque_gone_at_once_is_a_path_blocked_though_pressure_rises() -> None:
    """What a side feeder goes on adding makes what is left stiffer."""
    s = twin(LOG_S)
    s.scale("torque", FROM, TO, 0.45)
    s.scale("melt_pressure:P1", FROM + 20, TO, 1.15)
    finding = only(told(s, Starved()))

    assert finding.last.cause_texts[0] == "path blocked between feeder and throat"


@pytest.mark.parametrize(("torque", "left"), [(0.4, 0.35), (0.15, 0.01)])
def test_a_path_shut_so_far_that_the_die_runs_empty_takes_as_much_of_the_pressure(torque: float, left: float) -> None:
    """What is left gets hotter by the same work; at last there is no pressure at all."""
    s = twin(LOG_S)
    s.scale("torque", FROM, TO, torque)
    s.scale("melt_pressure:P1", FROM + 5, TO, left)
    s.x["melt_temperature:MT1"][s.span(FROM + 60, TO)] += 20
    finding = only(told(s, Starved()))

    assert finding.last.cause_texts[0] == "path blocked between feeder and throat"
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 90


def creeps(s: Script, torque: float, pressure: float, melt_c: float) -> None:
    """Within a quarter of an hour load, pressure and melt temperature go where they stay."""
    start, end = 2400, 3300
    for key, factor in (("torque", torque), ("melt_pressure:P1", pressure)):
        ramp = np.interp(np.arange(s.n) * s.cadence, (start, end), (1.0, factor))
        s.x[key] *= ramp
    s.x["melt_temperature:MT1"] += np.interp(np.arange(s.n) * s.cadence, (start, end), (0.0, melt_c))


@pytest.mark.parametrize(
    ("torque", "pressure", "melt_c", "said"),
    [
        pytest.param(0.80, 1.00, -5.0, True, id="less comes, and colder: the pressure hides it"),
        pytest.param(0.80, 0.80, -5.0, False, id="a thinner melt takes as much of the pressure"),
        pytest.param(0.80, 1.00, 0.0, False, id="a torque that reads low leaves the melt as warm"),
        pytest.param(0.97, 1.03, -5.0, False, id="zones set lower: colder melt, hardly less load"),
    ],
)
def test_a_loss_that_creeps_in_shows_in_a_colder_melt(
    torque: float, pressure: float, melt_c: float, said: bool
) -> None:
    s = twin(6000)
    creeps(s, torque, pressure, melt_c)
    found = told(s, Starved(), Flooded())

    assert [finding.last.condition for finding in found] == (["starved"] if said else [])
    assert not said or "both fit" in found[0].last.summary


def test_a_third_of_the_torque_gone_at_once_is_said_before_a_slow_head_shows_it() -> None:
    """Behind a large head and a long die the pressure goes down by a tenth in five minutes, restless as it is."""
    s = twin(3600)
    s.scale("torque", 1500, 2400, 0.66)
    s.x["melt_pressure:P1"] += 2.0 * s.noise(1.0)
    part = s.span(1530, 2400)
    s.x["melt_pressure:P1"][part] *= np.linspace(1.0, 0.9, part.stop - part.start)
    finding = only(told(s, Starved()))

    assert finding.last.cause_texts[0] == "path blocked between feeder and throat"
    assert (seconds(finding.first_decided_at) or 0) <= 1500 + 80


def side_filler() -> Line:
    """The line with F2 as a side feeder of a filler that thickens the melt."""
    feeders = [
        {"name": name, "at": "Z3" if name == "F2" else "Z1", "side": name == "F2"} for name in ("F1", "F2", "F3")
    ]
    return type(TWIN).model_validate({**TWIN.model_dump(), "feeder": feeders, "version": "side"})


@pytest.mark.parametrize(
    ("torque", "pressure", "melt_c", "by_the_side", "said"),
    [
        pytest.param(0.91, 0.97, 0.0, False, True, id="a tenth, pressure a third as much"),
        pytest.param(0.91, 0.91, 0.0, False, False, id="a thinner melt takes as much of the pressure"),
        pytest.param(0.91, 0.97, -15.0, False, False, id="a thinner melt is colder"),
        pytest.param(0.91, 1.01, -2.0, True, True, id="a tenth, the filler holds the pressure"),
        pytest.param(0.65, 1.06, -8.0, True, True, id="a third, the filler raises it"),
        pytest.param(0.91, 1.01, -2.0, False, False, id="nothing by the side holds it"),
        pytest.param(0.91, 1.12, 0.0, True, False, id="no filler raises it so far"),
        pytest.param(0.97, 0.99, 0.0, True, False, id="three per cent"),
    ],
)
def test_a_small_fall_is_clear_where_it_is_sharp(
    torque: float, pressure: float, melt_c: float, by_the_side: bool, said: bool
) -> None:
    s = twin(LOG_S)
    s.scale("torque", FROM, TO, torque)
    s.scale("melt_pressure:P1", FROM + 10, TO, pressure)
    s.x["melt_temperature:MT1"][s.span(FROM + 10, TO)] += melt_c
    found = told(s, Starved(), Flooded(), line=side_filler() if by_the_side else TWIN)

    assert len(found) == said
    assert not said or (seconds(found[0].first_decided_at) or 0) <= FROM + 80
    assert not said or (seconds(found[0].last.until) or 0) <= TO + 30


def test_a_small_fall_that_creeps_is_left_to_the_work_per_kilogram() -> None:
    s = twin(3600)
    part = s.span(1500, 2700)
    s.x["torque"][part] *= np.linspace(1.0, 0.91, part.stop - part.start)
    s.x["melt_pressure:P1"][part] *= np.linspace(1.0, 0.97, part.stop - part.start)

    assert told(s, Starved(), Flooded()) == []


@pytest.mark.parametrize(("key", "odd"), [("melt_pressure:P1", 0.0), ("melt_pressure:P1", 180.0), ("torque", 70.0)])
def test_one_odd_reading_does_not_end_what_goes_on(key: str, odd: float) -> None:
    """The fall was hours ago: what ended by a slip of a transmitter would not be told again."""
    s = twin(LOG_S)
    s.scale("torque", FROM, TO, 0.7)
    s.scale("melt_pressure:P1", FROM + 20, TO, 0.85)
    s.put(key, 1500, 1510, odd)
    finding = only(told(s, Starved()))

    assert finding.last.cause_texts[0] == "path blocked between feeder and throat"
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 60


def test_what_the_feeders_say_bounds_nothing_where_the_screws_run_emptier_than_fed() -> None:
    """The pressure goes on falling after it was said, by a quarter in all, as it does by less feed."""
    s = twin(LOG_S)
    s.scale("torque", FROM, TO, 0.64)
    at = np.arange(s.n) * s.cadence
    s.x["melt_pressure:P1"] *= np.interp(at, (FROM, FROM + 10, FROM + 120, TO, TO + 1), (1.0, 0.96, 0.7, 0.7, 1.0))
    found = {finding.last.condition: finding for finding in told(s, Starved(), SmeOff(), RecipeWindow())}

    assert found["sme_off"].last.part_of == found["recipe_window"].last.part_of == found["starved"].last.finding


def gives_nothing(s: Script, torque: float) -> None:
    """The head runs empty: the pressure is gone within half a minute, of the torque so much is left."""
    s.scale("torque", FROM, TO, torque)
    s.put("melt_pressure:P1", FROM + 20, TO, 0.0)


def test_a_screw_that_gives_nothing_at_all_with_all_feeders_on_set_has_its_path_shut() -> None:
    """No lot is so thin that its pressure is gone; the torque is at no-load besides."""
    s = twin(LOG_S)
    gives_nothing(s, 0.3)

    finding = only(told(s, Starved()))

    assert finding.last.cause_texts[0] == "path blocked between feeder and throat"
    assert finding.last.priority == 2


def test_a_pressure_that_is_gone_while_the_screw_works_on_is_no_path_shut() -> None:
    """A burst disc, a line that has come off, a sensor: the screw is as full as it was."""
    s = twin(LOG_S)
    gives_nothing(s, 0.85)

    assert told(s, Starved()) == []


def test_a_torque_that_stays_does_not_bear_the_feeders_out() -> None:
    s = twin(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", FROM, TO, 0.65)
    s.scale("torque", FROM + 5, TO, 0.98)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.92)

    last = only(told(s, Starved())).last

    assert "the machine follows" not in last.summary and "both fit" in last.summary
    assert any(cause.text.startswith("a scale was touched") for cause in last.causes)
    assert last.confidence == "low"
