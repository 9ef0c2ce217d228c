"""Couples that broke, shorted or fell silent; spikes, gaps, heat-up and a controller that writes zeros are not."""

from __future__ import annotations

import pytest

from ingest.block import BAD, FRESH
from monitor.conditions.thermocouple_open import ThermocoupleOpen
from monitor.core import Monitor
from monitor.records import findings
from tests.monitor.conditions.told import R1, TWIN, Story, block_of, changed, only, seconds, told, twin
from tests.monitor.scripted_world import TARGETS, Script

LOG_S, FROM, TO = 2400, 900, 1500
ZONE = "zone_temperature:Z3"


def spike(s: Script) -> None:
    s.put(ZONE, FROM, FROM + 2, 400)


def heating_up(s: Script) -> None:
    s.put(ZONE, FROM, TO, 60, slope_s=0.25)
    s.put(ZONE, 0, FROM, 60)
    s.put(ZONE, TO, LOG_S, 210)


def gap_in_the_whole_log(s: Script) -> None:
    for row in s.x.values():
        row[s.span(FROM, TO + 300)] = float("nan")


def short_silence(s: Script) -> None:
    s.put(ZONE, FROM, FROM + 300, float("nan"))


def zeros_after_a_restart(s: Script) -> None:
    """The controller of all zones starts anew and writes zeros for half a minute."""
    for zone in TARGETS:
        s.put(f"zone_temperature:{zone}", FROM, FROM + 30, 0.0)


def warmed_up_while_silent(s: Script) -> None:
    s.put(ZONE, 0, FROM, 100)
    s.put(ZONE, FROM, FROM + 300, float("nan"))
    s.put(ZONE, FROM + 300, LOG_S, 180)


@pytest.mark.parametrize(
    ("value", "priority", "word"),
    [(400.0, 2, "jumped up from 215 °C"), (25.0, 1, "jumped down from 215 °C"), (0.0, 1, "the real zone may overheat")],
)
def test_speaks(value: float, priority: int, word: str) -> None:
    s = twin(LOG_S)
    s.put(ZONE, FROM, TO, value)

    finding = only(told(s, ThermocoupleOpen()))

    assert word in finding.last.summary and finding.last.priority == priority
    assert seconds(finding.last.since) == FROM and seconds(finding.first_decided_at) == FROM + 3
    assert seconds(finding.last.until) == TO
    assert "qualified staff" in finding.last.caution


def test_a_zone_that_is_cold_when_its_couple_is_mended_has_not_jumped_up_to_that() -> None:
    s = twin(LOG_S)
    s.put(ZONE, FROM, TO, 350)
    s.put(ZONE, TO, LOG_S, 33)

    last = only(told(s, ThermocoupleOpen())).last

    assert "jumped up from 215" in last.summary and "the reading is not the zone" in last.summary
    assert last.evidence[0].value == 350


@pytest.mark.parametrize("opens", [False, True])
def test_what_comes_back_from_a_number_no_couple_shows_has_not_broken(opens: bool) -> None:
    """A logger begins with a nought, outside of the sensor's range, and reads from then on."""
    s = twin(LOG_S)
    s.put(ZONE, 0, 5, -18.0)
    if opens:
        s.put(ZONE, FROM, TO, 999.0)
    block = block_of(s, TWIN)
    row = TWIN.channels.index(ZONE)
    block.status[row, (block.values[row] < 0) | (block.values[row] > 900)] = BAD | FRESH
    monitor = Monitor(TWIN, [R1], conditions=[ThermocoupleOpen()])

    state, step = monitor.advance(monitor.start(), block)

    found = findings([*step.records, *monitor.finish(state)])
    assert [seconds(f.last.since) for f in found] == ([FROM] if opens else [])


def test_a_couple_that_a_gap_found_open_is_told_when_it_opens_again_and_not_when_it_is_right() -> None:
    """Open at the end of its range when the log goes on; it comes back to its set-point, and goes again."""
    s = twin(LOG_S)
    gap_in_the_whole_log(s)
    s.put(ZONE, TO + 300, TO + 340, 450.0)
    s.put(ZONE, TO + 600, TO + 660, 450.0)

    finding = only(told(s, ThermocoupleOpen()))

    assert "jumped up" in finding.last.summary and seconds(finding.last.since) == TO + 600


