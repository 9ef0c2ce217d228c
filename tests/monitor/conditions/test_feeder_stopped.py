"""A feeder that delivers nothing: bridged with its drive turning, tripped with it still; and what is neither."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeder_stopped import FeederBridged, FeederTripped
from tests.monitor.conditions.told import TWIN, Story, only, seconds, told, twin, without, words
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 1500, 600, 900
BOTH = (FeederTripped(), FeederBridged())


def bridged(s: Script) -> None:
    s.scale("feeder_rate:F1", FROM, TO, 0.2)
    s.put("feeder_drive:F1", FROM, TO, 98)


def run_empty(s: Script) -> None:
    bridged(s)
    s.put("feeder_weight:F1", FROM, TO, 0.2)


def tripped(s: Script) -> None:
    s.put("feeder_rate:F1", FROM, TO, 0)
    s.put("feeder_drive:F1", FROM, TO, 0)


def switched_off(s: Script) -> None:
    tripped(s)
    s.put("feeder_setpoint:F1", FROM, LOG_S, 0)
    s.put("feeder_rate:F1", FROM, LOG_S, 0)


def in_refill(s: Script) -> None:
    """The rate reads low for as long as the refill takes and the half minute after it."""
    s.put("feeder_refill:F1", FROM, FROM + 40, 1)
    s.scale("feeder_rate:F1", FROM, FROM + 65, 0.3)


def volumetric(s: Script) -> None:
    """Fell back to volumetric: the rate reads on set. Its weight tells, elsewhere."""
    s.put("feeder_drive:F1", FROM, TO, 98)


def short_dip(s: Script) -> None:
    s.scale("feeder_rate:F1", FROM, FROM + 10, 0.2)


def no_reading(s: Script) -> None:
    s.put("feeder_rate:F1", FROM, TO, float("nan"))


@pytest.mark.parametrize(
    ("story", "condition", "word"),
    [
        (bridged, "feeder_bridged", "bridged: 4"),
        (run_empty, "feeder_bridged", "empty: 4"),
        (tripped, "feeder_tripped", "tripped: 0.0 of 240.0 kg/h"),
    ],
)
def test_speaks(story: Story, condition: str, word: str) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, *BOTH))

    assert finding.last.condition == condition and word in finding.last.summary
    assert finding.last.priority == 2 and finding.last.confidence == "high"
    assert seconds(finding.last.since) == FROM and seconds(finding.first_decided_at) == FROM + 20
    assert seconds(finding.last.until) == TO


@pytest.mark.parametrize("story", [switched_off, in_refill, volumetric, short_dip, no_reading])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, *BOTH) == []


def test_without_the_drive_all_three_causes_are_said() -> None:
    s = twin(LOG_S)
    tripped(s)
    finding = only(told(s, *BOTH, line=without(TWIN, "feeder_drive")))

    assert finding.last.condition == "feeder_bridged" and finding.last.confidence == "medium"
    for cause in ("bridged", "run empty: refill not answered", "drive tripped: its speed is not logged"):
        assert cause in finding.last.cause_texts


def test_without_a_refill_mark_the_weight_tells_a_refill() -> None:
    s = twin(LOG_S)
    s.scale("feeder_rate:F1", FROM, FROM + 40, 0.3)
    line = without(TWIN, "feeder_refill")

    assert told(s, *BOTH, line=line), "a rate lost with the weight falling on"
    weight = s.x["feeder_weight:F1"]
    weight[s.span(FROM, FROM + 40)] = weight[s.span(FROM, FROM + 1)] + 0.3 * np.arange(40)
    weight[s.span(FROM + 40, LOG_S)] += 12
    assert told(s, *BOTH, line=line) == []


def test_without_set_points_the_recipe_says_what_is_wanted() -> None:
    s = twin(LOG_S)
    bridged(s)
    finding = only(told(s, *BOTH, line=without(TWIN, "feeder_setpoint")))

    assert "of 240.0 kg/h" in words(finding)
