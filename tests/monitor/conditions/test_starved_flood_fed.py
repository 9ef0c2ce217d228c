"""A flood-fed screw without a measured rate: less that comes in, told from a thinner melt by how far and how hot."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.recipe_window import RecipeWindow
from monitor.conditions.setpoint_not_recipe import SetpointNotRecipe
from monitor.conditions.starved import Starved
from tests.monitor.conditions.told import SINGLE, TWIN, changed, only, seconds, single, told, twin, without
from tests.monitor.scripted_world import FEEDERS

LOG_S, FROM, TO = 3600, 1200, 2400


@pytest.mark.parametrize(("torque", "thin_first"), [(0.75, True), (0.6, False)])
def test_a_fall_further_than_lots_differ_is_no_thinner_melt_though_pressure_goes_as_far(
    torque: float, thin_first: bool
) -> None:
    """The pressure goes slowly at first, as behind a long die."""
    s = single(LOG_S)
    s.scale("torque", FROM, FROM + 120, torque + 0.02)
    s.scale("torque", FROM + 120, TO, torque)
    s.scale("melt_pressure:P1", FROM, FROM + 120, 0.88)
    s.scale("melt_pressure:P1", FROM + 120, TO, torque - 0.04)
    part = s.span(FROM, TO)
    s.x["melt_temperature:MT1"][part] += 4.0
    causes = only(told(s, Starved(), line=without(SINGLE, "line_rate"))).last.causes

    thin = next(cause for cause in causes if cause.text.startswith("thinner"))
    assert (causes[0] is thin) == thin_first
    assert ("lots of one grade do not differ so far" in thin.speaks_against) != thin_first
    assert "pressure fell less than torque" not in thin.speaks_against


@pytest.mark.parametrize(("torque", "said"), [(0.7, 1), (0.85, 0)])
def test_a_third_of_the_load_that_goes_at_once_is_starving_though_a_fouled_screen_lets_go_of_as_much_pressure(
    torque: float, said: int
) -> None:
    """A melt does not thin so far within minutes; a load that goes down a little with the pressure may be a lot's."""
    s = single(LOG_S)
    part = s.span(600, FROM)
    s.x["melt_pressure:P1"][part] *= np.linspace(1.0, 1.4, len(s.x["melt_pressure:P1"][part]))
    s.scale("melt_pressure:P1", FROM, TO, 0.68)
    s.scale("torque", FROM, TO, torque)

    assert len(told(s, Starved(), line=without(SINGLE, "line_rate"))) == said


def test_a_blender_s_set_points_that_follow_what_the_screw_takes_do_not_hide_that_it_takes_less() -> None:
    """A throat that closes by a third at the same speed: what refills it weighs in a third less by itself."""
    s = twin(LOG_S)
    for feeder in FEEDERS:
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, TO, 0.68)
    s.scale("torque", FROM, TO, 0.72)
    s.scale("melt_pressure:P1", FROM, TO, 0.76)
    line = changed(TWIN, line={"kind": "single-screw"})
    said = told(s, Starved(), RecipeWindow(), SetpointNotRecipe(), line=line)
    roots = [finding for finding in said if not finding.last.part_of]

    assert [finding.last.condition for finding in roots] == ["starved"]
    assert FROM <= (seconds(roots[0].first_decided_at) or 0) <= FROM + 120
    assert roots[0].last.priority == 2
    assert "rate over speed fell too" in roots[0].last.causes[0].speaks_for
    assert not any("rate wanted" in fact.sentence() for finding in said for fact in finding.last.evidence)
