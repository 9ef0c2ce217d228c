"""A side feeder that backs up; a higher rate and denser material are not that."""

from __future__ import annotations

import pytest

from monitor.conditions.side_feeder_backing_up import SideFeederBackingUp
from tests.monitor.conditions.feeder_stories import FROM, Story, calm, rate_changed
from tests.monitor.conditions.told import only, seconds, told, without
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe


def backs_up(s: FeederScript) -> None:
    s.scale("stuffer_load:F2", FROM, FROM + 240, 1.5)
    s.scale("torque", FROM + 10, FROM + 240, 0.95)
    s.scale("melt_pressure:P1", FROM + 20, FROM + 240, 0.97)


def slug(s: FeederScript) -> None:
    backs_up(s)
    s.scale("torque", FROM + 180, FROM + 240, 1.15 / 0.95)


def denser(s: FeederScript) -> None:
    """Works harder and all of it goes in."""
    s.scale("stuffer_load:F2", FROM, FROM + 1200, 1.3)


def flushes(s: FeederScript) -> None:
    """Double is fed while its hopper is filled, its rate held on set: its stuffer has double to carry at once, the
    torque comes up behind it, and in between one reading of the pressure lay low."""
    s.scale("stuffer_load:F2", FROM, FROM + 40, 2.0)
    s.scale("melt_pressure:P1", FROM - 10, FROM + 10, 0.95)
    s.scale("torque", FROM + 10, FROM + 60, 1.2)


def feeder_off(s: FeederScript) -> None:
    """More is fed than set: what that does is another finding."""
    backs_up(s)
    s.scale("feeder_rate:F2", FROM - 10, FROM + 250, 1.2)


@pytest.mark.parametrize(("story", "word"), [(backs_up, "gets less than is fed"), (slug, "slug lets go")])
def test_speaks(story: Story, word: str) -> None:
    s = calm()
    story(s)
    finding = only(told(s, SideFeederBackingUp(), recipe=feeder_recipe()))

    assert word in finding.last.summary
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 90


@pytest.mark.parametrize("story", [denser, flushes, feeder_off, rate_changed])
def test_stays_silent(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, SideFeederBackingUp(), recipe=feeder_recipe()) == []


def test_without_torque_and_pressure_only_a_high_load_tells() -> None:
    line = without(feeder_line(), "torque", "melt_pressure")
    some, much = calm(), calm()
    some.scale("stuffer_load:F2", FROM, FROM + 240, 1.5)
    much.scale("stuffer_load:F2", FROM, FROM + 240, 2.3)

    assert told(some, SideFeederBackingUp(), line=line, recipe=feeder_recipe()) == []
    assert only(told(much, SideFeederBackingUp(), line=line, recipe=feeder_recipe())).last.confidence == "medium"


def gone(s: FeederScript, minutes: float = 20) -> None:
    """Its chute is blocked: the stuffer turns empty, the extruder gets less."""
    s.scale("stuffer_load:F2", FROM, FROM + 60 * minutes, 0.5)
    s.scale("torque", FROM + 10, FROM + 60 * minutes, 0.92)
    s.scale("melt_pressure:P1", FROM + 20, FROM + 60 * minutes, 0.95)


def test_a_side_feeder_that_gets_nothing_is_said_while_it_lasts_and_not_when_it_is_over() -> None:
    s = calm()
    gone(s)
    finding = only(told(s, SideFeederBackingUp(), recipe=feeder_recipe()))

    assert "does not reach it" in finding.last.summary and "chute" in finding.last.cause_texts[0]
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 90
    assert FROM + 1140 <= (seconds(finding.last.until) or 0) <= FROM + 1320


def lighter(s: FeederScript) -> None:
    """Less work for the same material: torque and pressure stay."""
    s.scale("stuffer_load:F2", FROM, FROM + 1200, 0.6)


def feeder_brings_less(s: FeederScript) -> None:
    gone(s)
    s.scale("feeder_rate:F2", FROM - 10, FROM + 1210, 0.5)


@pytest.mark.parametrize("story", [lighter, feeder_brings_less])
def test_a_stuffer_with_less_to_do_is_no_blocked_chute(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, SideFeederBackingUp(), recipe=feeder_recipe()) == []


def test_a_stuffer_that_has_let_its_slug_go_is_empty_for_a_while() -> None:
    s = calm()
    slug(s)
    s.scale("stuffer_load:F2", FROM + 240, FROM + 480, 0.5)
    s.scale("torque", FROM + 240, FROM + 480, 0.95)

    assert "slug lets go" in only(told(s, SideFeederBackingUp(), recipe=feeder_recipe())).last.summary


@pytest.mark.parametrize(("more", "said"), [(1.35, 0), (1.8, 1)])
def test_a_product_with_more_of_it_gives_the_stuffer_more_to_do(more: float, said: int) -> None:
    """A third more filler from now on, and the pressure of another recipe a little under what was learned; what takes
    much more work than that stands in it."""
    s = calm()
    for key in ("feeder_setpoint:F2", "feeder_rate:F2"):
        s.scale(key, FROM - 600, FROM + 1200, 1.35)
    s.scale("stuffer_load:F2", FROM - 600, FROM + 1200, more)
    s.scale("torque", FROM, FROM + 1200, 0.96)

    assert len(told(s, SideFeederBackingUp(), recipe=feeder_recipe())) == said
