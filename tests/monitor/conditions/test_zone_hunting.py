"""Regular swings of a zone: hunting and steam in its cooling; noise, settling, rounding and set-points are not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.regular_cycles import cycles
from monitor.conditions.zone_hunting import SteamFlash, ZoneHunting
from monitor.contract import Condition
from tests.monitor.conditions.told import Story, only, seconds, told, without
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HeatScript

LOG_S, FROM = 9000, 1800
ZONE, OUT = "zone_temperature:Z3", "zone_output:Z3"
BARE = without(HEAT_LINE, "zone_output", "zone_cooling", "zone_current", "zone_auto")


def find(condition: Condition, story: Story, line=HEAT_LINE):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    story(s)
    return told(s, condition, line=line, recipe=HEAT_RECIPE)


def swing(height_c: float, period_s: float) -> Story:
    def story(s: HeatScript) -> None:
        s.wave(ZONE, FROM, LOG_S, height_c, period_s)
        s.wave(OUT, FROM, LOG_S, 20, period_s)

    return story


@pytest.mark.parametrize("period_s", [180, 360, 720, 1100])
@pytest.mark.parametrize("line", [HEAT_LINE, BARE], ids=["all logged", "no outputs"])
def test_hunting_from_three_to_twenty_minutes(period_s: float, line) -> None:  # type: ignore[no-untyped-def]
    finding = only(find(ZoneHunting(), swing(4, period_s), line))

    said = {item.what: item.value for item in finding.last.evidence}
    assert finding.last.channel == ZONE
    assert said["cycle"] == pytest.approx(period_s / 60, rel=0.06)
    assert said["zone Z3, peak to peak"] == pytest.approx(4, abs=0.8)


def rounded(s: HeatScript) -> None:
    """A true swing of 1.2 C that a display of 1 C makes 2 C of."""
    swing(1.2, 480)(s)
    s.add(ZONE, 0, LOG_S, 0.5)
    s.round(1.0)


def dies_down(s: HeatScript) -> None:
    at = np.arange(s.n) * s.cadence
    s.x[ZONE] += np.where(at > FROM, 8 * np.exp(-(at - FROM) / 1200) * np.sin(2 * np.pi * (at - FROM) / 600), 0)


def wanders(s: HeatScript) -> None:
    steps = np.random.default_rng(5).normal(0, 0.09, s.n)
    walk = np.zeros(s.n)
    for i in range(1, s.n):
        walk[i] = 0.9985 * walk[i - 1] + steps[i]
    s.x[ZONE] += walk


def set_points_in_turn(s: HeatScript) -> None:
    """Somebody steps the set-point up and down."""
    wave = 3 * (np.arange(s.n) // 400 % 2)
    s.x["zone_setpoint:Z3"] += wave
    s.x[ZONE] += wave


def three_cycles(s: HeatScript) -> None:
    """Autotune: full heat and none, three times."""
    s.wave(ZONE, FROM, FROM + 1200, 6, 400)
    part = s.span(FROM, FROM + 1200)
    s.x[OUT][part] = np.where(np.arange(part.stop - part.start) // 200 % 2, 0.0, 100.0)


@pytest.mark.parametrize(
    "story", [swing(1.4, 480), rounded, dies_down, wanders, set_points_in_turn, three_cycles, swing(6, 3000)]
)
def test_hunting_stays_silent(story: Story) -> None:
    assert find(ZoneHunting(), story) == []


def on_off(limit_pct: float, on_share: float, from_s: int = FROM) -> Story:
    """A zone without a loop: full heat below its set-point, none above, three degrees to and fro every 10 min."""

    def story(s: HeatScript) -> None:
        s.wave(ZONE, from_s, LOG_S, 3, 600)
        part = s.span(from_s, LOG_S)
        s.x[OUT][part] = np.where(np.arange(part.stop - part.start) % 600 < 600 * on_share, limit_pct, 0.0)

    return story


@pytest.mark.parametrize(("limit_pct", "on_share"), [(80, 0.14), (70, 0.5), (100, 0.2)])
def test_what_is_switched_on_and_off_is_no_loop_badly_tuned(limit_pct: float, on_share: float) -> None:
    last = only(find(ZoneHunting(), on_off(limit_pct, on_share))).last

    assert last.cause_texts[0].startswith("on-off control") and last.priority == 4
    assert f"its output is either nothing or {limit_pct} %" in str(last.causes[0])


def test_an_output_that_passes_through_what_lies_between_is_a_loop() -> None:
    def saturates(s: HeatScript) -> None:
        s.wave(ZONE, FROM, LOG_S, 3, 600)
        s.wave(OUT, FROM, LOG_S, 200, 600)
        s.x[OUT] = np.clip(s.x[OUT], 0, 80)

    last = only(find(ZoneHunting(), saturates)).last

    assert last.cause_texts[0] == "controller badly tuned for this zone" and last.priority == 3


def test_five_cycles_of_an_output_that_is_switched_are_autotune() -> None:
    assert find(ZoneHunting(), on_off(80, 0.4, LOG_S - 3100)) == []


def steam(s: HeatScript) -> None:
    s.wave(ZONE, FROM, LOG_S, 3, 160, fall=0.2)
    s.put(OUT, FROM, LOG_S, -10)


def test_steam_is_a_saw_tooth_in_a_cooled_zone() -> None:
    finding = only(find(SteamFlash(), steam))
    assert finding.last.channel == ZONE and "steam" in finding.last.summary
    assert only(find(SteamFlash(), steam, BARE)).last.channel == ZONE


def quenched_past_its_steel(s: HeatScript) -> None:
    """40 C in 24 s, as read by a couple beside the bore: more than the steel round it can do, again and again."""
    s.wave(ZONE, FROM, LOG_S, 40, 160, fall=0.15)
    s.put(OUT, FROM, LOG_S, -10)


def couple_makes_and_breaks(s: HeatScript) -> None:
    """Falls as far in one reading and comes back, for as long as it likes."""
    rng, at = np.random.default_rng(8), float(FROM)
    s.put(OUT, FROM, LOG_S, -10)
    while at < LOG_S - 300:
        s.add(ZONE, at, at + rng.uniform(10, 200), -40)
        at += rng.uniform(210, 500)


def test_steam_that_falls_faster_than_steel_is_steam() -> None:
    assert only(find(SteamFlash(), quenched_past_its_steel)).last.channel == ZONE
    assert only(find(SteamFlash(), quenched_past_its_steel, BARE)).last.channel == ZONE
    assert find(SteamFlash(), couple_makes_and_breaks) == []


def switched(levels: tuple[float, ...], late_s: float, fall: float = 0.25) -> Story:
    """On-off control: it falls while the heat is off, and with a fan when that is on; the heat comes on again `late_s`
    before the trough. levels: of the output, from the peak on in equal parts of the fall, then the heat."""

    def story(s: HeatScript) -> None:
        period = 160.0
        s.wave(ZONE, FROM, LOG_S, 4, period, fall=fall)
        part = s.span(FROM, LOG_S)
        at = np.arange(part.stop - part.start) % period - (1 - fall) * period
        off = fall * period - late_s
        place = np.clip((at / off * (len(levels) - 1)).astype(int), 0, len(levels) - 2)
        s.x[OUT][part] = np.where((at >= 0) & (at < off), np.array(levels)[place], levels[-1])

    return story


ON_OFF = pytest.mark.parametrize("levels", [(0.0, 60.0), (0.0, -100.0, 100.0), (-100.0, 100.0)])


@ON_OFF
def test_the_swing_that_on_off_control_makes_is_no_steam(levels: tuple[float, ...]) -> None:
    assert find(SteamFlash(), switched(levels, late_s=10)) == []
    assert only(find(ZoneHunting(), switched(levels, late_s=10))).last.cause_texts[0].startswith("on-off control")


def test_bursts_of_a_fan_that_fill_no_mean_are_on_off_control() -> None:
    """Twice 8 s of it in every cycle, wherever they fall among the means."""

    def story(s: HeatScript) -> None:
        s.wave(ZONE, FROM, LOG_S, 3, 147.0, fall=0.3)
        part = s.span(FROM, LOG_S)
        at = np.arange(part.stop - part.start) % 147.0 - 103.0
        fan = ((at >= -12) & (at < -4)) | ((at >= 3) & (at < 11))
        s.x[OUT][part] = np.where((at < -25) | (at >= 32), 100.0, np.where(fan, -100.0, 0.0))

    assert find(SteamFlash(), story) == []


@ON_OFF
def test_what_goes_on_falling_against_the_heat_is_steam(levels: tuple[float, ...]) -> None:
    assert "saw-tooths" in only(find(SteamFlash(), switched(levels, late_s=30))).last.summary


def heated_all_along(s: HeatScript) -> None:
    """3 C in 99 s: no faster than a zone at 30 % of bands that do 6 C/min falls when they are off."""
    s.wave(ZONE, FROM, LOG_S, 3, 290, fall=0.34)
    s.put(OUT, FROM, LOG_S, 30)


def valve_passes_while_heated(s: HeatScript) -> None:
    """Nobody asks for cooling: water that seeps in flashes by itself."""
    steam(s)
    s.put(OUT, FROM, LOG_S, 30)


def quenched_and_rounded(s: HeatScript) -> None:
    """The same saw-tooth through a slow couple: a third and more of it on its way down, still faster than steel."""
    s.wave(ZONE, FROM, LOG_S, 3, 140, fall=0.38)
    s.put(OUT, FROM, LOG_S, 30)


def quenched_at_a_high_duty(s: HeatScript) -> None:
    """4 C in 60 s under an output that never falls below 53 %: its controller takes next to no heat from it."""
    s.wave(ZONE, FROM, LOG_S, 4, 140, fall=0.43)
    s.wave(OUT, FROM, LOG_S, 20, 140, fall=0.57)
    s.x[OUT][s.span(FROM, LOG_S)] += 63 - s.x[OUT][s.span(FROM, LOG_S)].mean()


def test_a_zone_that_needs_much_heat_is_quenched_where_its_output_did_not_take_it() -> None:
    assert "saw-tooths" in only(find(SteamFlash(), quenched_at_a_high_duty)).last.summary


def test_a_quenched_zone_is_steam_although_its_couple_rounds_the_trough() -> None:
    assert "saw-tooths" in only(find(SteamFlash(), quenched_and_rounded)).last.summary


def test_hunting_far_quicker_than_a_loop_is_not_laid_to_tuning_first() -> None:
    found = only(find(ZoneHunting(), quenched_and_rounded)).last

    assert found.causes[0].text.startswith("steam in its cooling") and found.causes[0].speaks_for


def test_steam_needs_no_call_for_cooling_where_no_steel_falls_like_that() -> None:
    assert "saw-tooths" in only(find(SteamFlash(), valve_passes_while_heated)).last.summary


def grows(s: HeatScript) -> None:
    """A loop past its limit: from nothing to 20 C in four cycles of 6 min."""
    at = np.arange(len(s.x[ZONE][s.span(FROM, LOG_S)])) * s.cadence
    s.x[ZONE][s.span(FROM, LOG_S)] += np.minimum(0.5 * np.exp(at / 450), 20) * np.sin(2 * np.pi * at / 360)


def test_a_swing_that_grows_is_seen_before_its_cycles_are_alike() -> None:
    found = find(ZoneHunting(), grows)[0]

    assert "hunts" in found.last.summary
    assert ((seconds(found.last.since) or 0) - FROM) <= 2100
    assert find(ZoneHunting(), dies_down) == []


def large_and_short(s: HeatScript) -> None:
    """12 C to and fro, four cycles of 250 s and a part of one, then somebody has put it right."""
    s.wave(ZONE, FROM + 60, FROM + 1160, 12, 250)
    s.wave(OUT, FROM + 60, FROM + 1160, 40, 250)


def three_tall(s: HeatScript) -> None:
    """Four swings and a bit: three whole cycles from one rise through the middle to another."""
    s.wave(ZONE, FROM + 60, FROM + 1860, 30, 400)
    s.wave(OUT, FROM + 60, FROM + 1860, 60, 400)


@pytest.mark.parametrize("story", [large_and_short, three_tall])
def test_the_taller_the_fewer_cycles_are_enough(story: Story) -> None:
    said = seconds(only(find(ZoneHunting(), story)).first_decided_at) or 0
    assert said <= FROM + 1950


def three_small(s: HeatScript) -> None:
    s.wave(ZONE, FROM + 60, FROM + 1260, 4, 400)


def tall_in_stops(s: HeatScript) -> None:
    """The line is stopped three times for three minutes: zones cool and come back."""
    three_tall(s)
    for first in range(FROM + 60, FROM + 1700, 400):
        s.stop(first, first + 180)


def runs_away_past_its_limit(s: HeatScript) -> None:
    """From half a degree to 35 C in three cycles of 8 min, and the zone is switched off."""
    part = s.span(FROM, FROM + 1500)
    at = np.arange(part.stop - part.start) * s.cadence
    s.x[ZONE][part] += np.minimum(0.5 * np.exp(at / 270), 35) * np.sin(2 * np.pi * at / 480)
    s.put(ZONE, FROM + 1500, LOG_S, 190)


def test_two_cycles_that_grow_far_are_enough() -> None:
    found = find(ZoneHunting(), runs_away_past_its_limit)

    assert found and (seconds(found[0].first_decided_at) or 0) <= FROM + 1700


@pytest.mark.parametrize("story", [three_small, tall_in_stops])
def test_few_cycles_that_are_small_or_of_stops_are_not(story: Story) -> None:
    assert find(ZoneHunting(), story) == []


def rises_fast(s: HeatScript) -> None:
    s.wave(ZONE, FROM, LOG_S, 3, 160, fall=0.8)
    s.put(OUT, FROM, LOG_S, -10)


@pytest.mark.parametrize("story", [heated_all_along, rises_fast, swing(3, 160), wanders])
def test_steam_stays_silent(story: Story) -> None:
    assert find(SteamFlash(), story) == []


def test_cycles_are_counted_and_noise_has_none() -> None:
    at = np.arange(200)
    sine = cycles(3 * np.sin(2 * np.pi * at / 20), 2.0)
    assert sine.regular and sine.count == pytest.approx(9, abs=1) and sine.length == pytest.approx(20, abs=0.5)
    assert sine.height == pytest.approx(6, rel=0.05) and sine.fall_share == pytest.approx(0.5, abs=0.06)

    rng = np.random.default_rng(1)
    regular = sum(cycles(rng.normal(0, 1, 180), 1.5).regular for _ in range(200))
    assert regular <= 2
    assert cycles(np.full(100, np.nan), 1.0).count == 0 and cycles(np.zeros(100), 1.0).count == 0
