"""A couple that does not answer what heats its zone; good control, coarse digits and slow loggers are not frozen."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.heater_dead import HeaterDead
from monitor.conditions.thermocouple_frozen import ThermocoupleFrozen
from tests.monitor.conditions.told import TWIN, Story, only, seconds, told, twin, without
from tests.monitor.scripted_world import Script

LOG_S, FROM = 9000, 3600
ZONE, OUT = "zone_temperature:Z3", "zone_output:Z3"


def frozen_and_pushed(s: Script) -> None:
    """The reading stands, the controller pulls its output up: steel would have moved by many degrees."""
    s.put(ZONE, FROM, LOG_S, 214.6)
    s.put(OUT, FROM + 300, LOG_S, 60)


def good_control(s: Script) -> None:
    """Coarse digits and a steady load: the reading shows 215 for an hour, the output hardly moves."""
    s.x[ZONE] = np.round(215 + s.noise(0.05))


def coarse_digits(s: Script) -> None:
    """Whole degrees: an output 8 % higher for an hour moves the zone by less than two of them."""
    s.x[ZONE] = np.round(215 + s.noise(0.2))
    s.put(ZONE, FROM, LOG_S, 215.0)
    s.x[OUT][s.span(FROM + 300, LOG_S)] += 2


def slow_logger(s: Script) -> None:
    """Writes a zone only every ten minutes: every hold is as long as any other."""
    row = s.x[ZONE]
    for first in range(0, LOG_S, 600):
        row[first : first + 600] = row[first]


def never_moved_in_this_log(s: Script) -> None:
    """Whole degrees and a logger that writes on change: 215 all day, while the output follows the load."""
    s.x[ZONE][:] = 215.0
    s.x[OUT] += np.linspace(0, 12, LOG_S)


def all_take_more(s: Script) -> None:
    """Whole degrees, well held, an output that ranges over some percent; then the load falls and warms the barrel less.
    The couple beside the barrel has nothing to do with it."""
    s.x[ZONE] = np.round(215 + s.noise(0.05))
    s.put(ZONE, 2000, 2010, 216)
    for zone in ("Z2", "Z3"):
        s.x[f"zone_output:{zone}"][s.span(FROM + 600, LOG_S)] += 12


def hold_as_old_as_the_log(s: Script) -> None:
    """Whole degrees. The hold begins five minutes after the log: what its output asks for is not known by then."""
    s.x[ZONE][:] = 215.0
    s.put(ZONE, 0, 300, 216)
    t = np.arange(s.n) * s.cadence
    s.x[OUT] = np.where(t < 300, 15, 26) + 4 * np.sin(2 * np.pi * t / 2000) + s.noise(0.3)


def after_a_stop(s: Script) -> None:
    """Whole degrees. Melt cools the die while the line starts again: the reading and the output find back, the reading
    first, and the output stands where it stood before."""
    s.x[ZONE] = np.round(215 + s.noise(0.05))
    usual = float(s.x[OUT][:600].mean())
    s.put(ZONE, FROM - 1800, FROM - 600, 216)
    s.put(OUT, FROM - 1800, FROM - 600, usual - 6)
    s.put(OUT, FROM - 600, FROM - 240, usual - 4)


def short_hold(s: Script) -> None:
    s.put(ZONE, FROM, FROM + 540, 214.6)
    s.put(OUT, FROM, FROM + 540, 60)


def output_moves_and_so_does_the_zone(s: Script) -> None:
    s.put(OUT, FROM, LOG_S, 60)
    s.x[ZONE][s.span(FROM, LOG_S)] += np.round(np.linspace(0, 12, len(s.x[ZONE][s.span(FROM, LOG_S)])), 1)


def zone_controller_stale(s: Script) -> None:
    """Every zone and every output keeps its last value for an hour."""
    for key, row in s.x.items():
        if key.startswith("zone"):
            row[s.span(FROM, FROM + 3600)] = row[FROM]


def test_speaks_when_the_output_moved() -> None:
    s = twin(LOG_S)
    frozen_and_pushed(s)

    finding = only(told(s, ThermocoupleFrozen()))

    assert "while its output moved" in finding.last.summary and finding.last.priority == 2
    assert FROM + 600 <= (seconds(finding.first_decided_at) or 0) <= FROM + 630


def coarse(s: Script) -> None:
    """Whole degrees."""
    s.x[ZONE] = np.round(s.x[ZONE])


def test_a_couple_whose_loop_holds_its_reading_may_drift() -> None:
    """Whole degrees that stand while the output climbs fit a couple that reads lower and lower."""
    s = twin(LOG_S)
    coarse(s)
    s.put(ZONE, FROM, LOG_S, 215.0)
    s.put(OUT, FROM, LOG_S, 30.0, slope_s=30 / (LOG_S - FROM))

    assert any("drifts" in cause for cause in only(told(s, ThermocoupleFrozen())).last.cause_texts)


def rests_hot_at_its_last_cooling(s: Script) -> None:
    """Its cooling has failed: it went 11 C over, its controller calls for all there is, and nothing moves."""
    coarse(s)
    s.put(ZONE, FROM, FROM + 900, 215.0, slope_s=11 / 900)
    s.put(ZONE, FROM + 900, LOG_S, 226.0)
    coarse(s)
    s.put(OUT, FROM, FROM + 3600, 30.0, slope_s=-130 / 3600)
    s.put(OUT, FROM + 3600, LOG_S, -100)


def test_a_zone_that_left_its_set_point_and_rests_elsewhere_is_no_frozen_couple() -> None:
    s = twin(LOG_S)
    rests_hot_at_its_last_cooling(s)
    assert told(s, ThermocoupleFrozen()) == []


@pytest.mark.parametrize("amps", [0.0, 12.0])
def test_a_zone_whose_heater_draws_no_current_rests_whatever_its_output(amps: float) -> None:
    line = TWIN.model_dump()
    line["sensor"] = [*line["sensor"], {"tag": "I.Z3", "role": "zone_current", "at": "Z3", "unit": "A"}]
    s = twin(LOG_S)
    coarse(s)
    s.put(ZONE, FROM, LOG_S, 213.0)
    s.put(OUT, FROM, LOG_S, 30.0, slope_s=40 / (LOG_S - FROM))
    s.x["zone_current:Z3"] = np.full(s.n, 12.0)
    s.put("zone_current:Z3", FROM - 60, LOG_S, amps)
    found = told(s, ThermocoupleFrozen(), line=type(TWIN).model_validate({**line, "version": "with a current"}))

    assert bool(found) is (amps > 0)


def test_speaks_softly_when_a_hold_stands_out() -> None:
    """Every cell before has moved; now nothing has for ten minutes, with the output as it was."""
    s = twin(LOG_S)
    s.put(ZONE, FROM, LOG_S, 214.6)

    finding = only(told(s, ThermocoupleFrozen()))

    assert "after changing all the time before" in finding.last.summary
    assert finding.last.priority == 3 and finding.last.confidence == "low"
    assert FROM + 600 <= (seconds(finding.first_decided_at) or 0) <= FROM + 630


def test_a_hold_in_which_readings_are_missing_for_a_while_stands_out_all_the_same() -> None:
    """What the gap ended was no hold that the reading itself had ended: it counts for nothing but a new beginning."""
    s = twin(LOG_S)
    s.put(ZONE, FROM, LOG_S, 214.6)
    for row in s.x.values():
        row[s.span(FROM + 400, FROM + 500)] = np.nan

    said = seconds(only(told(s, ThermocoupleFrozen())).first_decided_at) or 0
    assert FROM + 1100 <= said <= FROM + 1130


def test_a_coarse_reading_and_its_output_may_both_rest_inside_one_digit() -> None:
    """Whole degrees and whole percent, well held: what flickered between two digits has come to lie inside one."""
    s = twin(LOG_S)
    s.x[ZONE] = np.round(215 + s.noise(0.05))
    s.x[OUT] = np.round(30.5 + s.noise(0.5))
    s.put(OUT, FROM, LOG_S, 30.0)

    assert told(s, ThermocoupleFrozen()) == []


@pytest.mark.parametrize(
    "story",
    [
        good_control,
        after_a_stop,
        coarse_digits,
        slow_logger,
        never_moved_in_this_log,
        all_take_more,
        hold_as_old_as_the_log,
        zone_controller_stale,
        short_hold,
        output_moves_and_so_does_the_zone,
    ],
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, ThermocoupleFrozen()) == []


def test_a_hold_that_began_with_the_log_is_told_by_an_output_that_leaves_all_it_ever_was() -> None:
    s = twin(LOG_S)
    hold_as_old_as_the_log(s)
    s.put(OUT, FROM, LOG_S, 70)

    assert "while its output moved" in only(told(s, ThermocoupleFrozen())).last.summary


def test_zones_that_cannot_take_more_do_not_tell_what_the_line_asks_for() -> None:
    """The zones beside stand at full heat: what they do not take more is no sign against the couple, nor for it."""
    s = twin(LOG_S)
    frozen_and_pushed(s)
    s.x["zone_output:Z2"][:] = 100.0

    assert only(told(s, ThermocoupleFrozen())).last.priority == 2


def test_a_hold_seven_times_as_long_as_the_longest_is_not_enough() -> None:
    """Readings of real plants hold for 40 min under good control after holds of 4 to 5 min."""
    s = twin(LOG_S)
    s.put(ZONE, 1000, 1240, 214.6)
    s.put(ZONE, FROM, FROM + 2200, 214.6)

    assert told(s, ThermocoupleFrozen()) == []


def test_it_ends_with_the_first_change() -> None:
    s = twin(LOG_S)
    frozen_and_pushed(s)
    s.x[ZONE][s.span(7200, LOG_S)] = 214.6 + np.round(s.noise(0.15), 1)[s.span(7200, LOG_S)]

    until = seconds(only(told(s, ThermocoupleFrozen())).last.until) or 0
    assert 7200 <= until <= 7220


def test_without_an_output_a_hold_alone_is_said_softly() -> None:
    s = twin(LOG_S)
    frozen_and_pushed(s)
    line = without(TWIN, "zone_output")

    assert only(told(s, ThermocoupleFrozen(), line=line)).last.confidence == "low"
    s.x[ZONE] = np.round(s.x[ZONE])
    assert told(s, ThermocoupleFrozen(), line=line) == []


def test_a_reading_with_a_deadband_may_rest_under_good_control() -> None:
    """Lively before, by steps of 0.3 C, and then within one step: only an output that asks for more would tell."""
    s = twin(LOG_S)
    s.x[ZONE] = np.round(s.x[ZONE] / 0.3) * 0.3
    s.x[ZONE][::2] += 0.3
    s.put(ZONE, FROM, LOG_S, 214.5)

    assert told(s, ThermocoupleFrozen()) == []


def set_higher(s: Script, before: float = 25.0, moves_c_min: float = 0.0, flickers: bool = True) -> None:
    """Whole degrees. Set 10 C higher at `FROM`: its output goes to its limit, the reading moves or not."""
    row = s.x[ZONE]
    row[:] = 215.0
    if flickers:
        row[:] = np.round(214.8 + s.noise(0.4)).clip(214, 215)
    else:
        row[:FROM:700] = 214.0
    s.put("zone_setpoint:Z3", FROM, LOG_S, 225.0)
    s.x[OUT][:FROM] += before - s.x[OUT][:FROM].mean()
    s.put(OUT, FROM, FROM + 300, before, slope_s=(100.0 - before) / 300)
    s.put(OUT, FROM + 300, LOG_S, 100.0)
    row[FROM:] += np.round(np.clip(np.arange(len(row) - FROM) * moves_c_min / 60, -40, 14))


@pytest.mark.parametrize("flickers", [True, False])
def test_a_zone_at_full_heat_that_neither_warms_nor_cools_is_told_within_twenty_minutes(flickers: bool) -> None:
    s = twin(LOG_S)
    set_higher(s, flickers=flickers)

    finding = only(told(s, ThermocoupleFrozen()))

    assert finding.last.priority == 2 and ("couple is frozen" in finding.last.summary) is flickers
    assert FROM + 600 <= (seconds(finding.first_decided_at) or 0) <= FROM + 1200


def test_a_zone_that_seems_to_have_lost_its_heater_stands_under_the_frozen_couple() -> None:
    s = twin(LOG_S)
    set_higher(s)

    dead, frozen = sorted(told(s, ThermocoupleFrozen(), HeaterDead()), key=lambda one: one.last.condition)

    assert dead.last.condition == "heater_dead" and dead.last.part_of == frozen.last.finding
    assert "frozen" in dead.last.cause_texts[0]


@pytest.mark.parametrize(
    ("before", "moves_c_min"),
    [
        (25.0, 0.5),  # heated: it comes
        (25.0, -0.3),  # its heater has died meanwhile: it loses what it was heated by
        (3.0, 0.0),  # carried by shear: with a dead heater it stays where it is
        (95.0, 0.0),  # at its end before: there is no more heat to come
    ],
)
def test_at_full_heat_a_live_or_a_dead_heater_is_no_frozen_couple(before: float, moves_c_min: float) -> None:
    s = twin(LOG_S)
    set_higher(s, before, moves_c_min)

    assert told(s, ThermocoupleFrozen()) == []


def test_what_stands_out_goes_on_standing_whatever_the_line_does() -> None:
    """Speed and rate are changed twice, and the line stands for a while: one couple, one finding."""
    s = twin(LOG_S)
    s.put(ZONE, FROM, LOG_S, 214.6)
    for at, by in ((5000, 0.85), (6500, 1.1)):
        for key in s.x:
            if key.startswith(("screw_speed", "feeder_rate", "feeder_setpoint")):
                s.scale(key, at, LOG_S, by)
    for key in s.x:
        if key.startswith(("screw_speed", "feeder_rate", "feeder_setpoint", "torque")):
            s.put(key, 7500, 8100, 0.0)

    assert only(told(s, ThermocoupleFrozen())).last.until is None
