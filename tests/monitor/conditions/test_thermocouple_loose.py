"""More heat here, less in the neighbours: the couple reads low. Alone, or with everybody, it is something else."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.thermocouple_loose import LOOK_BACK, ThermocoupleLoose, neighbours_fell
from monitor.conditions.zone_minutes import Minutes
from tests.monitor.conditions.told import Story, only, seconds, told
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_ZONES, HeatScript

LOG_S, FROM, TO = 9600, 4200, 8400


def moved(**by_pct: float) -> Story:
    def story(s: HeatScript) -> None:
        for zone, by in by_pct.items():
            s.add(f"zone_output:{zone}", FROM, TO, by)
        s.draw(FROM, TO)

    return story


def find(story: Story):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    story(s)
    return told(s, ThermocoupleLoose(), line=HEAT_LINE, recipe=HEAT_RECIPE)


@pytest.mark.parametrize(
    ("story", "zone"),
    [(moved(Z3=15, Z2=-2, Z4=-2), "Z3"), (moved(DIE=15, ADAPTER=-4), "DIE"), (moved(Z4=10, Z3=-2, Z5=-2), "Z4")],
)
def test_speaks(story: Story, zone: str) -> None:
    finding = only(find(story))

    assert finding.last.channel == f"zone_temperature:{zone}" and finding.last.priority == 2
    assert FROM + 420 <= (seconds(finding.first_decided_at) or 0) <= FROM + 1500
    assert (seconds(finding.last.until) or 0) >= TO, "it stands although the neighbours' references follow"


def test_bands_that_are_missing_are_no_couple_whatever_the_neighbours_do() -> None:
    """Three of four bands alive: the current falls for its output, and Z4 needs a third more."""

    def bands_dead(s: HeatScript) -> None:
        moved(Z4=8.5, Z3=-2, Z5=-2)(s)
        s.draw(FROM, TO, bands=0.75)

    assert find(bands_dead) == []


def test_what_its_heater_draws_speaks_against_dead_bands() -> None:
    finding = only(find(moved(Z4=10, Z3=-2, Z5=-2)))

    assert "its heater draws" in str(finding.last.causes) and "part of the bands dead" not in finding.last.cause_texts


def test_neighbours_that_fell_no_further_than_zones_do_by_themselves_tell_nothing() -> None:
    assert find(moved(Z3=15, Z2=-2, Z4=-2, Z1=1.7, Z5=-1.5, ADAPTER=1.6, DIE=-1.7)) == []


def all_but_one_fall(s: HeatScript) -> None:
    """The hall warms up: every zone needs less, but one."""
    for zone in HEAT_ZONES:
        s.add(f"zone_output:{zone}", FROM, TO, 10 if zone == "Z3" else -6)


def the_load_falls(s: HeatScript) -> None:
    """The load warms the barrel less: its zones take more, but one that is at its limit; the die has no need to, and
    the adapter takes less by chance. So the zones that stay are the most, and their median is nothing."""
    s.put("zone_output:Z2", 0, LOG_S, 100)
    moved(Z3=9, Z4=9, Z5=15, ADAPTER=-4)(s)


@pytest.mark.parametrize(
    "story",
    [
        the_load_falls,
        moved(Z3=15),
        moved(Z3=15, Z2=-3),
        moved(Z3=15, Z2=4, Z4=-3),
        moved(Z2=-3, Z4=-3),
        moved(**dict.fromkeys(HEAT_ZONES, 12)),
        all_but_one_fall,
    ],
)
def test_stays_silent(story: Story) -> None:
    assert find(story) == []


def test_an_output_that_jumps_from_end_to_end_is_autotune() -> None:
    def relay(s: HeatScript) -> None:
        moved(Z2=-3, Z4=-3)(s)
        part = s.span(FROM, TO)
        s.x["zone_output:Z3"][part] = [100.0 if i // 300 % 2 else 0.0 for i in range(part.stop - part.start)]

    assert find(relay) == []


def test_what_neighbours_gave_to_a_cold_zone_is_no_measure() -> None:
    """Z3 was without heat for an hour, its neighbours warmed it; now it comes back."""

    def comes_back(s: HeatScript) -> None:
        s.ramp("zone_temperature:Z3", 1200, 2400, 180.0)
        s.put("zone_temperature:Z3", 2400, FROM, 180.0)
        for zone in ("Z2", "Z4"):
            s.add(f"zone_output:{zone}", 1800, FROM, 4)
        s.add("zone_output:Z3", FROM, TO, 15)
        s.put("zone_temperature:Z3", FROM, FROM + 1200, 180.0, slope_s=35 / 1200)

    assert find(comes_back) == []


def on_off(s: HeatScript, key: str, period_s: int, on_s: int, limit_pct: float = 70.0) -> None:
    """Full heat for `on_s` of every period, all along."""
    s.x[key] = np.where(np.arange(s.n) * s.cadence % period_s < on_s, limit_pct, 0.0)


@pytest.mark.parametrize(("period_s", "on_s", "limit_pct"), [(270, 30, 70.0), (540, 150, 39.0), (840, 240, 39.0)])
def test_an_on_off_zone_has_no_usual_output_of_a_minute(period_s: int, on_s: int, limit_pct: float) -> None:
    """Its minutes are at nothing for the most part, and their median is: its mean is no rise above it."""

    def switched(s: HeatScript) -> None:
        moved(Z2=-3, Z4=-3)(s)
        on_off(s, "zone_output:Z3", period_s, on_s, limit_pct)

    assert find(switched) == []


def test_a_neighbour_that_is_switched_does_not_show_whether_it_needs_less() -> None:
    """Ten minutes hold one of its cycles or two."""

    def beside(s: HeatScript) -> None:
        moved(DIE=15)(s)
        on_off(s, "zone_output:ADAPTER", 400, 60)

    assert find(beside) == []


def test_the_first_and_the_last_zone_have_one_neighbour_whatever_the_other_side_says() -> None:
    """Once neighbours have been seen to fall it stands; one that rises again must not point past the end."""
    zones, minutes = ("Z1", "Z2", "Z3"), LOOK_BACK + 10
    output = np.full((3, minutes + 1), 30.0)
    output[1, -10:] = 34.0
    at_set = np.full(output.shape, 200.0)
    x = Minutes(zones, {"output": output, "temperature": at_set, "wanted": at_set}, {}, 1)
    _, place, _, _ = neighbours_fell(x, np.ones((3, 1), bool), np.ones(3, bool), 1.0)

    assert place[0, 0] == 1.0 and place[-1, 0] == -1.0
