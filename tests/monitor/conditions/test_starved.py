"""Starved: never from one quantity, and told from thin melt, restriction, speed and feeders that only say so."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.starved import Starved
from monitor.line import Line
from tests.monitor.conditions.told import (
    R1,
    SINGLE,
    TWIN,
    Story,
    changed,
    only,
    seconds,
    single,
    told,
    twin,
    without,
    words,
)  # fmt: skip
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 2400, 1200, 1800


def feeds(s: Script, factor: float) -> None:
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", FROM, TO, factor)


def fed_less(s: Script) -> None:
    """A fifth less is fed: torque falls by a fifth, pressure by Q^0.35 about 7.5 %."""
    feeds(s, 0.8)
    s.scale("torque", FROM + 5, TO, 0.83)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.925)


def path_blocked(s: Script) -> None:
    """All feeders on set, a third of the torque gone at once, pressure down a third as much."""
    s.scale("torque", FROM, TO, 0.68)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.87)


def thin_melt(s: Script) -> None:
    """A lot of lower viscosity: pressure moves at least as much as torque."""
    s.scale("torque", FROM, TO, 0.8)
    s.scale("melt_pressure:P1", FROM, TO, 0.75)


def restriction(s: Script) -> None:
    s.scale("torque", FROM, TO, 1.03)
    s.scale("melt_pressure:P1", FROM, TO, 1.3)


def faster_screw(s: Script) -> None:
    """Speed raised by a quarter by somebody: same feed, emptier screw, less torque."""
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM, LOG_S, 1.25)
    s.scale("torque", FROM, LOG_S, 0.8)
    s.scale("melt_pressure:P1", FROM + 5, LOG_S, 0.99)


def only_the_feeders_say_so(s: Script) -> None:
    """A fifth less reported, and nothing follows: the signal lies."""
    feeds(s, 0.8)


def slow_slide(s: Script) -> None:
    """The first hour after a start: torque slides by 6 % while pressure follows a little."""
    part = s.span(600, LOG_S)
    n = len(s.x["torque"][part])
    s.x["torque"][part] *= [1 - 0.06 * i / n for i in range(n)]


def planned_lower_rate(s: Script) -> None:
    feeds(s, 0.8)
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_setpoint:{feeder}", FROM, TO, 0.8)
    s.scale("torque", FROM + 5, TO, 0.83)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.925)


def one_bad_cell(s: Script) -> None:
    s.scale("torque", FROM, FROM + 9, 0.5)
    s.scale("melt_pressure:P1", FROM, FROM + 9, 0.8)


@pytest.mark.parametrize(
    ("story", "word", "confidence"),
    [(fed_less, "% less than set and the machine follows", "high"), (path_blocked, "all feeders on set", "medium")],
)
def test_speaks(story: Story, word: str, confidence: str) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, Starved()))

    assert word in finding.last.summary and finding.last.confidence == confidence
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 40
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 60
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 30


@pytest.mark.parametrize(
    "story",
    [thin_melt, restriction, faster_screw, only_the_feeders_say_so, slow_slide, planned_lower_rate, one_bad_cell],
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, Starved()) == []


def test_a_blocked_path_that_empties_the_screw_is_said_to_be_deep() -> None:
    s = twin(LOG_S)
    s.put("torque", FROM, TO, 9.0)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.5)

    assert "a scale or rate signal lies" in words(only(told(s, Starved())))


def test_without_torque_pressure_confirms_the_feeders() -> None:
    s = twin(LOG_S)
    fed_less(s)

    assert told(s, Starved(), line=without(TWIN, "torque"))
    silent = twin(LOG_S)
    only_the_feeders_say_so(silent)
    assert told(silent, Starved(), line=without(TWIN, "torque")) == []


def test_near_the_torque_limit_a_screw_is_not_empty() -> None:
    """The limiter trims the feed of a screw that labours: more torque than before, less fed, not starved."""
    s = twin(LOG_S)
    s.put("torque", FROM, TO, 97.0)
    feeds(s, 0.8)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.925)

    assert told(s, Starved()) == []


def test_a_torque_in_an_unknown_unit_is_not_held_against_a_limit_in_percent() -> None:
    """600 Nm is no 600 %: the screw that is fed less is still starved."""
    s = twin(LOG_S)
    fed_less(s)
    s.x["torque"] = s.x["torque"] * 10
    data = TWIN.model_dump()
    data["sensor"] = [{**one, "unit": "relative" if one["role"] == "torque" else one["unit"]} for one in data["sensor"]]

    assert told(s, Starved(), line=type(TWIN).model_validate(data))


# -- flood-fed


def throat_bridged(s: Script) -> None:
    s.scale("torque", FROM, TO, 0.75)
    s.scale("melt_pressure:P1", FROM, TO, 0.8)
    s.scale("line_rate", FROM, TO, 0.65)


def thinner_at_the_same_rate(s: Script) -> None:
    s.scale("torque", FROM, TO, 0.8)
    s.scale("melt_pressure:P1", FROM, TO, 0.8)


def restricted_single(s: Script) -> None:
    s.scale("melt_pressure:P1", FROM, TO, 1.4)
    s.scale("torque", FROM, TO, 1.05)
    s.scale("line_rate", FROM, TO, 0.9)


def test_flood_fed_speaks_when_rate_load_and_pressure_fall_together() -> None:
    s = single(LOG_S)
    throat_bridged(s)

    finding = only(told(s, Starved()))
    assert finding.last.confidence == "high" and "hopper empty or bridged" in words(finding)


@pytest.mark.parametrize("story", [thinner_at_the_same_rate, restricted_single])
def test_flood_fed_stays_silent(story: Story) -> None:
    s = single(LOG_S)
    story(s)

    assert told(s, Starved()) == []


def test_flood_fed_without_a_measured_rate_both_causes_are_said() -> None:
    s = single(LOG_S)
    throat_bridged(s)
    finding = only(told(s, Starved(), line=without(SINGLE, "line_rate")))

    assert finding.last.confidence == "low"
    assert "thinner melt: a new lot, hotter zones" in words(finding)


def test_a_recipe_that_floods_a_twin_screw_is_judged_as_flood_fed() -> None:
    s = twin(LOG_S)
    path_blocked(s)
    flooded_feed = changed(R1, recipe={"feed": "flooded"})

    assert told(s, Starved(), recipe=flooded_feed) == [], "its rate over speed held"


def test_a_level_more_than_thirty_percent_less_is_more_urgent_and_says_what_empty_screws_do() -> None:
    s = twin(LOG_S)
    fed_less(s)
    mild = only(told(s, Starved())).last
    s = twin(LOG_S)
    feeds(s, 0.5)
    s.scale("torque", FROM + 5, TO, 0.55)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.8)
    deep = only(told(s, Starved())).last

    assert (mild.priority, deep.priority) == (3, 2)
    assert "nearly empty" in " ".join(deep.checks) and "nearly empty" not in " ".join(mild.checks)


def test_a_path_blocked_wholly_names_what_speaks_for_it() -> None:
    s = twin(LOG_S)
    s.put("torque", FROM, TO, 9.0)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.5)
    causes = only(told(s, Starved())).last.causes

    assert causes[0].text == "path blocked between feeder and throat"
    assert any("no-load" in text for text in causes[0].speaks_for)
    intake = next(cause for cause in causes if cause.text.startswith("flooded at the intake"))
    assert intake.speaks_against


def all_feeders_trimmed(s: Script, torque_before: float) -> None:
    s.put("torque", FROM - 60, FROM, torque_before)
    feeds(s, 0.85)
    s.put("torque", FROM, TO, 50.0)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.94)


def test_feeders_that_fall_together_after_torque_was_at_its_limit_were_trimmed() -> None:
    s = twin(LOG_S)
    all_feeders_trimmed(s, 93.0)
    assert told(s, Starved()) == []
    s = twin(LOG_S)
    all_feeders_trimmed(s, 60.0)
    assert told(s, Starved()), "nothing limited it: less is fed than set"


def test_feeders_that_all_stand_were_switched_off_and_nobody_starves_the_screw() -> None:
    """A screw left turning is another finding, after five minutes."""
    s = twin(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        s.put(f"feeder_rate:{feeder}", FROM, TO, 0.0)
        s.put(f"feeder_drive:{feeder}", FROM, TO, 0.0)
    s.put("torque", FROM + 10, TO, 9.0)
    s.scale("melt_pressure:P1", FROM + 15, TO, 0.3)

    assert told(s, Starved()) == []


def test_a_bridged_only_feeder_is_not_waited_for() -> None:
    """Its drive climbs: nobody has switched it off."""
    s = twin(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        s.put(f"feeder_rate:{feeder}", FROM, TO, 0.0)
    s.put("feeder_drive:F1", FROM, TO, 98.0)
    s.put("torque", FROM + 10, TO, 9.0)
    s.scale("melt_pressure:P1", FROM + 15, TO, 0.3)

    assert (seconds(only(told(s, Starved())).first_decided_at) or 0) <= FROM + 50


def test_what_an_unstated_no_load_part_might_hide_widens_the_limit() -> None:
    """20 % shown, 8 assumed no-load: a fall of 0.8 is 7 % of 12 but 4 % if the no-load part is nil."""
    s = twin(LOG_S)
    s.x["torque"][:] = 20 + s.noise(0.1)
    s.x["torque"][s.span(FROM, TO)] -= 0.8
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.975)
    stated = changed(TWIN, drive={"no_load_torque_pct": 8.0})
    unstated = TWIN.model_copy(update={"drive": type(TWIN.drive)(rated_power_kw=75, rated_speed_rpm=600)})

    assert told(s, Starved(), line=stated)
    assert told(s, Starved(), line=unstated) == []


def by_current(rated: bool) -> tuple[Line, float]:
    """The line with motor current in place of torque; 100 A rated."""
    data = TWIN.model_dump()
    data["sensor"] = [{**one, "role": "motor_current"} if one["role"] == "torque" else one for one in data["sensor"]]
    if rated:
        data["drive"] = {**data["drive"], "rated_current_a": 100.0}
    return Line.model_validate({**data, "version": f"by current {rated}"}), 100.0


@pytest.mark.parametrize("rated", [True, False], ids=["rated current known", "not known"])
def test_half_the_feed_is_seen_in_a_current_of_which_a_third_magnetises(rated: bool) -> None:
    s = twin(LOG_S)
    s.put("torque", FROM, TO, 34.0)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.8)
    share = s.x["torque"] / 100
    s.x["motor_current"] = 100 * np.sqrt(1 / 9 + 8 / 9 * share**2)
    line, _ = by_current(rated)

    assert "all feeders on set" in words(only(told(s, Starved(), line=line)))


def hopper_line() -> Line:
    data = without(SINGLE, "line_rate").model_dump()
    data["sensor"] = [*data["sensor"], {"tag": "level", "role": "hopper_level"}]
    return Line.model_validate({**data, "version": "hopper"})


@pytest.mark.parametrize(("top", "sure"), [(70.0, "low"), (9.0, "high")])
def test_a_hopper_is_judged_over_several_loader_cycles(top: float, sure: str) -> None:
    """Its level saw-tooths down to 5 % in every cycle: only one that never comes up again runs out."""
    s = single(LOG_S)
    throat_bridged(s)
    cycle = (np.arange(s.n) % 120) / 120
    s.x["hopper_level"] = 70 - 65 * cycle
    part = s.span(FROM - 700, LOG_S)
    s.x["hopper_level"][part] = (top - (top - 5) * cycle)[part]
    finding = only(told(s, Starved(), line=hopper_line()))

    assert finding.last.confidence == sure
    assert finding.last.cause_texts[0] == "hopper empty or bridged"


def test_flood_fed_without_load_pressure_and_measured_rate_say_it() -> None:
    s = single(LOG_S)
    throat_bridged(s)

    assert told(s, Starved(), line=without(SINGLE, "torque"))
    quiet = single(LOG_S)
    thinner_at_the_same_rate(quiet)
    assert told(quiet, Starved(), line=without(SINGLE, "torque")) == []


def test_a_feeder_that_finds_its_rate_again_within_half_a_minute_starves_nothing() -> None:
    """A tenth low for 40 s after a refill, torque follows a little."""
    s = twin(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", FROM, FROM + 40, 0.9)
    s.scale("torque", FROM + 5, FROM + 45, 0.9)
    s.scale("melt_pressure:P1", FROM + 10, FROM + 50, 0.95)

    assert told(s, Starved()) == []


def test_a_path_that_backs_up_into_its_feeders_within_a_minute_was_blocked_first() -> None:
    """Torque dies away over a minute, and 40 s after it began the feeders stand in their own material."""
    s = twin(LOG_S)
    dies = s.span(FROM, TO)
    after = np.arange(s.n)[dies] - dies.start
    s.x["torque"][dies] = 9.0 + 51.0 * 0.5 ** (after / 12.0) + s.noise(0.1)[dies]
    s.x["melt_pressure:P1"][dies] *= 0.5 + 0.5 * 0.5 ** (after / 15.0)
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", FROM + 45, TO, 0.3)
    finding = only(told(s, Starved()))

    assert finding.last.cause_texts[0] == "path blocked between feeder and throat"
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 100


def test_feeders_switched_on_one_after_the_other_in_a_start_starve_nothing() -> None:
    s = twin(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 300, 600, 0)
    for feeder, on_s in (("F1", 700), ("F2", 640), ("F3", 640)):
        s.put(f"feeder_rate:{feeder}", 290, on_s, 0)
    for what in ("F1", "F2", "F3"):
        s.put(f"feeder_setpoint:{what}", 290, 600, 0)
    s.put("torque", 600, 700, 12.0)
    s.put("melt_pressure:P1", 300, 700, 10.0)

    assert told(s, Starved()) == []
