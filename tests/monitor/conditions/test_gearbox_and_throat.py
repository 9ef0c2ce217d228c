"""Gearbox oil, throat jacket, diverter: what maintenance and quality want to know in time."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.diverter_on_scrap import DiverterOnScrap
from monitor.conditions.gearbox import Gearbox
from monitor.conditions.throat_warm import ThroatWarm
from tests.monitor.conditions.told import only, seconds, told, without, words
from tests.monitor.world_path import add, path_line, path_recipe, path_script

OIL, HALL = "gearbox_oil_temperature", "ambient_temperature"


def test_oil_that_creeps_up_at_the_same_load() -> None:
    s = path_script(20000)
    add(s, OIL, 10000, 18000, 0, 14)
    s.put(OIL, 18000, 20000, float(s.x[OIL][17999]))
    found = only(told(s, Gearbox(), recipe=path_recipe()))
    assert "more than usual at this load" in found.last.summary and found.last.priority == 3
    told_of = found.last.evidence[0]
    assert (told_of.value or 0) - (told_of.expected or 0) == pytest.approx(14, abs=1), words(found)


def follows(s, hall_c, after_s: float = 7200.0) -> None:  # type: ignore[no-untyped-def]
    """Oil on the hall's air: first order, from where it is."""
    lag, oil = 0.0, np.zeros(s.n)
    for i in range(s.n):
        lag += (hall_c[i] - lag) / after_s
        oil[i] = lag
    s.x[HALL] += hall_c
    s.x[OIL] += oil


@pytest.mark.parametrize(
    ("by_c", "for_s"), [(-11, 1500), (-11, 3600), (-12, 12000), (12, 2400), (12, 6000), (9, 12000)]
)
@pytest.mark.parametrize("after_s", [3000.0, 7200.0, 15000.0])
def test_a_hall_that_changes_at_once_and_oil_that_follows_in_hours(by_c: float, for_s: int, after_s: float) -> None:
    """A gate that stands open in winter; the sun, or heaters, in summer."""
    s = path_script(24000)
    hall = np.zeros(s.n)
    hall[11000 : 11000 + for_s] = by_c
    follows(s, hall, after_s)
    assert told(s, Gearbox(), recipe=path_recipe()) == []


@pytest.mark.parametrize("after_s", [2400.0, 5000.0, 14400.0])
def test_a_long_warm_up_after_a_cold_start_is_not_what_is_usual(after_s: float) -> None:
    s = path_script(26000)
    s.x[OIL] -= 26 * np.exp(-np.arange(s.n) / after_s)
    s.x[HALL][13000:] -= 1.5
    assert told(s, Gearbox(), recipe=path_recipe()) == []


def test_oil_that_an_hour_of_heavier_load_has_warmed_cools_in_hours() -> None:
    s = path_script(24000)
    s.scale("torque", 11000, 16000, 1.5)
    time = np.arange(s.n, dtype=float)
    warm = np.where(time < 16000, 1 - np.exp(-np.clip(time - 11000, 0, None) / 5000), 0.0)
    warm[16000:] = warm[15999] * np.exp(-(time[16000:] - 16000) / 5000)
    s.x[OIL] += 14 * warm
    assert told(s, Gearbox(), recipe=path_recipe()) == []


def warms(s, start_s: int, by_c: float, key: str = OIL) -> None:  # type: ignore[no-untyped-def]
    """First order toward so much more, time constant 40 min: an oil cooler that has lost its water."""
    s.x[key][start_s:] += by_c * (1 - np.exp(-(np.arange(s.n - start_s)) / 2400))


def test_oil_that_warms_by_itself_is_said_long_before_anything_was_learned() -> None:
    s = path_script(6200)
    warms(s, 4000, 11)
    s.x[HALL][:] = np.nan
    found = only(told(s, Gearbox(), recipe=path_recipe()))
    assert "more than half an hour ago at the same load and speed" in found.last.summary
    assert found.last.priority == 3 and (seconds(found.first_decided_at) or 0) <= 4000 + 1800


def other_load(s) -> None:  # type: ignore[no-untyped-def]
    s.scale("torque", 3900, 7000, 1.2)


def warmer_hall(s) -> None:  # type: ignore[no-untyped-def]
    warms(s, 4000, 14, HALL)


def already_warming(s) -> None:  # type: ignore[no-untyped-def]
    """The line came from cold before the log began; the hall is not logged."""
    s.x[HALL][:] = np.nan
    s.x[OIL] += 16 * (1 - np.exp(-np.arange(s.n) / 2400))


def thermostat(s) -> None:  # type: ignore[no-untyped-def]
    s.x[OIL][:] += 2.2 * np.sin(2 * np.pi * np.arange(s.n) / 3600)


@pytest.mark.parametrize("story", [other_load, warmer_hall, already_warming, thermostat])
def test_oil_that_has_a_reason_to_warm_is_not(story) -> None:  # type: ignore[no-untyped-def]
    s = path_script(7000)
    if story in (other_load, warmer_hall):
        warms(s, 4000, 10)
    story(s)
    assert told(s, Gearbox(), recipe=path_recipe()) == []


