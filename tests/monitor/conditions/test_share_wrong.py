"""Shares off the recipe though every feeder follows; a common change of rate and refills are not."""

from __future__ import annotations

import pytest

from monitor.conditions.share_wrong import ShareWrong
from tests.monitor.conditions.told import R1, TWIN, Story, told, twin, without, words
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 3000, 900, 2400


def keyed_in_wrong(s: Script) -> None:
    """Set-point of F2 a tenth too high, and the feeder follows it perfectly."""
    s.scale("feeder_setpoint:F2", FROM, TO, 1.1)
    s.scale("feeder_rate:F2", FROM, TO, 1.1)


def does_not_follow(s: Script) -> None:
    s.scale("feeder_rate:F2", FROM, TO, 0.9)


def ratio_control(s: Script) -> None:
    """The whole line slower by a tenth: every share stays."""
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_setpoint:{feeder}", FROM, TO, 0.9)
        s.scale(f"feeder_rate:{feeder}", FROM, TO, 0.9)


def small_error(s: Script) -> None:
    s.scale("feeder_rate:F2", FROM, TO, 1.02)


def short_error(s: Script) -> None:
    s.scale("feeder_rate:F2", FROM, FROM + 60, 1.1)


def one_feeder_unread(s: Script) -> None:
    keyed_in_wrong(s)
    s.put("feeder_rate:F3", FROM - 300, TO + 300, float("nan"))


@pytest.mark.parametrize(
    ("story", "cause"),
    [
        (keyed_in_wrong, "set-point of this feeder is not the recipe's: it follows it"),
        (does_not_follow, "this feeder does not follow its set-point"),
    ],
)
def test_speaks(story: Story, cause: str) -> None:
    s = twin(LOG_S)
    story(s)

    found = {finding.last.channel: finding for finding in told(s, ShareWrong())}

    assert cause in words(found["share:F2"])
    assert "recipe 19.00 %" in found["share:F2"].last.summary


@pytest.mark.parametrize("story", [ratio_control, small_error, short_error, one_feeder_unread])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, ShareWrong()) == []


def test_a_feeder_that_the_recipe_does_not_name_should_feed_nothing() -> None:
    """Two feeders left over from the last product, one of them running on."""
    s = twin(LOG_S)
    for what in ("rate", "setpoint"):
        s.put(f"feeder_{what}:F2", 0, LOG_S, 0.0)
    two = type(R1)(**{**R1.model_dump(), "shares": {"F1": 100}})
    found = {finding.last.channel: finding for finding in told(s, ShareWrong(), recipe=two)}

    assert "recipe 0.00 %" in found["share:F3"].last.summary and "share:F2" not in found
    foreign = type(R1)(**{**R1.model_dump(), "shares": {"other line 1": 60, "other line 2": 40}})
    assert told(s, ShareWrong(), recipe=foreign) == [], "a recipe in the names of another line says nothing"


def test_without_a_recipe_or_with_one_feeder_no_share_is_wrong() -> None:
    s = twin(LOG_S)
    keyed_in_wrong(s)

    assert told(s, ShareWrong(), recipes=False) == []
    data = without(TWIN, "feeder_setpoint")
    kept = tuple(x for x in data.sensor if x.key not in ("feeder_rate:F2", "feeder_rate:F3"))
    assert told(s, ShareWrong(), line=data.model_copy(update={"sensor": kept})) == []


def test_without_set_points_it_does_not_claim_to_know_whose_fault_it_is() -> None:
    s = twin(LOG_S)
    keyed_in_wrong(s)
    finding = next(f for f in told(s, ShareWrong(), line=without(TWIN, "feeder_setpoint")) if "F2" in f.last.channel)

    assert "does not follow" not in words(finding)


def test_what_one_feeder_does_to_the_others_is_said_with_it() -> None:
    """The base a tenth short: every other share is a twelfth too high. One ingredient is named, not three."""
    s = twin(LOG_S)
    s.scale("feeder_rate:F2", FROM, TO, 0.7)

    assert [f.last.channel for f in told(s, ShareWrong())] == ["share:F2"]


def test_the_share_in_the_set_points_speaks_for_a_wrong_set_point() -> None:
    s = twin(LOG_S)
    keyed_in_wrong(s)
    first = next(f for f in told(s, ShareWrong()) if f.last.channel == "share:F2").last.causes[0]

    assert "share in the set-points 20." in first.speaks_for[0]


def test_rates_as_whole_numbers() -> None:
    """1 % of 300 kg/h is 3; logged as 3 whatever it is between 2.5 and 3.5."""
    s = twin(LOG_S)
    for feeder, rate in (("F1", 240.0), ("F2", 57.0), ("F3", 3.0)):
        s.put(f"feeder_rate:{feeder}", 0, LOG_S, rate)
    s.put("feeder_rate:F3", FROM, TO, 3.0)
    s.put("feeder_rate:F1", FROM, TO, 262.0)
    shares = {f.last.channel for f in told(s, ShareWrong())}

    assert "share:F3" not in shares
