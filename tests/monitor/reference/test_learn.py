"""A reference gives back the laws it was learned from, refuses bad runs, and says nothing outside its range."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from ingest.block import Note
from monitor.core import Monitor
from monitor.line import Line
from monitor.records import findings
from monitor.reference.apply import Applied
from monitor.reference.collect import Minutes
from monitor.reference.file import read_reference, write_reference
from monitor.reference.join_runs import in_time_order
from monitor.reference.learn import ReferenceRefused, Runs, learn
from monitor.reference.machine import no_longer_valid, said_of
from monitor.reference.model import Normal, Reference
from monitor.reference.runs import learn_from
from monitor.settings_file import SettingsError
from tests.monitor.scripted_world import NS, T0, Script, scripted_line, scripted_recipe
from tests.monitor.world_statistics import linked, reference

RUNS = Runs(("run",), "2025-01-01T00:00:00Z", "2025-01-02T00:00:00Z", (), ())
R1 = scripted_recipe()
LINE = scripted_line(cadence_s=10.0)
NAMES = ("net_torque", "melt_pressure:P1", "melt_temperature:MT1", "zone_output:Z2")
FEATURES = ("speed_wanted", "rate_wanted", "rate_over_speed", "zones_wanted", "zone_setpoint:Z2")


def minutes_of(n: int = 1200, noise: float = 0.01, seed: int = 1) -> Minutes:
    """Torque 50 % (N/300)^0.2 (Q/250)^0.7 exp(-0.012 (T - 200)), pressure likewise, melt temperature linear."""
    rng = np.random.default_rng(seed)
    step = np.arange(n) // 60
    speed, rate = np.array([270.0, 300, 330])[step % 3], np.array([230.0, 260, 290, 250])[step % 4]
    zones = np.array([195.0, 205, 200, 210, 190])[step % 5]
    torque = 50 * (speed / 300) ** 0.2 * (rate / 250) ** 0.7 * np.exp(-0.012 * (zones - 200))
    pressure = 60 * (rate / 250) ** 0.35 * np.exp(-0.01 * (zones - 200))
    melt = 220 + 25 * np.log(speed / 300) + 0.6 * (zones - 200)
    clean = np.array([torque, pressure, melt, 25 - 30 * np.log(speed / 300)])
    share = np.array([noise, noise, 0.2 * noise / 0.01 / 220, 0.4 * noise / 0.01 / 25])[:, None]
    values = clean * (1 + share * rng.normal(size=clean.shape))
    points = np.array([speed, rate, rate / speed, zones, zones])
    spreads = np.abs(clean) * share
    return Minutes(NAMES, FEATURES, list(range(n)), list(values.T), list(spreads.T), list(points.T))


def normal(made: Reference, name: str) -> Normal:
    return next(one for one in made.normals if one.name == name)


def at(**features: float) -> dict[str, np.ndarray]:
    full = {"speed_wanted": 300.0, "rate_wanted": 250.0, "zones_wanted": 200.0, "zone_setpoint:Z2": 200.0, **features}
    full["rate_over_speed"] = full["rate_wanted"] / full["speed_wanted"]
    return {name: np.array([value]) for name, value in full.items()}


def test_gives_back_the_exponents_it_was_made_from() -> None:
    torque = normal(learn(minutes_of(), RUNS, LINE, R1), "net_torque")

    found = {feature.name: feature.coefficient for feature in torque.features}
    assert found["speed_wanted"] == pytest.approx(0.2, abs=0.03)
    assert found["rate_wanted"] == pytest.approx(0.7, abs=0.03)
    assert found["zones_wanted"] == pytest.approx(-0.012, abs=0.001)
    assert torque.minute_scatter == pytest.approx(0.01, rel=0.15)
    assert torque.value(at(rate_wanted=280.0))[0] == pytest.approx(50 * (280 / 250) ** 0.7, rel=0.01)


def test_a_fifth_of_wild_minutes_does_not_bend_it() -> None:
    given = minutes_of()
    for place in range(0, 1200, 5):
        given.values[place] = given.values[place] * 0.6

    torque = normal(learn(given, RUNS, LINE, R1), "net_torque")

    assert torque.value(at())[0] == pytest.approx(50, rel=0.02)


@pytest.mark.parametrize(
    "outside", [{"speed_wanted": 400.0}, {"rate_wanted": 120.0}, {"zones_wanted": 230.0}, {"rate_wanted": float("nan")}]
)
def test_says_nothing_outside_its_range(outside: dict[str, float]) -> None:
    made = learn(minutes_of(), RUNS, LINE, R1)

    assert np.isnan(normal(made, "net_torque").value(at(**outside))[0])
    assert np.isfinite(normal(made, "net_torque").value(at())[0])


def test_inside_each_range_but_at_a_rate_over_speed_never_seen() -> None:
    """Speed and rate moved together: each value was seen, this pair was not."""
    given = minutes_of()
    for point in given.points:
        point[1], point[2] = point[0] * 250 / 300, 250 / 300

    made = learn(given, RUNS, LINE, R1)

    assert np.isnan(normal(made, "net_torque").value(at(speed_wanted=270.0, rate_wanted=275.0))[0])


def test_refuses_too_little_and_faulty() -> None:
    with pytest.raises(ReferenceRefused, match="only 60 steady minutes"):
        learn(minutes_of(60), RUNS, LINE, R1)
    faulty = dataclasses.replace(RUNS, faulty=range(500), faults=("starved",))
    with pytest.raises(ReferenceRefused, match=r"42 % of the steady minutes \(starved\)"):
        learn(minutes_of(), faulty, LINE, R1)


def test_a_frozen_and_a_missing_channel_are_left_out_with_reasons() -> None:
    given = minutes_of()
    for row in given.values:
        row[1], row[2] = 60.0, np.nan

    made = learn(given, RUNS, LINE, R1)

    assert "stood still" in made.not_learned["melt_pressure:P1"]
    assert "only 0 steady minutes" in made.not_learned["melt_temperature:MT1"]


def test_one_slow_wave_is_too_little_however_many_minutes() -> None:
    given = minutes_of()
    wave = 60 + 5 * np.sin(np.arange(1200) / 1200 * 2 * np.pi)
    for row, value in zip(given.values, wave, strict=True):
        row[1] = value

    assert "resemble each other" in learn(given, RUNS, LINE, R1).not_learned["melt_pressure:P1"]


def test_file_reads_back_equal_and_refuses_a_changed_one(tmp_path: Path) -> None:
    path, made = tmp_path / "reference.json", reference()
    write_reference(path, made)

    again = read_reference(path)

    assert again.version == made.version and again.normals == made.normals
    assert again.together is not None and made.together is not None
    np.testing.assert_array_equal(again.together.loadings, made.together.loadings)
    path.write_text(path.read_text(encoding="utf-8").replace('"level": 5', '"level": 6', 1), encoding="utf-8")
    with pytest.raises(SettingsError, match="changed after it was learned"):
        read_reference(path)


def changed(**parts: dict[str, object]) -> Line:
    data = LINE.model_dump()
    for part, values in parts.items():
        data[part] = {**data[part], **values}
    return Line.model_validate(data)


def test_says_when_it_is_no_longer_valid() -> None:
    made = reference()

    assert no_longer_valid(made, LINE, R1) == {}
    screw = no_longer_valid(made, changed(geometry={"screw_diameter_mm": 42.0}), R1)
    assert set(screw) == {""} and "geometry.screw_diameter_mm was 40 when it was learned and is 42 now" in screw[""]
    assert set(no_longer_valid(made, changed(drive={"rated_power_kw": 90.0}), R1)) == {"net_torque", "sme"}
    assert said_of(screw)[0].startswith("The reference is no longer valid: ")
    data = LINE.model_dump()
    data["sensor"] = [{**s, "range": (0, 400)} if s["role"] == "melt_pressure" else s for s in data["sensor"]]
    ranged = Line.model_validate(data)
    assert set(no_longer_valid(made, ranged, R1)) == {"melt_pressure:P1"}
    assert "melt_pressure:P1" not in {one.name for one in Applied(made, ranged, R1).normals}


def starving(with_reference: bool = True) -> set[tuple[str, bool]]:
    """Condition, and whether it says that it leans on the reference, of a log that starves."""
    s: Script = linked(3600, 7)
    for key, factor in (("torque", 0.6), ("melt_pressure:P1", 0.8)):
        s.scale(key, 1500, 3000, factor)
    world = s.world(R1)
    monitor = Monitor(world.line, world.recipes, reference=reference() if with_reference else None)
    state, step = monitor.advance(monitor.start(), world.block)
    return {
        (one.last.condition, any("from the reference" in item.what for item in one.last.evidence))
        for one in findings([*step.records, *monitor.finish(state)])
    }


def test_a_finding_that_leans_on_the_reference_says_so() -> None:
    assert ("starved", True) in starving()
    assert ("starved", False) in starving(with_reference=False)


def test_a_repair_after_it_was_learned_puts_it_aside_until_it_is_adopted_again() -> None:
    later = dataclasses.replace(reference(), learned_from={**reference().learned_from, "last": "2025-10-01T00:00:00Z"})
    repair = Note(T0 + 60 * NS, "repair", "new screw")
    s = linked(3600, 7)
    s.scale("torque", 1500, 3000, 0.6)
    s.scale("melt_pressure:P1", 1500, 3000, 0.8)
    for notes, leans in (((repair,), False), ((repair, Note(T0 + 90 * NS, "reference adopted")), True)):
        s.notes = list(notes)
        world = s.world(R1)
        monitor = Monitor(world.line, world.recipes, reference=later)
        _, step = monitor.advance(monitor.start(), world.block)
        said = [r for r in step.records if r.condition == "starved"]
        assert said and any("from the reference" in item.what for item in said[0].evidence) is leans


def test_learned_from_two_runs_with_a_fault_left_out() -> None:
    good, bad = linked(3 * 3600, 8), linked(3 * 3600, 9)
    bad.x["zone_temperature:Z3"][bad.span(5400, 6600)] += 7
    worlds = [s.world(R1) for s in (good, bad)]
    moved = dataclasses.replace(worlds[1].block, t0=T0 + 24 * 3600 * NS)

    made = learn_from([("a", [worlds[0].block]), ("b", [moved])], LINE, R1)

    assert made.learned_from["logs"] == ["a", "b"] and 15 <= float(made.learned_from["left_out_minutes"]) <= 40  # type: ignore[arg-type]
    assert abs(normal(made, "zone_deviation:Z3").level) < 0.1


def reversed_in_time(given: Minutes) -> tuple[Minutes, list[tuple[str, int]]]:
    """The later half collected first."""
    half = len(given.number) // 2
    turned = [[*column[half:], *column[:half]] for column in (given.number, given.values, given.spreads, given.points)]
    return Minutes(given.names, given.features, *turned), [("late.csv", half), ("early.csv", 2 * half)]  # type: ignore[arg-type]


def test_runs_in_any_order_teach_the_same() -> None:
    given, runs = reversed_in_time(minutes_of())

    joined, problems = in_time_order(given, runs)

    assert problems == [] and joined.number == list(range(1200))
    assert learn(joined, RUNS, LINE, R1).normals == learn(minutes_of(), RUNS, LINE, R1).normals


def test_a_log_given_twice_counts_once() -> None:
    one, again = minutes_of(), minutes_of()
    parts = ("number", "values", "spreads", "points")
    twice = Minutes(NAMES, FEATURES, *(getattr(one, part) + getattr(again, part) for part in parts))

    joined, problems = in_time_order(twice, [("a.csv", 1200), ("copy of a.csv", 2400)])

    assert problems == [] and joined.number == list(range(1200))
    assert learn(joined, RUNS, LINE, R1).normals == learn(minutes_of(), RUNS, LINE, R1).normals


def test_two_runs_of_one_time_that_differ_are_named() -> None:
    good, other = linked(3 * 3600, 8), linked(3 * 3600, 9)
    logs = [(name, [s.world(R1).block]) for name, s in (("a.csv", good), ("b.csv", other))]

    with pytest.raises(ReferenceRefused, match=r"a\.csv and b\.csv both have readings from .* UTC, and they differ"):
        learn_from(logs, LINE, R1)


def test_an_open_finding_of_an_early_run_given_last_leaves_the_later_run_alone() -> None:
    good, bad = linked(3 * 3600, 8), linked(3 * 3600, 9)
    bad.x["zone_temperature:Z3"][bad.span(9600, 3 * 3600)] += 7
    later = dataclasses.replace(good.world(R1).block, t0=T0 + 24 * 3600 * NS)

    made = learn_from([("later", [later]), ("earlier", [bad.world(R1).block])], LINE, R1)

    assert 15 <= float(made.learned_from["left_out_minutes"]) <= 40  # type: ignore[arg-type]
