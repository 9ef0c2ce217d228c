"""Screen or die restricted, or the melt thicker: torque tells, and where it does not both are said."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.restricted import Restricted
from monitor.conditions.viscous_lot import ViscousLot
from monitor.contract import Context
from monitor.line import Line
from monitor.records import Finding
from tests.monitor.conditions.told import SINGLE, TWIN, Story, only, seconds, single, told, twin, without, words
from tests.monitor.scripted_world import Script
from tests.monitor.world_fill import FILL_LINE, FillScript
from tests.monitor.world_path import path_recipe, path_script, pump_line

LOG_S, FROM, TO = 2700, 1200, 2100
BOTH = (Restricted(), ViscousLot())


def moved(pressure: float, torque: float, melt_c: float = 0.0, rate: float = 1.0) -> Story:
    def story(s: Script) -> None:
        s.scale("melt_pressure:P1", FROM, TO, pressure)
        s.scale("torque", FROM, TO, torque)
        s.x["melt_temperature:MT1"][s.span(FROM, TO)] += melt_c
        if "line_rate" in s.x:
            s.scale("line_rate", FROM, TO, rate)

    return story


@pytest.mark.parametrize("kind", ["twin", "single"])
@pytest.mark.parametrize(
    ("story", "condition", "first"),
    [
        (moved(1.3, 1.03, 2.0, 0.96), "restricted", "screen or die restricted"),
        (moved(1.15, 1.0, 1.0, 0.97), "restricted", "screen or die restricted"),
        (moved(1.2, 1.17), "viscous_lot", "more viscous lot"),
        (moved(1.15, 1.11, -4.0), "viscous_lot", "melt colder: zones set lower, less work"),
    ],
    ids=["restricted", "slightly", "viscous", "cold"],
)
def test_speaks(kind: str, story: Story, condition: str, first: str) -> None:
    s = twin(LOG_S) if kind == "twin" else single(LOG_S)
    story(s)
    finding = only(told(s, *BOTH))

    assert (finding.last.condition, finding.last.cause_texts[0]) == (condition, first)
    assert finding.last.causes[0].speaks_for
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 60


def all_zones_lose_their_heat(s: Script) -> None:
    """All zones together by 15 C within five minutes; pressure follows, torque hardly: the die is cold first."""
    for key in [key for key in s.x if key.startswith("zone_temperature")]:
        part = s.span(FROM - 300, TO)
        s.x[key][part] -= 15 * np.minimum(np.arange(len(s.x[key][part])) * s.cadence / 300, 1)
    moved(1.2, 1.03)(s)


def test_zones_that_lose_their_heat_make_the_melt_colder_and_name_their_supply() -> None:
    s = twin(LOG_S)
    all_zones_lose_their_heat(s)
    finding = only(told(s, *BOTH))
    assert finding.last.condition == "viscous_lot" and "supply of the heaters" in finding.last.cause_texts[0]


def test_between_the_two_both_are_said_in_one_finding() -> None:
    s = twin(LOG_S)
    moved(1.2, 1.07)(s)
    finding = only(told(s, *BOTH))

    assert finding.last.confidence == "low" and "both fit" in finding.last.summary
    assert len(finding.last.causes) == 2


def more_fed(s: Script) -> None:
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", FROM, TO, 1.3)
    s.scale("torque", FROM, TO, 1.3)
    s.scale("melt_pressure:P1", FROM, TO, 1.12)


def flushing(s: Script) -> None:
    """Torque up far more than pressure: the screws are fuller."""
    s.scale("torque", FROM, TO, 1.35)
    s.scale("melt_pressure:P1", FROM, TO, 1.1)


def short(s: Script) -> None:
    s.scale("melt_pressure:P1", FROM, FROM + 90, 1.4)


def small(s: Script) -> None:
    moved(1.06, 1.05)(s)


def thinner(s: Script) -> None:
    moved(0.8, 0.85)(s)


def blinds_over_the_shift(s: Script) -> None:
    n = len(s.x["melt_pressure:P1"])
    s.x["melt_pressure:P1"] *= 1 + 0.06 * np.arange(n) / n


@pytest.mark.parametrize("story", [more_fed, flushing, short, small, thinner, blinds_over_the_shift])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, *BOTH) == []


@pytest.mark.parametrize(("behind", "where"), [(1.0, "screen restricted"), (1.4, "die restricted")])
def test_with_a_sensor_on_each_side_it_says_which(behind: float, where: str) -> None:
    s = FillScript(LOG_S)
    s.scale("melt_pressure:P1", FROM, TO, 1.3)
    s.scale("melt_pressure:P2", FROM, TO, behind)
    s.scale("torque", FROM, TO, 1.03)

    assert only(told(s, *BOTH, line=FILL_LINE)).last.cause_texts[0] == where


@pytest.mark.parametrize(("torque", "melt_c", "named"), [(1.0, 0.0, True), (1.05, 0.0, False), (1.0, 3.0, False)])
def test_where_nothing_else_has_moved_the_zero_of_the_sensor_is_named(
    torque: float, melt_c: float, named: bool
) -> None:
    s = FillScript(LOG_S)
    s.scale("melt_pressure:P1", FROM, TO, 1.3)
    s.scale("torque", FROM, TO, torque)
    s.x["melt_temperature:MT1"][s.span(FROM, TO)] += melt_c

    causes = only(told(s, *BOTH, line=FILL_LINE)).last.causes

    assert causes[0].text == "screen restricted" and causes[1].text.startswith("zero of this sensor") == named
    assert "pressure behind the screen is not up" in causes[-1].speaks_against


@pytest.mark.parametrize(("melt_c", "first"), [(-10.0, "melt colder"), (-3.0, "screen or die restricted")])
def test_a_melt_colder_by_enough_is_named_before_a_way_that_is_narrower(melt_c: float, first: str) -> None:
    """A die that cools stiffens the melt in it; the screws feel little of that."""
    s = twin(LOG_S)
    moved(1.2, 1.02, melt_c)(s)

    last = only(told(s, *BOTH)).last

    assert last.condition == "restricted" and last.cause_texts[0].startswith(first) and first in last.summary


def test_without_a_load_only_a_colder_melt_is_called_thicker() -> None:
    line = without(TWIN, "torque")
    s = twin(LOG_S)
    moved(1.2, 1.0)(s)
    cold = twin(LOG_S)
    moved(1.2, 1.0, -4.0)(cold)

    assert only(told(s, *BOTH, line=line)).last.condition == "restricted"
    assert only(told(cold, *BOTH, line=line)).last.condition == "viscous_lot"


def test_near_its_torque_limit_a_stiff_lot_is_urgent() -> None:
    s = twin(LOG_S)
    s.x["torque"][:] = 80 + s.noise(0.3)
    moved(1.2, 1.16)(s)

    assert only(told(s, *BOTH)).last.priority == 2
    assert "% at the same rate" in words(only(told(s, *BOTH)))


def test_behind_a_melt_pump_nothing_is_watched() -> None:
    data = SINGLE.model_dump()
    data["sensor"] = [*data["sensor"], {"tag": "pump", "role": "melt_pump_speed"}]
    pumped = type(SINGLE).model_validate({**data, "version": "pumped"})

    assert Restricted().subjects(Context(SINGLE, None, None, 10.0)) == ("P1",)
    assert Restricted().subjects(Context(pumped, None, None, 10.0)) == ()


@pytest.mark.parametrize(
    ("before", "behind", "condition", "first"),
    [
        (1.25, 1.25, "viscous_lot", "more viscous lot"),
        (1.25, 1.0, "restricted", "screen restricted"),
        (1.25, 1.5, "restricted", "die restricted"),
    ],
    ids=["both alike", "only ahead of the screen", "by as many bar"],
)
def test_pressure_on_both_sides_of_the_screen_tells_it_even_where_torque_does_not(
    before: float, behind: float, condition: str, first: str
) -> None:
    """Ahead of the screen 80 bar, behind it 40: a thicker melt needs as much more through the screen as through the
    die, a narrower die lifts both by as many bar."""
    s = path_script(LOG_S)
    s.scale("melt_pressure:P1", FROM, TO, before)
    s.scale("melt_pressure:P2", FROM, TO, behind)
    s.scale("torque", FROM, TO, 1.03)
    finding = only(told(s, *BOTH, recipe=path_recipe()))

    assert (finding.last.condition, finding.last.cause_texts[0]) == (condition, first)


PUMP_LINE = pump_line()


def behind_pump(discharge: float, torque: float, drop: float, suction: float = 1.0, rate: float = 1.0) -> Story:
    """Each by its factor from FROM to TO; drop: of the pressure over the screen."""

    def story(s: Script) -> None:
        part = s.span(FROM, TO)
        over = s.x["melt_pressure:P1"][part] - s.x["melt_pressure:PS"][part]
        s.scale("melt_pressure:PS", FROM, TO, suction)
        s.x["melt_pressure:P1"][part] = s.x["melt_pressure:PS"][part] + drop * over
        s.scale("melt_pressure:PD", FROM, TO, discharge)
        s.scale("torque", FROM, TO, torque)
        for key in ("line_rate", "melt_pump_speed"):
            s.scale(key, FROM, TO, rate)

    return story


def on_pump_line(story: Story, *, screen: bool = True) -> list[Finding]:
    line = PUMP_LINE if screen else without_pressures(PUMP_LINE, "P1", "PS")
    s = path_script(LOG_S, PUMP_LINE)
    story(s)
    return told(s, *BOTH, line=line, recipe=path_recipe("single-screw"))


def without_pressures(line: Line, *at: str) -> Line:
    kept = tuple(sensor for sensor in line.sensor if sensor.at not in at)
    return line.model_copy(update={"sensor": kept, "version": f"{line.version} without {at}"})


@pytest.mark.parametrize("screen", [True, False])
def test_a_thicker_lot_shows_on_both_sides_of_a_melt_pump(screen: bool) -> None:
    """Load, screen drop and the pressure at the die are up by a fifth, suction and rate as before."""
    finding = only(on_pump_line(behind_pump(1.2, 1.17, 1.2), screen=screen))

    assert finding.last.condition == "viscous_lot" and finding.last.channel == "melt_pressure:PD"
    assert finding.last.cause_texts[0] == "more viscous lot" and "torque up 20 %" in finding.last.summary
    assert "pressure behind it rose alike" in " ".join(finding.last.causes[0].speaks_for) or not screen
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 60


@pytest.mark.parametrize(
    "story",
    [
        behind_pump(1.2, 1.0, 1.0),
        behind_pump(1.0, 1.05, 1.3),
        behind_pump(1.05, 1.05, 1.05),
        behind_pump(1.2, 1.17, 1.2, rate=1.15),
        behind_pump(1.2, 1.17, 1.0),
    ],
    ids=["die closes", "screen fills", "a little thicker", "more is pumped", "die and screws apart"],
)
def test_what_moves_one_side_of_the_pump_alone_is_no_thicker_lot(story: Story) -> None:
    assert [f for f in on_pump_line(story) if f.last.condition == "viscous_lot"] == []


@pytest.mark.parametrize(("torque", "said"), [(1.035, ["viscous_lot"]), (1.01, [])])
def test_behind_a_pump_a_load_that_rises_a_fifth_as_much_is_another_melt(torque: float, said: list[str]) -> None:
    s = path_script(LOG_S, PUMP_LINE)
    behind_pump(1.16, torque, 1.16)(s)
    found = told(s, *BOTH, line=PUMP_LINE, recipe=path_recipe("single-screw"))
    assert [f.last.condition for f in found] == said
