"""A thicker lot beside a screen that fills: the pressure behind the screen tells which of the two it is."""

from __future__ import annotations

from monitor.conditions.screen_blinding import ScreenBlinding
from monitor.conditions.viscous_lot import ViscousLot
from tests.monitor.conditions.told import told
from tests.monitor.world_path import add, path_line, path_recipe, path_script

LOG_S, FROM = 5 * 3600, 9000
PRESSURES = ("melt_pressure:P1", "melt_pressure:P2")


def test_a_screen_that_fills_beside_bears_no_witness_against_a_thicker_lot() -> None:
    """Before and behind the screen up by one share, load hardly: the melt, although the screen has been filling too."""
    s = path_script(LOG_S, path_line())
    add(s, PRESSURES[0], 0, LOG_S, 0, 7.5)
    for key in PRESSURES:
        s.scale(key, FROM, LOG_S, 1.25)
    found = {f.last.condition: f for f in told(s, ScreenBlinding(), ViscousLot(), recipe=path_recipe())}

    assert set(found) == {"screen_blinding", "viscous_lot"}
    assert found["viscous_lot"].last.cause_texts[0] == "more viscous lot"
    assert "more viscous lot" in found["viscous_lot"].last.summary