def test_a_warmer_hall_is_taken_off() -> None:
    s = path_script(9000)
    add(s, OIL, 5000, 9000, 0, 10)
    add(s, HALL, 5000, 9000, 0, 10)
    assert told(s, Gearbox(), recipe=path_recipe()) == []


def test_more_load_warms_it_by_right() -> None:
    s = path_script(9000)
    add(s, OIL, 5000, 9000, 0, 12)
    s.scale("torque", 4900, 9000, 1.3)
    assert told(s, Gearbox(), recipe=path_recipe()) == []


@pytest.mark.parametrize(
    ("key", "value", "priority"),
    [
        ("gearbox_oil_pressure", 0.3, 2), ("gearbox_oil_pressure", 1.3, 2), ("gearbox_oil_pressure", 1.8, 2),
        ("gearbox_filter_drop", 2.6, 3), ("gearbox_filter_drop", 1.1, 3), (OIL, 90, 2),
    ],
)  # fmt: skip
def test_each_part_of_it(key: str, value: float, priority: int) -> None:
    s = path_script(9000)
    s.put(key, 5000, 9000, value)
    found = only(told(s, Gearbox(), recipe=path_recipe()))
    assert found.last.channel == key and found.last.priority == priority


def test_lost_oil_pressure_is_said_within_two_minutes_and_a_fifth_of_it_at_the_same_speed_too() -> None:
    for value, priority in ((0.3, 2), (2.0, 3)):
        s = path_script(7000)
        s.put("gearbox_oil_pressure", 5000, 7000, value)
        found = only(told(s, Gearbox(), recipe=path_recipe()))
        assert found.last.priority == priority and (seconds(found.first_decided_at) or 0) <= 5120

    s = path_script(7000)
    s.put("gearbox_oil_pressure", 5000, 7000, 2.0)
    add(s, OIL, 3000, 5000, 0, 5)
    s.put(OIL, 5000, 7000, 65)
    said = [f for f in told(s, Gearbox(), recipe=path_recipe()) if f.last.channel != OIL]
    assert said == [], "warmer oil is thinner"


def test_no_oil_pressure_on_a_standing_gearbox() -> None:
    s = path_script(6000)
    for key in ("screw_speed", "screw_speed_setpoint", "torque", "gearbox_oil_pressure"):
        s.put(key, 3000, 6000, 0)
    assert told(s, Gearbox(), recipe=path_recipe()) == []


def test_a_throat_that_warms_up_and_one_that_only_follows_its_water() -> None:
    s = path_script(8000)
    add(s, "throat_temperature", 4000, 8000, 0, 16)
    assert "bridge" in only(told(s, ThroatWarm(), recipe=path_recipe())).last.summary
    add(s, "cooling_water_temperature", 4000, 8000, 0, 10)
    assert told(s, ThroatWarm(), recipe=path_recipe()) == []


@pytest.mark.parametrize(("hall_c", "said"), [(0, True), (3, True), (10, False)])
def test_where_no_water_is_logged_a_throat_that_follows_its_hall_is_not_warm(hall_c: float, said: bool) -> None:
    """A summer's day: the water of a tower follows the air, and the jacket stands in the hall."""
    s = path_script(8000, without(path_line(), "cooling_water_temperature"))
    add(s, "throat_temperature", 4000, 8000, 0, 16)
    add(s, "ambient_temperature", 4000, 8000, 0, hall_c)
    found = told(s, ThroatWarm(), recipe=path_recipe())
    assert bool(found) == said
    assert all("hall since then" in words(f) for f in found)


@pytest.mark.parametrize(("left", "priority"), [(0.95, 3), (0.75, 2)])
def test_a_warm_throat_is_urgent_once_the_screw_gets_less(left: float, priority: int) -> None:
    s = path_script(8000)
    add(s, "throat_temperature", 4000, 8000, 0, 16)
    s.scale("torque", 6000, 8000, left)
    found = only(told(s, ThroatWarm(), recipe=path_recipe())).last
    assert found.priority == priority and ("the screw gets less" in found.summary) == (priority == 2)


def test_less_load_with_a_cool_throat_is_not_about_the_throat() -> None:
    s = path_script(8000)
    s.scale("torque", 6000, 8000, 0.75)
    assert told(s, ThroatWarm(), recipe=path_recipe()) == []


def test_kilograms_to_scrap_and_a_diverter_that_is_not_wired() -> None:
    s = path_script(6000)
    s.put("diverter_to_product", 3000, 5400, 0)
    found = only(told(s, DiverterOnScrap(), recipe=path_recipe()))
    assert found.last.priority == 4 and (seconds(found.first_decided_at) or 0) == pytest.approx(3300, abs=20)
    assert "200 kg" in words(found) or "199 kg" in words(found)
    s.put("diverter_to_product", 0, 6000, 0)
    assert told(s, DiverterOnScrap(), recipe=path_recipe()) == []


def test_what_is_told_of_oil_that_gained_is_the_most_it_gained() -> None:
    """It stands at its new level for an hour, and has gained nothing in the half hour before."""
    s = path_script(11000)
    warms(s, 4000, 14)
    s.x[HALL][:] = np.nan
    found = only(told(s, Gearbox(), recipe=path_recipe()))
    assert "more than half an hour ago" in found.last.summary
    assert int(found.last.summary.split(", ")[1].split()[0]) >= 6
