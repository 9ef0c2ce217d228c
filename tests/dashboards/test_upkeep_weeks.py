"""Upkeep over thirty days: duty day by day, a repair judged, load history, screens, wear."""

from __future__ import annotations

import re

import numpy as np
import pytest

from dashboards.clock import DAY
from dashboards.load_history import load_history, screens_of
from dashboards.memory_data import MemoryData
from dashboards.pages import upkeep, upkeep_detail
from dashboards.report.as_html import as_html
from dashboards.run_summaries import run_summaries, wear_of
from dashboards.upkeep_due import screen_due
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_panels import panels_of
from dashboards.upkeep_repairs import effect_words, repairs
from dashboards.upkeep_weeks import weeks_of
from monitor.wear import Wear
from tests.dashboards.weeks_world import DAYS, NAME, REPAIRED, SCREEN_DAYS, START, weeks


@pytest.fixture(scope="module")
def world() -> MemoryData:
    return weeks()


def item(world: MemoryData, name: str) -> UpkeepItem:
    return next(i for i in upkeep.all_items(world, {}) if i.name == f"{NAME}/{name}")


def test_duty_day_by_day(world: MemoryData) -> None:
    found = weeks_of(world, item(world, "zone:Z2"))
    assert found is not None
    (panel,) = found.panels
    assert "daily median" in panel.title and "205" in panel.title
    middles = panel.y[np.isfinite(panel.y)]
    assert middles.min() == pytest.approx(15, abs=1) and middles.max() == pytest.approx(31, abs=1)
    during = (panel.t > START + 21 * DAY) & (panel.t < START + 26 * DAY) & np.isfinite(panel.y)
    assert panel.y[during].min() > 28
    assert found.repaired == (REPAIRED,)


def test_wear_is_drawn_by_what_tells_it(world: MemoryData) -> None:
    found = weeks_of(world, item(world, "drive:"))
    assert found is not None
    load, melt = found.panels
    assert load.title.startswith("torque") and melt.title.startswith("TM temperature, daily median")
    middles = melt.y[np.isfinite(melt.y)]
    assert middles[-1] - middles[0] == pytest.approx(0.2 * (DAYS - 1), abs=0.4)


def test_an_interval_without_width_is_not_written() -> None:
    told = Wear("melt temperature", 5.61, 5.56, 5.64, 8.02, 15, 15, certain=True)
    assert "+5.61 °C over 15 of 15 runs (+5.56 to +5.64)" in upkeep_detail.wear_words(told)
    told = Wear("melt temperature", 5.6, 5.6, 5.6, 8.0, 15, 15, certain=True)
    assert "+5.6 °C over 15 of 15 runs, +8.0 °C" in upkeep_detail.wear_words(told)
    told = Wear("melt temperature", 3.1, 1.0, 5.2, 8.0, 9, 12, certain=True)
    assert "+3.1 °C over 9 of 12 runs (+1.0 to +5.2)" in upkeep_detail.wear_words(told)


def test_feed_factor_and_spread_day_by_day(world: MemoryData) -> None:
    found = weeks_of(world, item(world, "feeder:F1"))
    assert found is not None
    factor, spread = found.panels
    assert np.nanmedian(factor.y) == pytest.approx(400 / 55, rel=0.01)
    assert 1 < np.nanmedian(spread.y) < 8


def test_the_repair_is_judged(world: MemoryData) -> None:
    zone = item(world, "zone:Z2")
    (repair,) = repairs(world, zone)
    assert (repair.at, repair.who, repair.text) == (REPAIRED, "Vera", "two bands replaced")
    verdicts = {name: found.verdict for name, _, found in repair.told}
    assert verdicts == {"heat output": "back", "off set": "never moved"}
    text = effect_words(world.source.line(NAME), *repair.told[0])
    assert text.startswith("Heat output: back where it was. Before the finding 15")


