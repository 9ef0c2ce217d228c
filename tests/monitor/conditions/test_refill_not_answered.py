"""A hopper under its refill level, and one that runs empty."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.refill_not_answered import HopperRunningEmpty, RefillNotAnswered
from monitor.line import Line
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, calm
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.world_feeders import feeder_line, feeder_recipe


def with_feeder(**given: object) -> Line:
    data = feeder_line().model_dump()
    data["feeder"] = [{**part, **given} if part["name"] == "F2" else part for part in data["feeder"]]
    return Line.model_validate({**data, "version": str(given)})


def test_under_the_level_for_more_than_thirty_seconds_and_how_long_it_lasts() -> None:
    """Under 95 % of a level of 10 kg at 57 kg/h: about nine minutes."""
    s = calm()
    s.even_weight("F2", 9.7, FROM, FROM + 400)
    finding = only(told(s, RefillNotAnswered(), recipe=feeder_recipe()))

    assert "no refill, empty in" in finding.last.summary and finding.last.priority == 2
    since = seconds(finding.last.since) or 0
    assert FROM <= since <= FROM + 30 and (seconds(finding.first_decided_at) or 0) == since + 30
    left = next(e for e in finding.last.evidence if e.what == "time to empty")
    assert left.value == pytest.approx(60 * 3.4 / 57, abs=0.4)


def test_a_weight_just_under_the_level_waits_for_its_refill() -> None:
    """2 kg/h take minutes from the call at the level to the valve: the weight is 4 % under it meanwhile."""
    s = calm()
    s.even_weight("F2", 10.2, FROM, FROM + 38)

    assert told(s, RefillNotAnswered(), recipe=feeder_recipe()) == []


@pytest.mark.parametrize(("rate", "priority"), [(3.6, 4), (30.0, 3), (52.0, 2)])
def test_how_urgent_it_is_follows_the_time_that_is_left(rate: float, priority: int) -> None:
    """7.5 kg at the end: two hours, a quarter of an hour, nine minutes. Whoever fills by hand may have gone for it."""
    s = calm()
    s.even_weight("F2", 10.2, FROM, LOG_S)
    s.x["feeder_weight:F2"][s.span(FROM, LOG_S)] = np.linspace(10.2, 7.5, s.n - s.span(FROM, LOG_S).start)
    for what in ("rate", "setpoint"):
        s.put(f"feeder_{what}:F2", FROM - 600, LOG_S, rate)

    assert only(told(s, RefillNotAnswered(), recipe=feeder_recipe())).last.priority == priority


def test_a_refill_within_thirty_seconds_is_an_answer() -> None:
    s = calm()
    s.even_weight("F2", 10.2, FROM, FROM + 35)

    assert told(s, RefillNotAnswered(), recipe=feeder_recipe()) == []


def test_where_no_level_is_given_it_is_learned_from_three_refills() -> None:
    """F1 is refilled at 20 kg every 450 s; then nobody comes. At 12 kg it is said."""
    s = calm()
    s.even_weight("F1", 30, FROM, FROM + 320)
    finding = only(told(s, RefillNotAnswered(), recipe=feeder_recipe()))

    assert finding.last.channel == "feeder_weight:F1"
    assert finding.last.evidence[0].expected == pytest.approx(0.8 * 20, abs=1)


def test_without_level_and_without_refills_seen_nothing_is_claimed() -> None:
    s = calm()
    s.even_weight("F3", 0.5, 0, 600)
    assert told(s, RefillNotAnswered(), line=with_feeder(refill_below_kg=None), recipe=feeder_recipe()) == []


def test_running_empty_needs_only_the_size_of_the_hopper() -> None:
    line = with_feeder(refill_below_kg=None, hopper_kg=80)
    s = calm()
    s.even_weight("F2", 5, FROM, FROM + 300)
    finding = only(told(s, HopperRunningEmpty(), line=line, recipe=feeder_recipe()))

    assert 60 <= (seconds(finding.first_decided_at) or 0) - FROM <= 110, "4 kg are reached after a minute"


def test_a_small_ingredient_with_an_hour_left_is_not_running_empty() -> None:
    data = feeder_line().model_dump()
    data["feeder"][2]["hopper_kg"] = 60
    s = calm()
    s.even_weight("F3", 2.9, FROM, FROM + 600)

    assert told(s, HopperRunningEmpty(), line=Line.model_validate(data), recipe=feeder_recipe()) == []


def test_a_feeder_not_wanted_may_be_empty() -> None:
    s = calm()
    s.even_weight("F2", 3, FROM, FROM + 300)
    for what in ("rate", "setpoint"):
        s.put(f"feeder_{what}:F2", FROM - 100, FROM + 400, 0)

    assert told(s, RefillNotAnswered(), HopperRunningEmpty(), recipe=feeder_recipe()) == []


def test_where_the_plant_refills_lower_than_the_line_file_says_it_is_believed() -> None:
    """F1 comes back at 20 kg every time; a level of 24 kg in the line file would cry every seven minutes."""
    data = feeder_line().model_dump()
    data["feeder"] = [{**part, "refill_below_kg": 24} if part["name"] == "F1" else part for part in data["feeder"]]
    found = told(calm(), RefillNotAnswered(), line=Line.model_validate(data), recipe=feeder_recipe())

    assert len(found) <= 3 and all((seconds(f.last.since) or 0) < 1500 for f in found)


def test_a_hand_on_the_hopper_teaches_no_level() -> None:
    s = calm()
    s.even_weight("F3", 40, 0, 5400)
    for at in (600, 900, 1200, 1500):
        s.x["feeder_weight:F3"][s.span(at, at + 20)] += 3
    s.even_weight("F3", 28, FROM, 5400)

    assert told(s, RefillNotAnswered(), recipe=feeder_recipe()) == []


@pytest.mark.parametrize("noise_kg", [0.02, 0.6])
def test_an_empty_hopper_is_said_once_and_not_each_time_its_scale_shakes(noise_kg: float) -> None:
    """5 kg that do not flow, for a quarter of an hour and more: what the scale shows besides is no refill."""
    s = calm()
    part = s.span(FROM, LOG_S)
    s.x["feeder_weight:F2"][part] = 5 + np.random.default_rng(3).normal(0, noise_kg, part.stop - part.start)
    s.put("feeder_refill:F2", FROM, LOG_S, 0)
    s.put("feeder_rate:F2", FROM, LOG_S, 0)
    last = only(told(s, RefillNotAnswered(), recipe=feeder_recipe())).last

    assert "nothing of it comes" in last.summary and last.until is None and last.priority == 2
    assert not any(e.what == "time to empty" for e in last.evidence)


def test_a_hopper_that_shows_less_than_nothing_is_empty_now() -> None:
    """A tare a little off while the last of it still comes: no time below nought is told."""
    s = calm()
    s.x["feeder_weight:F2"][s.span(FROM, LOG_S)] = np.linspace(9.0, -0.2, s.n - s.span(FROM, LOG_S).start)
    finding = only(told(s, RefillNotAnswered(), recipe=feeder_recipe()))

    assert finding.last.summary.endswith("0.0 kg left, no refill, empty now")


def test_a_refill_ends_it() -> None:
    s = calm()
    s.even_weight("F2", 9.0, FROM, FROM + 120)
    s.refill("F2", FROM + 120, 40, over_s=60)
    last = only(told(s, RefillNotAnswered(), recipe=feeder_recipe())).last

    assert last.kind == "closed" and (seconds(last.until) or 0) <= FROM + 200


def test_a_mark_that_stands_while_the_weight_falls_is_a_call_and_no_refill() -> None:
    s = calm()
    s.even_weight("F2", 9.7, FROM, FROM + 400)
    s.put("feeder_refill:F2", FROM, FROM + 400, 1.0)
    finding = only(told(s, RefillNotAnswered(), recipe=feeder_recipe()))

    assert (seconds(finding.first_decided_at) or 0) <= FROM + 150