@pytest.mark.parametrize("breaks", [False, True], ids=["quenched", "and then its couple breaks"])
def test_a_die_that_water_quenches_has_not_jumped(breaks: bool) -> None:
    """A reading in ten seconds: a set-back by 60 C with the cooling full on, 1 C/s at its fastest."""
    s = Script(changed(TWIN, line={"cadence_s": 10.0}), LOG_S, 5)
    falls = [215, 214, 211, 202, 191.5, 181, 172, 166, 162, 159, 157, 156]
    s.x[ZONE][s.span(FROM, FROM + 120)] = falls
    s.put(ZONE, FROM + 120, LOG_S, 155)
    if breaks:
        s.put(ZONE, FROM + 50, FROM + 600, 30)
    assert [(f.last.priority, seconds(f.last.since)) for f in told(s, ThermocoupleOpen())] == (
        [(1, FROM + 50)] if breaks else []
    )


def test_a_zone_that_alone_stays_silent_has_lost_its_input() -> None:
    s = twin(LOG_S)
    s.put(ZONE, FROM, FROM + 900, float("nan"))

    finding = only(told(s, ThermocoupleOpen()))
    assert "gives no reading while other zones do" in finding.last.summary and finding.last.confidence == "low"
    assert FROM + 600 <= (seconds(finding.first_decided_at) or 0) <= FROM + 610


@pytest.mark.parametrize(
    "story",
    [spike, heating_up, gap_in_the_whole_log, short_silence, zeros_after_a_restart, warmed_up_while_silent],
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, ThermocoupleOpen()) == []


def test_two_couples_that_break_together_are_two_findings() -> None:
    """A cable with two of five couples: no restart."""
    s = twin(LOG_S)
    for zone in ("Z2", "Z3"):
        s.put(f"zone_temperature:{zone}", FROM, TO, 400)

    assert {f.last.channel for f in told(s, ThermocoupleOpen())} == {"zone_temperature:Z2", "zone_temperature:Z3"}


def test_what_stays_away_after_a_restart_is_said_for_every_zone() -> None:
    s = twin(LOG_S)
    for zone in TARGETS:
        s.put(f"zone_temperature:{zone}", FROM, TO, 0.0)

    found = told(s, ThermocoupleOpen())
    assert len(found) == len(TARGETS)
    assert {seconds(f.first_decided_at) for f in found} == {FROM + 119 + 3}
    assert {seconds(f.last.until) for f in found} == {TO}


def test_zones_that_come_back_one_by_one_after_a_restart() -> None:
    s = twin(LOG_S)
    for number, zone in enumerate(TARGETS):
        s.put(f"zone_temperature:{zone}", FROM, FROM + 20 + 7 * number, 0.0)

    assert told(s, ThermocoupleOpen()) == []
    s.put(ZONE, TO, LOG_S, 400)
    assert only(told(s, ThermocoupleOpen())).last.channel == ZONE, "a couple that breaks later is seen as ever"


def test_it_does_not_end_while_the_reading_wanders_far_off() -> None:
    s = twin(LOG_S)
    s.put(ZONE, FROM, TO, 400, slope_s=-0.2)

    assert seconds(only(told(s, ThermocoupleOpen())).last.until) == TO


def test_two_zones_that_jump_to_each_others_readings_are_swapped_and_said_once() -> None:
    s = twin(LOG_S)
    first, second = "zone_temperature:Z2", "zone_temperature:ADAPTER"
    level = {first: 180.0, second: 230.0}
    for key, other in ((first, second), (second, first)):
        s.put(key, 0, FROM, level[key])
        s.put(key, FROM, LOG_S, level[other] + 1.0)
    found = only(told(s, ThermocoupleOpen()))

    assert found.last.channel == first and "ADAPTER" in found.last.summary and found.last.priority == 1
    assert "swapped" in found.last.cause_texts[0]


def test_two_couples_that_break_together_are_not_swapped() -> None:
    s = twin(LOG_S)
    s.put("zone_temperature:Z2", FROM, LOG_S, 400)
    s.put("zone_temperature:ADAPTER", FROM, LOG_S, 400)

    assert ["jumped up" in f.last.summary for f in told(s, ThermocoupleOpen())] == [True, True]


def test_a_couple_pushed_home_reads_another_depth_and_is_not_open() -> None:
    """14 C up at once, which is no end of a range."""
    s = twin(LOG_S)
    s.put(ZONE, FROM, TO, 229.0)
    last = only(told(s, ThermocoupleOpen())).last

    assert last.cause_texts[0].startswith("couple pushed home") and "no end of a couple's range" in last.summary