def test_load_history(world: MemoryData) -> None:
    line = world.source.line(NAME)
    first, end = world.span(NAME)
    found = load_history(world, line, "torque", first, end, world.findings(NAME))
    assert found.high_h == pytest.approx(2.0, abs=0.1), "three hours high, one of them in the nightly stop"
    assert found.turned_h == pytest.approx(DAYS * 22, abs=0.5)
    assert (found.trips, found.cold_starts, found.metal) == (2, 1, 0)


def test_screens(world: MemoryData) -> None:
    changes, screens = screens_of(world, world.source.line(NAME), "melt_pressure:P1", START, START + DAYS * DAY)
    assert [(at - START) / DAY for at in changes] == pytest.approx([6, 12, 18, 24], abs=0.05)
    assert screens[1].kg == pytest.approx(SCREEN_DAYS * 22 * 400, rel=0.01)


def test_wear_shows_with_its_interval(world: MemoryData) -> None:
    runs = run_summaries(world, NAME)
    assert len(runs) == DAYS // 2
    warm, energy = wear_of(world.source.line(NAME), runs)
    assert warm.certain and warm.change == pytest.approx(0.2 * 28, abs=0.3) and warm.low < warm.change < warm.high
    assert not energy.certain
    words = upkeep_detail.wear_words(warm)
    assert "a sign of wear" in words and "15 of 15 runs" in words
    assert "too few runs" in upkeep_detail.wear_words(wear_of(world.source.line(NAME), runs[:3])[0])


def test_the_page_shows_them(world: MemoryData) -> None:
    def page(name: str) -> str:
        return str(upkeep.answer(world, {"item": f"{NAME}/{name}"}, "light", 1384))

    zone = page("zone:Z2")
    assert "back where it was" in zone and "chart-weeks" in zone
    drive = page("drive:")
    assert "stopped under load: 2" in drive
    assert "Wear over runs" in drive and "a sign of wear" in drive
    screen = page("screen:P1")
    assert "The pressure last stepped down" in screen and "kg since" in screen


def test_no_finding_is_told_by_the_name_of_its_condition_or_channel(world: MemoryData) -> None:
    for name in ("zone:Z2", "drive:"):
        text = as_html(list(upkeep.answer(world, {"item": f"{NAME}/{name}"}, "light", 1384)[2:7:2]))
        assert not re.findall(r">[^<]*\b(?:[a-z]+_[a-z_]+|zone_output:Z2)\b[^<]*<", text)
    assert "a part of its heater is dead" in as_html(upkeep.answer(world, {"item": f"{NAME}/zone:Z2"}, "light", 9)[6])


def test_a_screen_at_its_usual_kilograms_and_a_worn_screw_are_due_and_not_as_usual(world: MemoryData) -> None:
    screen, drive = item(world, "screen:P1"), item(world, "drive:")
    assert (screen.state, drive.state) == ("due", "due")
    assert screen.due == "Due: 52800 kg through this screen; the screens before it were changed at 52800 kg."
    assert drive.due == "Due for a look: a sign of wear over its runs (Melt temperature)."
    shown = upkeep.answer(world, {}, "light", 1384)
    called, usual = as_html(shown[2]), as_html(shown[3])
    assert ">Due<" in called and screen.due in called and drive.due in called and "screen, pressure" not in usual


def test_a_young_screen_and_a_line_of_few_runs_are_not_due(world: MemoryData) -> None:
    line = world.source.line(NAME)
    young = START + 27 * DAY
    assert screen_due(world, line, "melt_pressure:P1", START, young) == ""
    assert screen_due(world, line, "melt_pressure:P1", START, START + 10 * DAY) == "", "no whole screen before it"
    assert item(world, "zone:Z1").due == "" and item(world, "zone:Z1").state == "usual"


def test_what_is_usual_is_taken_from_time_without_a_finding_about_the_part(world: MemoryData) -> None:
    """Z2 heated with 31 % for seven of the fourteen days looked back at, and a finding told of them."""
    zone = item(world, "zone:Z2")
    assert zone.words == "heats 15 %, usually 15"
    (low, high) = panels_of(world, zone).panels[0].usual or (0.0, 0.0)
    assert 14 < low < high < 16
