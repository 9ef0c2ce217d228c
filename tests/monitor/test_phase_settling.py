"""How long a change settles, by residence time where geometry and rate are known; feeders that are switched off."""

from __future__ import annotations

import pytest

from monitor import phases
from monitor.contract import Context
from monitor.line import Line
from monitor.recipe import Recipe
from tests.monitor.test_phases import Signals, context, line_of, running, stretches

GEOMETRY = {"screw_diameter_mm": 40, "diameter_ratio": 1.55, "length_over_diameter": 40, "mean_fill": 0.4}
"""The worked example of fill and residence time: 15.0679 s at 100 kg/h and 750 kg/m3, so 0.41855 kg are held."""


def with_geometry(line: Line, **geometry: float) -> Line:
    return Line.model_validate({**line.model_dump(), "geometry": {**GEOMETRY, **geometry}})


@pytest.mark.parametrize(
    ("rate", "settles"),
    [(100.0, 120.0), (50.24, 120.0), (25.0, 241.09), (3.0, 1800.0)],
    ids=["fast", "4 x 30 s", "4 x 60.3 s", "half an hour at most"],
)
def test_settling_is_four_mean_residence_times_but_never_less_than_two_minutes(rate: float, settles: float) -> None:
    recipe = Recipe.model_validate({"format": 1, "recipe": {"name": "R", "melt_density_kg_m3": 750}})
    ctx = Context(with_geometry(line_of()), recipe, None, 10.0)

    assert phases.settling_s(ctx, rate) == pytest.approx(settles, abs=0.1)


def test_settling_without_geometry_or_rate_is_the_usual_time() -> None:
    bare = Context(with_geometry(line_of()), None, None, 10.0)

    assert phases.settling_s(bare) == 120.0
    assert phases.settling_s(context(line_of()), 3.0) == 120.0
    assert phases.settling_s(context(line_of("single-screw")), 3.0) == 240.0


def test_a_slow_line_is_given_longer_and_by_the_rate_it_was_changed_to() -> None:
    """At 20 kg/h and 800 kg/m3 4 mean residence times are 321 s."""
    line = with_geometry(line_of())
    s = Signals(line).then(600, speed=200, rate=100, hot=200, want=200).then(600, rate=20)
    names, _, _ = s.judge(context(line))

    assert stretches(names)[:3] == [("starting", 50), ("settling", 60), ("steady", 490)]
    assert stretches(names[60:]) == [("changing", 10), ("settling", 320), ("steady", 270)]


def test_feeders_that_are_all_switched_off_aim_at_nothing() -> None:
    data = line_of().model_dump()
    data["sensor"] = [*data["sensor"], *({"tag": f"on{f}", "role": "feeder_running", "at": f} for f in ("F1", "F2"))]
    line = Line.model_validate(data)
    on = {"feeder_running__F1": 1, "feeder_running__F2": 1}
    s = Signals(line).then(300, speed=200, rate=80, hot=200, want=200, **on)
    s.then(60, feeder_running__F1=0).then(60, feeder_running__F2=0)
    names, _, _ = s.judge(context(line))

    assert set(names[30:36]) == {"steady"}, "one of two is a fault"
    assert stretches(names[36:]) == [("stopping", 10), ("idle", 50)]


@pytest.mark.parametrize(("kind", "asked"), [("twin-screw", True), ("single-screw", False)])
def test_set_points_over_a_flood_fed_screw_follow_it_and_ask_nothing(kind: str, asked: bool) -> None:
    line = line_of(kind)
    names, ages, _ = running(line).then(600, rate=50).judge(context(line))

    assert ("changing" in names) == asked
    assert (ages["unchanged"][60] == 0.0) == asked
