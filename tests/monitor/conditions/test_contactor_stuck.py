"""Heat nobody asked for: by current, by climbing, by lasting cooling; overshoot, shear and neighbours are not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.contactor_stuck import ContactorStuck
from tests.monitor.conditions.told import Story, only, seconds, told, without
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_ZONES, HeatScript

LOG_S, FROM, TO = 9600, 4200, 8400
BARE = without(HEAT_LINE, "zone_output", "zone_cooling", "zone_current", "zone_auto")


def find(story: Story, line=HEAT_LINE):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    story(s)
    return told(s, ContactorStuck(), line=line, recipe=HEAT_RECIPE)


def current_at_zero_output(s: HeatScript) -> None:
    s.put("zone_output:Z4", FROM, TO, 0)
    s.put("zone_current:Z4", FROM, TO, 20)


def climbs_standing(s: HeatScript) -> None:
    s.stop(1200, LOG_S)
    s.put("zone_output:Z3", FROM, TO, 0)
    s.ramp("zone_temperature:Z3", FROM, TO, 270.0)


def cooled_standing(s: HeatScript) -> None:
    s.stop(1200, LOG_S)
    s.put("zone_output:Z3", FROM, TO, -25)


def cooled_running(s: HeatScript) -> None:
    s.put("zone_output:Z3", FROM, TO, -30)


def climbs_running(s: HeatScript) -> None:
    """Only heating is logged: it stands at zero."""
    s.put("zone_output:Z3", FROM, TO, 0)
    s.ramp("zone_temperature:Z3", FROM, TO, 250.0)


def plunged_running(s: HeatScript) -> None:
    """Shear and cooling balanced here; now it is cooled hard, and nothing else has moved."""
    s.put("zone_output:Z3", 0, LOG_S, -4)
    s.put("zone_output:Z3", FROM, TO, -50)


@pytest.mark.parametrize(
    ("story", "zone", "priority", "within_s"),
    [
        (current_at_zero_output, "Z4", 2, 800),
        (climbs_standing, "Z3", 1, 1300),
        (cooled_standing, "Z3", 2, 1500),
        (cooled_running, "Z3", 2, 1500),
        (climbs_running, "Z3", 2, 1500),
        (plunged_running, "Z3", 2, 1500),
    ],
)
def test_speaks(story: Story, zone: str, priority: int, within_s: float) -> None:
    finding = only(find(story))

    assert finding.last.channel == f"zone_temperature:{zone}" and finding.last.priority == priority
    assert (seconds(finding.first_decided_at) or 0) <= FROM + within_s
    assert finding.last.cause_texts[0].startswith("contactor")
    assert "isolate" in finding.last.checks[0] and "qualified staff" in finding.last.caution


def test_without_outputs_only_a_zone_that_climbs_far_with_the_screw_still() -> None:
    finding = only(find(climbs_standing, BARE))
    assert finding.last.confidence == "medium" and finding.last.priority == 1
    assert find(climbs_running, BARE) == []


def test_without_outputs_a_zone_that_passes_its_set_point_and_slows_down_overshoots() -> None:
    """A heat-up at 3 C a minute, let go of at the set-point: 20 C over after ten minutes, and no further."""

    def overshoots(s: HeatScript) -> None:
        s.stop(1200, LOG_S)
        s.put("zone_temperature:Z3", 1200, LOG_S, 180.0)
        s.ramp("zone_temperature:Z3", FROM, FROM + 660, 215.0)
        t = np.arange(LOG_S - FROM - 660)
        up = 22 * (1 - np.exp(-t / 200))
        s.x["zone_temperature:Z3"][s.span(FROM + 660, LOG_S)] = 215 + np.where(
            t < 600, up, 20.9 * np.exp(-(t - 600) / 900)
        )

    assert find(overshoots, BARE) == []


def runs_away(s: HeatScript) -> None:
    """Z3 took hardly any heat; now it climbs by 3 C a minute to 60 C over set, and the melt by a few."""
    s.put("zone_output:Z3", 0, LOG_S, 3)
    s.put("zone_output:Z3", FROM, LOG_S, 0)
    s.ramp("zone_temperature:Z3", FROM, FROM + 1200, 270.0)
    s.put("zone_temperature:Z3", FROM + 1200, TO, 270.0)
    s.ramp("zone_temperature:Z3", TO, TO + 900, 210.0)
    s.add("melt_temperature:MT1", FROM + 600, TO, 8)


@pytest.mark.parametrize("line", [HEAT_LINE, BARE], ids=["all logged", "no outputs"])
def test_a_zone_that_runs_away_from_melt_and_neighbours_is_its_own_heater(line) -> None:  # type: ignore[no-untyped-def]
    finding = only(find(runs_away, line))

    assert finding.last.channel == "zone_temperature:Z3" and "its own heater heats it" in finding.last.summary
    assert FROM + 300 <= (seconds(finding.first_decided_at) or 0) <= FROM + 1100
    assert (seconds(finding.last.until) or LOG_S) >= TO, "it stands while it climbs no further"


def runs_away_with_the_melt(s: HeatScript) -> None:
    runs_away(s)
    s.ramp("melt_temperature:MT1", FROM, FROM + 1200, 275.0)


def runs_away_with_its_neighbour(s: HeatScript) -> None:
    runs_away(s)
    s.ramp("zone_temperature:Z2", FROM, FROM + 1200, 265.0)
    s.put("zone_temperature:Z2", FROM + 1200, LOG_S, 265.0)


def runs_away_under_more_load(s: HeatScript) -> None:
    runs_away(s)
    s.scale("torque", FROM, TO, 1.1)


def runs_away_without_its_cooling(s: HeatScript) -> None:
    """It was cooled at 20 %: so much of it holds a zone 60 C lower."""
    runs_away(s)
    s.put("zone_output:Z3", 0, FROM, -20)
    s.put("zone_output:Z3", FROM, LOG_S, -100)


def comes_down_from_manual(s: HeatScript) -> None:
    """It was 40 C over, by hand; back in automatic it gives no heat until it has come down."""
    s.ramp("zone_temperature:Z3", FROM, FROM + 900, 255.0)
    s.put("zone_temperature:Z3", FROM + 900, TO, 255.0, slope_s=-30 / (TO - FROM - 900))
    s.put("zone_output:Z3", FROM + 900, TO, -30)


def test_a_zone_on_its_way_down_is_heated_by_nothing() -> None:
    assert find(comes_down_from_manual) == []


def its_couple_reads_again(s: HeatScript) -> None:
    """Shorted for an hour, its controller heated it all that time."""
    s.put("zone_temperature:Z3", 1200, FROM, 60.0)
    s.put("zone_output:Z3", 1200, FROM, 100)
    s.put("zone_temperature:Z3", FROM, LOG_S, 330.0, slope_s=-0.02)
    s.put("zone_output:Z3", FROM, LOG_S, 0)


@pytest.mark.parametrize(
    "story",
    [
        its_couple_reads_again,
        runs_away_with_the_melt,
        runs_away_with_its_neighbour,
        runs_away_under_more_load,
        runs_away_without_its_cooling,
    ],
)
def test_what_else_may_heat_it_is_no_heater(story: Story) -> None:
    assert all("its own heater" not in one.last.summary for one in find(story))


def overshoot(s: HeatScript) -> None:
    """Heat off at set, 6 C over within ten minutes, then falling."""
    s.stop(0, LOG_S)
    s.put("zone_output:Z3", FROM, TO, 0)
    s.ramp("zone_temperature:Z3", FROM, FROM + 600, 221.0)
    s.ramp("zone_temperature:Z3", FROM + 600, TO, 215.0)


def heated_by_a_neighbour(s: HeatScript) -> None:
    """Z1 is set to 60 beside 200: it climbs at zero output and never gets hotter than Z2."""
    s.stop(0, LOG_S)
    s.put("zone_output:Z1", FROM, TO, 0)
    s.ramp("zone_temperature:Z1", FROM, TO, 120.0)


def more_load(s: HeatScript) -> None:
    cooled_running(s)
    s.scale("torque", FROM, TO, 1.15)


def more_shear(s: HeatScript) -> None:
    plunged_running(s)
    s.scale("torque", FROM, TO, 1.05)


def shear_heated_zone(s: HeatScript) -> None:
    """It has never needed heat here."""
    s.put("zone_output:Z3", 0, LOG_S, -4)
    s.put("zone_output:Z3", FROM, TO, -25)


def cooling_water_gone(s: HeatScript) -> None:
    """Its controller asks for all of its cooling within half an hour, and the zone comes to rest 12 C above set: what
    4 % of cooling took off it."""
    s.put("zone_output:Z3", 0, LOG_S, -4)
    s.put("zone_output:Z3", FROM, FROM + 1800, -4, slope_s=-96 / 1800)
    s.put("zone_output:Z3", FROM + 1800, TO, -100)
    s.add("zone_temperature:Z3", FROM, TO, 12)
    held = s.span(FROM, FROM + 2400)
    s.x["zone_temperature:Z3"][held] -= np.linspace(12, 0, len(s.x["zone_temperature:Z3"][held]))


def hot_hall(s: HeatScript) -> None:
    s.put("zone_current:Z4", FROM, TO, 0.0)
    for zone in HEAT_ZONES:
        s.add(f"zone_output:{zone}", FROM, TO, -33)


def couple_reads_high(s: HeatScript) -> None:
    """The zone itself cools; its neighbours have to heat more."""
    cooled_running(s)
    for zone in ("Z2", "Z4"):
        s.add(f"zone_output:{zone}", FROM, TO, 10)


def one_pulse(s: HeatScript) -> None:
    """A pulsed heater at 1 % output, caught now and then."""
    s.put("zone_output:Z4", FROM, TO, 1.0)
    s.put("zone_current:Z4", FROM, TO, 0.0)
    s.x["zone_current:Z4"][s.span(FROM, TO)][::4] = 20.0


@pytest.mark.parametrize(
    "story",
    [
        overshoot,
        heated_by_a_neighbour,
        more_load,
        more_shear,
        shear_heated_zone,
        cooling_water_gone,
        hot_hall,
        couple_reads_high,
        one_pulse,
    ],
)
def test_stays_silent(story: Story) -> None:
    assert find(story) == []


@pytest.mark.parametrize("output", [-30, 0])
def test_a_heater_whose_current_stands_at_nothing_does_not_hang_on(output: float) -> None:
    def story(s: HeatScript) -> None:
        s.put("zone_output:Z4", FROM, TO, output)
        s.ramp("zone_temperature:Z4", FROM, TO, 250.0)
        s.put("zone_current:Z4", FROM, TO, 0.0)

    assert find(story) == []
