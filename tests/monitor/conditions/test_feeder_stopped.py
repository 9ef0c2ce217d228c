"""A feeder that delivers nothing: bridged with its drive turning, tripped with it still; and what is neither."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions import feeder_signals
from monitor.conditions.feeder_stopped import FeederBridged, FeederTripped
from monitor.contract import Context
from monitor.line import Line
from tests.monitor.conditions.told import TWIN, Story, changed, only, seconds, told, twin, without, words
from tests.monitor.scripted_world import Script
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe

LOG_S, FROM, TO = 1500, 600, 900
BOTH = (FeederTripped(), FeederBridged())


def bridged(s: Script) -> None:
    s.scale("feeder_rate:F1", FROM, TO, 0.2)
    s.put("feeder_drive:F1", FROM, TO, 98)
    s.scale("torque", FROM + 6, TO + 6, 0.4)


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


def turned_slower(s: Script) -> None:
    """Its controller overshoots after a rush of powder: less drive, and as much a turn as ever."""
    s.scale("feeder_rate:F1", FROM, TO, 0.5)
    s.scale("feeder_drive:F1", FROM, TO, 0.5)


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
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 10


@pytest.mark.parametrize("story", [switched_off, in_refill, volumetric, turned_slower, short_dip, no_reading])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, *BOTH) == []


def test_a_rate_that_is_held_on_its_set_point_while_it_is_filled_ends_nothing() -> None:
    """Nothing marks the refill, and the controller shows what it wants for half a minute."""
    s = twin(LOG_S)
    bridged(s)
    s.put("feeder_rate:F2", FROM + 120, FROM + 155, float(s.x["feeder_setpoint:F2"][0]))
    found = told(s, *BOTH, line=without(TWIN, "feeder_refill", "feeder_weight"))

    assert TO <= (seconds(only(found).last.until) or 0) <= TO + 10


def test_without_the_drive_all_three_causes_are_said() -> None:
    s = twin(LOG_S)
    tripped(s)
    finding = only(told(s, *BOTH, line=without(TWIN, "feeder_drive")))

    assert finding.last.condition == "feeder_bridged" and finding.last.confidence == "medium"
    for cause in ("bridged", "run empty: refill not answered", "drive tripped: its speed is not logged"):
        assert cause in finding.last.cause_texts


@pytest.mark.parametrize("without_roles", [(), ("feeder_weight", "feeder_drive"), ("torque",)])
def test_somebody_who_leans_on_the_main_hopper_for_half_a_minute_is_no_bridge(without_roles: tuple[str, ...]) -> None:
    """The loss that is shown is too small, then too large; the load stands. Where none is logged, nobody can tell."""
    s = twin(LOG_S)
    s.scale("feeder_rate:F1", FROM, FROM + 30, 0.55)
    s.scale("feeder_rate:F1", FROM + 30, FROM + 42, 1.35)
    line = without(TWIN, *without_roles) if without_roles else TWIN

    assert bool(told(s, *BOTH, line=line)) == (without_roles == ("torque",))


@pytest.mark.parametrize(
    ("lasts_s", "roles", "said_after_s"),
    [
        pytest.param(30, ("feeder_drive", "feeder_weight"), None, id="only rates: half a minute"),
        pytest.param(900, ("feeder_drive", "feeder_weight"), 100, id="only rates: for good"),
        pytest.param(900, (), 45, id="a drive that turns on"),
    ],
)
def test_a_hand_on_a_small_hopper_shows_in_no_load(
    lasts_s: float, roles: tuple[str, ...], said_after_s: float | None
) -> None:
    s = twin(LOG_S)
    s.scale("feeder_rate:F3", FROM, FROM + lasts_s, 0.4)
    s.scale("feeder_rate:F3", FROM + lasts_s, FROM + lasts_s + 12, 1.35)
    found = told(s, *BOTH, line=without(TWIN, *roles) if roles else TWIN)

    assert len(found) == (said_after_s is not None)
    assert all((seconds(one.first_decided_at) or 0) <= FROM + (said_after_s or 0) for one in found)


def test_a_load_that_stands_for_longer_is_waited_for_no_more() -> None:
    s = twin(LOG_S)
    s.scale("feeder_rate:F1", FROM, TO, 0.55)
    found = only(told(s, *BOTH))

    assert FROM + 70 <= (seconds(found.first_decided_at) or 0) <= FROM + 100


def test_without_a_refill_mark_the_weight_tells_a_refill() -> None:
    s = twin(LOG_S)
    s.scale("feeder_rate:F1", FROM, FROM + 40, 0.3)
    s.scale("torque", FROM + 6, FROM + 46, 0.5)
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


def fed_line(**given: object) -> Line:
    data = feeder_line().model_dump()
    data["feeder"] = [{**part, **given} if part["name"] == "F2" else part for part in data["feeder"]]
    return Line.model_validate({**data, "version": str(given)})


def gone(s: FeederScript, drive: float, weight: float | None) -> None:
    """F2 gives nothing from a quarter of an hour on."""
    s.scale("feeder_rate:F2", FROM, TO, 0.02)
    s.put("feeder_drive:F2", FROM, TO, drive)
    if weight is not None:
        s.put("feeder_weight:F2", FROM - 60, TO, weight)
        s.put("feeder_refill:F2", 0, LOG_S, 0)


@pytest.mark.parametrize(
    ("drive", "weight", "condition", "cause"),
    [
        (98, 40, "feeder_bridged", "bridged"),
        (98, 0.4, "feeder_bridged", "run empty: refill not answered"),
        (0, 40, "feeder_tripped", "drive tripped or switched off"),
        (0, 0.4, "feeder_tripped", "drive tripped or switched off"),
        (45, 40, "feeder_bridged", "volumetric mode at a low speed"),
    ],
)
def test_weight_and_drive_tell_bridged_empty_and_tripped_apart(
    drive: float, weight: float, condition: str, cause: str
) -> None:
    s = FeederScript(LOG_S)
    gone(s, drive, weight)
    finding = next(
        f for f in told(s, FeederBridged(), FeederTripped(), recipe=feeder_recipe()) if "F2" in f.last.channel
    )

    assert finding.last.condition == condition and finding.last.causes[0].text == cause
    assert finding.last.causes[0].speaks_for, "what was seen is said"


def test_without_drive_and_weight_no_cause_is_favoured_by_evidence() -> None:
    s = FeederScript(LOG_S)
    gone(s, 98, 40)
    line = without(feeder_line(), "feeder_drive", "feeder_weight", "feeder_refill")
    causes = only(told(s, FeederBridged(), line=line, recipe=feeder_recipe())).last.causes

    assert {c.text.split(":")[0] for c in causes} == {"bridged", "run empty", "drive tripped"}
    assert not any(c.speaks_for or c.speaks_against for c in causes)


@pytest.mark.parametrize(
    ("effect", "words_said"),
    [("raises", "torque and pressure fall"), ("lowers", "torque rises"), ("none", "only composition moves")],
)
def test_what_the_loss_does_to_torque_is_the_line_files(effect: str, words_said: str) -> None:
    s = FeederScript(LOG_S)
    gone(s, 98, None)

    assert words_said in words(
        only(told(s, FeederBridged(), line=fed_line(effect_on_torque=effect), recipe=feeder_recipe()))
    )


def test_a_refill_that_nobody_marks_is_no_trip_and_no_bridge() -> None:
    """The mark is stuck at 0; the controller shows nonsense for the two minutes of filling by hand."""
    s = FeederScript(LOG_S)
    s.even_weight("F2", 60, 0, LOG_S)
    s.put("feeder_refill:F2", 0, LOG_S, 0)
    s.refill("F2", FROM, 40, over_s=120, marked=False)
    s.scale("feeder_rate:F2", FROM + 10, FROM + 130, 0.1)

    assert told(s, FeederBridged(), FeederTripped(), recipe=feeder_recipe()) == []


def test_feeders_that_die_away_together_each_at_its_pace_are_switched_off_before_a_stop() -> None:
    """Only rates are logged: the large one falls at once, another to two thirds, slowly on; then the screw stops."""
    s = twin(LOG_S)
    clock = np.arange(LOG_S - FROM)
    for feeder, floor in (("F1", 0.0), ("F2", 0.72), ("F3", 0.6)):
        part = s.span(FROM, LOG_S)
        s.x[f"feeder_rate:{feeder}"][part] *= np.clip(1 - clock / 12, floor, 1) * np.clip(1.3 - clock / 100, 0, 1)
    s.scale("torque", FROM + 6, LOG_S, 0.4)
    s.put("screw_speed", FROM + 40, LOG_S, 0.0)
    plain = without(TWIN, "feeder_drive", "feeder_setpoint", "feeder_weight", "feeder_refill")

    assert told(s, FeederBridged(), line=plain, recipe=feeder_recipe()) == []
    s.x["feeder_rate:F2"][:] = 57.0
    assert "feeder_rate:F1" in [f.last.channel for f in told(s, FeederBridged(), line=plain, recipe=feeder_recipe())]


def test_a_drive_on_its_way_up_is_that_of_a_bridge_and_not_of_volumetric_mode() -> None:
    s = FeederScript(LOG_S)
    gone(s, 50, 40)
    s.put("feeder_drive:F2", FROM, TO, 48, slope_s=0.1)
    causes = only(told(s, FeederBridged(), recipe=feeder_recipe())).last.causes

    assert causes[0].text == "bridged" and any("on its way up" in why for why in causes[0].speaks_for)
    assert all("volumetric" not in cause.text for cause in causes)


@pytest.mark.parametrize(("torque", "first"), [(1.1, "its scale sees less"), (0.85, "bridged"), (1.0, "bridged")])
def test_a_loss_that_is_shown_while_the_load_goes_up_is_the_scale_s(torque: float, first: str) -> None:
    """A refill slide passes: the weight hardly falls, the controller goes to its end, and twice the filler comes."""
    s = FeederScript(LOG_S)
    gone(s, 98, 40)
    s.scale("torque", FROM, TO, torque)
    last = only(told(s, FeederBridged(), recipe=feeder_recipe())).last

    assert last.causes[0].text.startswith(first)
    assert ("while the load is up" in last.summary) == (torque > 1)


@pytest.mark.parametrize("feed", ["starved", "flooded"])
def test_a_throat_that_stands_full_holds_no_feeder_back_over_a_flood_fed_screw(feed: str) -> None:
    line = changed(feeder_line(), line={"feed": feed})
    ctx = Context(line, None, None, 10.0)
    rate, wanted = np.full((2, 3), 5.0), np.full((2, 3), 10.0)
    together = feeder_signals.falls_with_neighbours(rate, wanted, ("F1", "F3"), ctx, 0.9)

    assert (together == 1).all() == (feed == "starved")


def test_a_feeder_that_has_tripped_goes_on_doing_so_when_the_line_goes_to_another_speed() -> None:
    """The suction of a melt pump asks for more screw speed, and ratio control for less of all feeders."""
    s = twin(LOG_S)
    tripped(s)
    s.put("feeder_rate:F1", FROM, LOG_S, 0)
    s.put("feeder_drive:F1", FROM, LOG_S, 0)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM + 120, LOG_S, 1.4)
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM + 120, LOG_S, 0.4)

    assert only(told(s, FeederTripped())).last.kind != "closed"
