"""What the line is doing: small scripted signals on 10 s cells, and any cut."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor import phases
from monitor.checkpoint import dump_state
from monitor.contract import Context
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.view import Readings

S = 1_000_000_000
NAN = float("nan")
ZONES = ("Z1", "Z2")


def line_of(kind: str = "twin-screw", setpoints: bool = True, zones: bool = True) -> Line:
    sensors = [{"tag": "n", "role": "screw_speed"}, {"tag": "q1", "role": "feeder_rate", "at": "F1"}]
    sensors += [{"tag": "q2", "role": "feeder_rate", "at": "F2"}]
    if setpoints:
        sensors += [{"tag": "ns", "role": "screw_speed_setpoint"}]
        sensors += [{"tag": f"qs{f}", "role": "feeder_setpoint", "at": f} for f in ("F1", "F2")]
    if zones:
        sensors += [{"tag": f"t{z}", "role": "zone_temperature", "at": z} for z in ZONES]
        sensors += [{"tag": f"s{z}", "role": "zone_setpoint", "at": z} for z in ZONES]
    return Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": kind},
            "zone": [{"name": z} for z in ZONES],
            "feeder": [{"name": "F1"}, {"name": "F2"}],
            "sensor": sensors,
        }
    )


def context(line: Line, soak_min: float = 5.0, with_recipe: bool = True) -> Context:
    recipe = Recipe.model_validate(
        {
            "format": 1,
            "recipe": {"name": "R", "soak_min": soak_min, "rate_kg_h": 100, "screw_speed_rpm": 200},
            "zones": {"Z1": 200, "Z2": 200},
        }
    )
    return Context(line, recipe if with_recipe else None, None, 10.0)


class Signals:
    """Rows of a log on 10 s cells, put together stretch by stretch."""

    def __init__(self, line: Line) -> None:
        self.line = line
        self.now: dict[str, float] = dict.fromkeys(line.channels, 0.0)
        self.cells: dict[str, list[float]] = {key: [] for key in line.channels}

    def then(self, seconds: float, **given: float) -> Signals:
        """So long with these values; speed and rate stand for themselves and their set-points."""
        for name, value in given.items():
            self.put(name, value)
        for _ in range(round(seconds / 10)):
            for key, row in self.cells.items():
                row.append(self.now[key])
        return self

    def put(self, name: str, value: float) -> None:
        targets = {
            "speed": ("screw_speed", "screw_speed_setpoint"),
            "rate": ("feeder_rate:F1", "feeder_setpoint:F1"),
            "hot": tuple(f"zone_temperature:{z}" for z in ZONES),
            "want": tuple(f"zone_setpoint:{z}" for z in ZONES),
        }.get(name, (name.replace("__", ":"),))
        for key in targets:
            if key in self.now:
                self.now[key] = value

    def judge(self, ctx: Context, cuts: tuple[int, ...] = ()) -> tuple[list[str], dict[str, np.ndarray], str]:
        """Phase names, ages, and the last state as text."""
        index = {key: place for place, key in enumerate(self.line.channels)}
        values = np.array([self.cells[key] for key in self.line.channels]).reshape(len(index), -1)
        state: Any = phases.start(ctx)
        names: list[str] = []
        ages: list[dict[str, np.ndarray]] = []
        for first, last in itertools.pairwise([0, *cuts, values.shape[1]]):
            part = values[:, first:last]
            state, run = phases.advance(state, Readings(first * 10 * S, 10 * S, index, part, part), ctx)
            names += [phases.PHASES[code] for code in run.phase.tolist()]
            ages.append(run.ages)
        joined = {name: np.concatenate([one[name] for one in ages], axis=-1) for name in ages[0]}
        return names, joined, dump_state(state)


def running(line: Line, seconds: float = 600) -> Signals:
    """A line that has been running hot from the start of the log."""
    return Signals(line).then(
        seconds, speed=200, rate=80, feeder_rate__F2=20, feeder_setpoint__F2=20, hot=200, want=200
    )


def stretches(names: list[str]) -> list[tuple[str, int]]:
    """(phase, seconds), in order."""
    return [(name, 10 * len(list(group))) for name, group in itertools.groupby(names)]


def test_a_whole_start_up_from_cold() -> None:
    line = line_of()
    s = Signals(line).then(100, hot=20, want=20)
    s.then(200, want=200).then(100, hot=150).then(200, hot=193).then(200, hot=199)
    s.then(60, speed=100).then(600, rate=80)

    names, ages, _ = s.judge(context(line, soak_min=5))

    assert stretches(names) == [
        ("stopped", 100),
        ("heating", 300),
        ("soaking", 290),
        ("ready", 110),
        ("idle", 60),
        ("starting", 50),
        ("settling", 70),
        ("steady", 480),
    ]
    assert ages["soaked"][39:42].tolist() == [0.0, 10.0, 20.0], (
        "the soak counts from the first cell in which all zones are there"
    )


def test_a_jog_does_not_end_the_soak() -> None:
    line = line_of()
    s = Signals(line).then(100, hot=150, want=200).then(100, hot=199).then(20, speed=50).then(400, speed=0)
    names, ages, _ = s.judge(context(line, soak_min=5))

    assert stretches(names) == [("heating", 100), ("soaking", 100), ("idle", 20), ("soaking", 190), ("ready", 210)]
    longer = Signals(line).then(100, hot=150, want=200).then(100, hot=199).then(120, speed=50).then(100, speed=0)
    assert longer.judge(context(line, soak_min=5))[0][-1] == "stopped", "it was started"
    assert ages["soaked"][-1] == 500.0


def test_one_cold_zone_keeps_the_whole_line_heating() -> None:
    line = line_of()
    names, _, _ = Signals(line).then(100, hot=199, want=200, zone_temperature__Z2=174.0).judge(context(line))

    assert set(names) == {"heating"}


def test_a_hot_line_at_rest_is_stopped_for_it_has_not_been_seen_heating() -> None:
    line = line_of()
    names, ages, _ = Signals(line).then(50, hot=200, want=200).judge(context(line))

    assert set(names) == {"stopped"}
    assert (ages["still"] >= phases.NEVER).all(), "nobody knows for how long it has stood"


def test_a_log_that_begins_on_a_running_line() -> None:
    line = line_of()
    names, ages, _ = running(line, 300).judge(context(line))

    assert stretches(names) == [("starting", 50), ("settling", 60), ("steady", 190)]
    assert (ages["started"] >= phases.NEVER).all() and (ages["turning"] >= phases.NEVER).all()
    assert ages["running"].tolist()[:3] == [10.0, 20.0, 30.0], "as seen"


def test_a_stop_by_feed_then_screw() -> None:
    line = line_of()
    s = running(line).then(60, rate=0, feeder_rate__F2=0, feeder_setpoint__F2=0).then(100, speed=0)

    assert stretches(s.judge(context(line))[0])[3:] == [("stopping", 10), ("idle", 50), ("stopped", 100)]


def test_a_trip_of_the_screw_is_a_stop_though_the_feeders_run_on() -> None:
    line = line_of()
    names, ages, _ = running(line).then(50, screw_speed=0).judge(context(line))

    assert names[-5:] == ["stopped"] * 5
    assert ages["still"][-5:].tolist() == [10.0, 20.0, 30.0, 40.0, 50.0]


def test_a_restart_is_a_start_again() -> None:
    line = line_of()
    s = running(line).then(120, speed=0, rate=0, feeder_rate__F2=0, feeder_setpoint__F2=0)
    s.then(30, speed=200).then(300, rate=80)
    names, ages, _ = s.judge(context(line))

    assert stretches(names)[3:] == [("stopped", 120), ("idle", 30), ("starting", 50), ("settling", 70), ("steady", 180)]
    assert ages["started"][75] == 10.0
    assert ages["turning"][72] == 10.0


@pytest.mark.parametrize(
    ("change", "seen"),
    [({"speed": 220}, True), ({"speed": 209}, False), ({"rate": 100}, True), ({"rate": 84}, False)],
    ids=["speed +10 %", "speed +4.5 %", "rate +20 %", "rate +4 %"],
)
def test_a_set_point_change(change: dict[str, float], seen: bool) -> None:
    line = line_of()
    names, ages, _ = running(line).then(300, **change).judge(context(line))

    after = stretches(names[60:])
    assert after == ([("changing", 10), ("settling", 110), ("steady", 180)] if seen else [("steady", 300)])
    assert ages["unchanged"][60] == (0.0 if seen else 610.0)


def test_small_steps_add_up_to_a_change() -> None:
    line = line_of()
    names, _, _ = running(line).then(100, speed=206).then(100, speed=212).judge(context(line))

    assert names[60:70] == ["steady"] * 10
    assert names[70] == "changing", "6 % from what it settled on"


def test_a_speed_that_is_pulled_down_without_anybody_asking_is_no_change() -> None:
    """The screw labours under a tramp load; its set-point stands."""
    line = line_of()
    names, _, _ = running(line).then(100, screw_speed=150).judge(context(line))

    assert set(names[60:]) == {"steady"}


def test_without_a_set_point_the_speed_itself_tells_a_change() -> None:
    line = line_of(setpoints=False)
    names, _, _ = running(line).then(100, speed=240).judge(context(line))

    assert names[60] == "changing"


def test_a_feeder_lost_with_a_set_point_is_a_fault_not_a_stop() -> None:
    line = line_of()
    names, _, _ = running(line).then(3600, feeder_rate__F1=0).judge(context(line))

    assert set(names[60:]) == {"steady"}


def test_all_feeders_lost_together_are_switched_off_though_their_set_points_stand() -> None:
    line = line_of()
    names, _, _ = running(line).then(600, feeder_rate__F1=0, feeder_rate__F2=0).judge(context(line))

    assert stretches(names[60:]) == [("stopping", 10), ("idle", 590)]


def test_feed_lost_without_set_points_is_waited_for_five_minutes() -> None:
    line = line_of(setpoints=False)
    names, _, _ = running(line).then(600, feeder_rate__F1=0, feeder_rate__F2=0).judge(context(line))

    assert stretches(names[60:]) == [("steady", 290), ("stopping", 10), ("idle", 300)]


def test_feed_that_comes_back_in_time_was_never_gone() -> None:
    line = line_of(setpoints=False)
    s = running(line).then(280, feeder_rate__F1=0, feeder_rate__F2=0).then(100, rate=80)

    assert set(s.judge(context(line))[0][60:]) == {"steady"}


def test_without_a_recipe_the_highest_rate_seen_tells_what_is_nothing() -> None:
    line = line_of(setpoints=False)
    s = running(line).then(400, feeder_rate__F1=3, feeder_rate__F2=1)

    assert s.judge(context(line, with_recipe=False))[0][-1] == "idle"


def test_a_flood_fed_screw_that_turns_makes_product() -> None:
    line = line_of("single-screw", setpoints=False)
    names, _, _ = Signals(line).then(100, hot=200, want=200).then(600, speed=60).judge(context(line))

    assert stretches(names) == [("stopped", 100), ("starting", 50), ("settling", 190), ("steady", 360)]


def test_a_short_gap_is_no_news() -> None:
    line = line_of()
    names, ages, _ = running(line).then(300, screw_speed=NAN).then(300, screw_speed=200).judge(context(line))

    assert set(names[60:]) == {"steady"}
    assert ages["unchanged"][89] == 600.0 and ages["unchanged"][90] == 610.0, "what passed unseen does not count"


def test_a_long_gap_is_unknown_and_then_settles_anew() -> None:
    line = line_of()
    names, ages, _ = running(line).then(340, screw_speed=NAN).then(300, screw_speed=200).judge(context(line))

    assert stretches(names[60:94]) == [("steady", 300), ("unknown", 40)]
    assert stretches(names[94:]) == [("starting", 50), ("settling", 60), ("steady", 190)]
    assert (ages["started"] >= phases.NEVER).all(), "not known to have stopped"


def test_gaps_that_follow_each_other_are_counted_apart() -> None:
    line = line_of()
    s = running(line)
    for _ in range(5):
        s.then(200, screw_speed=NAN).then(10, screw_speed=200)

    assert "unknown" not in s.judge(context(line))[0]


def test_a_log_that_begins_blind_is_unknown() -> None:
    line = line_of()

    assert set(Signals(line).then(200, screw_speed=NAN).judge(context(line))[0]) == {"unknown"}


def test_rates_that_are_missing_do_not_make_it_idle() -> None:
    line = line_of(setpoints=False)
    names, _, _ = running(line).then(600, feeder_rate__F1=NAN, feeder_rate__F2=NAN).judge(context(line))

    assert set(names[60:]) == {"steady"}


def test_zone_ages_restart_when_a_set_point_moves_by_more_than_two_degrees() -> None:
    line = line_of()
    s = running(line, 100).then(50, zone_setpoint__Z1=202).then(50, zone_setpoint__Z1=205)
    _, ages, _ = s.judge(context(line))

    first, second = ages["zones"]
    assert first[14] >= phases.NEVER and first[15:].tolist() == [0.0, 10.0, 20.0, 30.0, 40.0]
    assert (second >= phases.NEVER).all()


@pytest.mark.parametrize(("speed", "turns"), [(3.9, False), (4.1, True)])
def test_below_two_percent_of_the_wanted_speed_the_screw_stands(speed: float, turns: bool) -> None:
    line = line_of()
    names, _, _ = Signals(line).then(20, screw_speed=speed, rate=80, hot=200, want=200).judge(context(line))

    assert (names[-1] != "stopped") == turns


def test_another_recipe_at_the_same_speed_and_rate_is_a_change() -> None:
    line = line_of()
    ctx = context(line)
    index = {key: place for place, key in enumerate(line.channels)}
    s = running(line, 600)
    values = np.array([s.cells[key] for key in line.channels])
    state, _ = phases.advance(phases.start(ctx), Readings(0, 10 * S, index, values, values), ctx)

    part = values[:, :20]
    _, run = phases.advance(phases.recipe_changed(state), Readings(0, 10 * S, index, part, part), ctx)

    names = [phases.PHASES[code] for code in run.phase.tolist()]
    assert stretches(names) == [("changing", 10), ("settling", 110), ("steady", 80)]


def test_a_line_without_zones_or_with_a_cold_barrel_never_heats() -> None:
    line = line_of(zones=False)

    assert set(Signals(line).then(50).judge(context(line))[0]) == {"stopped"}
    assert set(Signals(line).then(50).judge(context(line, with_recipe=False))[0]) == {"stopped"}


STRETCHES = st.lists(
    st.tuples(
        st.integers(1, 40),
        st.sampled_from([0.0, 3.0, 200.0, 230.0, NAN]),
        st.sampled_from([0.0, 4.0, 80.0, NAN]),
        st.sampled_from([0.0, 80.0, 90.0, NAN]),
        st.sampled_from([20.0, 195.0, NAN]),
        st.sampled_from([20.0, 200.0, NAN]),
    ),
    max_size=8,
)


@settings(deadline=None, max_examples=60)
@given(
    STRETCHES, st.lists(st.integers(0, 320), max_size=5), st.booleans(), st.sampled_from(["twin-screw", "single-screw"])
)
def test_any_cut_and_what_holds_in_every_cell(parts, cuts, setpoints, kind) -> None:  # type: ignore[no-untyped-def]
    line = line_of(kind, setpoints)
    ctx, s = context(line), Signals(line)
    for cells, speed, rate, wanted, hot, want in parts:
        given = {"screw_speed": speed, "feeder_rate:F1": rate, "feeder_setpoint:F1": wanted}
        for key, value in given.items():
            s.put(key, value)
        s.then(10 * cells, hot=hot, want=want)
    n = len(s.cells["screw_speed"])

    names, ages, state = s.judge(ctx)
    again = s.judge(ctx, tuple(sorted(min(cut, n) for cut in cuts)))
    singly = s.judge(ctx, tuple(range(1, n)))

    for other in (again, singly):
        assert other[0] == names and other[2] == state
        for name, row in ages.items():
            np.testing.assert_array_equal(other[1][name], row)
    limit = phases.turning_limit_rpm(ctx)
    blind = 0
    for i, (name, speed) in enumerate(zip(names, s.cells["screw_speed"], strict=True)):
        blind = blind + 1 if speed != speed else 0
        if blind:
            assert name == ("unknown" if blind > 30 or i == 0 else names[i - 1])
        else:
            standing = name in ("stopped", "heating", "soaking", "ready")
            assert name != "unknown" and standing == (speed <= limit)
            assert (ages["still"][i] > 0) == standing and (ages["turning"][i] > 0) != standing
        assert name != "purging", "one feeder alone is never shut off for a purge"
