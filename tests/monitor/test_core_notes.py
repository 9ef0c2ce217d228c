"""What people and schedules say: lots, recipes, and the moment from which they hold."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from ingest.block import Note
from monitor.checkpoint import dump_state
from monitor.conditions.flooded import Flooded
from monitor.conditions.starved import Starved
from monitor.core import Monitor
from monitor.phases import PHASES
from tests.monitor.core_cases import LINE, R1, WINDOW, block_of, judge, recipe, steady
from tests.monitor.scripted_world import NS, T0

# -- notes


def test_a_recipe_note_holds_from_its_cell_on() -> None:
    """Torque stands at 60: inside R1's window, above R2's."""
    script = steady(2400)
    noted = replace(block_of(script), notes=(Note(T0, "recipe", "R1"), Note(T0 + 1205 * NS, "recipe", "R2")))
    monitor = Monitor(LINE, [R1, recipe("R2", torque=(30, 50))], conditions=WINDOW)

    records, _ = judge(monitor, [noted])

    assert (records[0].kind, records[0].channel, records[0].recipe) == ("opened", "torque", "R2")
    assert records[0].since >= T0 + 1200 * NS


@pytest.mark.parametrize("name", ["R9", ""])
def test_under_a_recipe_that_nobody_gave_no_window_is_judged(name: str) -> None:
    script = steady(2400)
    script.put("torque", 600, 2400, 90)
    noted = replace(block_of(script), notes=(Note(T0, "recipe", "R1"), Note(T0 + 300 * NS, "recipe", name)))

    records, state = judge(Monitor(LINE, [R1, recipe("R2")], conditions=WINDOW), [noted])

    assert records == [] and state["recipe"] == ""


def test_what_is_open_closes_where_its_recipe_ends() -> None:
    script = steady(2400)
    script.put("torque", 600, 2400, 90)
    noted = replace(block_of(script), notes=(Note(T0, "recipe", "R1"), Note(T0 + 1200 * NS, "recipe", "R2")))

    records, _ = judge(Monitor(LINE, [R1, recipe("R2", torque=(80, 100))], conditions=WINDOW), [noted])

    assert [(r.kind, (r.until or 0) - T0) for r in records if r.kind != "revised"] == [
        ("opened", -T0),
        ("closed", 1200 * NS),
    ]


def test_the_only_recipe_holds_from_the_start_and_of_several_none() -> None:
    assert Monitor(LINE, [R1]).start()["recipe"] == "R1"
    assert Monitor(LINE, [R1, recipe("R2")]).start()["recipe"] == ""
    assert Monitor(LINE, []).start()["recipe"] == ""


def test_a_schedule_that_begins_before_the_log_holds_from_its_first_cell() -> None:
    script = steady(1800)
    script.put("torque", 600, 1800, 90)
    hour = 3600 * NS
    notes = (
        Note(T0 - 9 * hour, "recipe", "R2"),
        Note(T0 - 3 * hour, "recipe", "R1"),
        Note(T0 - 3 * hour, "lot", "old"),
        Note(T0 - hour, "lot", "L-7"),
    )
    records, state = judge(Monitor(LINE, [R1, recipe("R2")], notes, WINDOW), [block_of(script)])

    assert {(record.recipe, record.lot) for record in records} == {("R1", "L-7")}
    assert (state["recipe"], state["lot"]) == ("R1", "L-7")


@pytest.mark.parametrize("cuts", [[], [1000, 1001], [995], [1, 500, 1300]])
def test_schedule_and_notes_in_the_log_are_one_sequence(cuts: list[int]) -> None:
    script = steady(1800)
    log = replace(block_of(script), notes=(Note(T0 + 1000 * NS, "lot", "from the log"),))
    schedule = [Note(T0 + 500 * NS, "lot", "planned"), Note(T0 + 1500 * NS + 1, "lot", "planned later")]
    monitor = Monitor(LINE, [R1], schedule)
    places = [0, *cuts, log.n]

    state, lots = monitor.start(), []
    for first, last in itertools.pairwise(places):
        state, _ = monitor.advance(state, log.cut(first, last))
        lots.append(state["lot"])
    assert lots[-1] == "planned later"
    halfway, _ = monitor.advance(monitor.start(), log.cut(0, 1400))
    assert halfway["lot"] == "from the log"


def test_after_a_long_gap_the_schedule_is_not_gone_through_again() -> None:
    """The log said otherwise since: what was planned before the gap is history. What falls into it counts."""
    script = steady(6000)
    first = replace(block_of(script, 0, 1200), notes=(Note(T0 + 600 * NS, "lot", "from the log"),))
    later = block_of(script, 3000, 3100)

    for schedule, wanted in (
        ([Note(T0 - NS, "lot", "planned")], "from the log"),
        ([Note(T0 - NS, "lot", "planned"), Note(T0 + 2500 * NS, "lot", "in the gap")], "in the gap"),
    ):
        _, state = judge(Monitor(LINE, [R1], schedule), [first, later])
        assert state["lot"] == wanted


def test_another_product_at_the_same_rates_is_no_starving() -> None:
    """A thinner polymer takes a quarter of the torque away; the note says why."""
    script = steady(4800)
    script.scale("torque", 2400, 4800, 0.75)
    script.scale("melt_pressure:P1", 2405, 4800, 0.9)
    noted = replace(block_of(script), notes=(Note(T0, "recipe", "R1"), Note(T0 + 2395 * NS, "recipe", "R2")))
    monitor = Monitor(LINE, [R1, recipe("R2")], conditions=(Starved(),))

    assert judge(monitor, [noted])[0] == []
    unsaid, _ = judge(monitor, [replace(noted, notes=noted.notes[:1])])
    assert [record.condition for record in unsaid][:1] == ["starved"], "the same readings without the note"


def test_another_recipe_is_a_change_even_at_the_same_speed_and_rate() -> None:
    script = steady(2400)
    noted = replace(block_of(script), notes=(Note(T0, "recipe", "R1"), Note(T0 + 1200 * NS, "recipe", "R2")))
    monitor = Monitor(LINE, [R1, recipe("R2")])

    _, step = monitor.advance(monitor.start(), noted)

    phases = [PHASES[code] for code in step.phase.tolist()]
    assert phases[1200:1221:10] == ["steady", "changing", "settling"] and phases[1400] == "steady"


def test_what_an_earlier_product_did_is_no_measure_of_this_one() -> None:
    """Another polymer, a tenth more rate, less torque: nothing was raised that was not followed."""
    script = steady(4800)
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            script.scale(f"feeder_{what}:{feeder}", 2400, 4800, 1.1)
    script.scale("torque", 2400, 4800, 0.8)
    noted = replace(block_of(script), notes=(Note(T0, "recipe", "R1"), Note(T0 + 2395 * NS, "recipe", "R2")))
    monitor = Monitor(LINE, [R1, recipe("R2")], conditions=(Flooded(),))

    assert judge(monitor, [noted])[0] == []
    unsaid, _ = judge(monitor, [replace(noted, notes=noted.notes[:1])])
    assert [record.condition for record in unsaid][:1] == ["flooded"], "the same readings without the note"


def test_the_same_recipe_said_again_changes_nothing() -> None:
    script = steady(2400)
    notes = tuple(Note(T0 + at * NS, "recipe", "R1") for at in (0, 600, 1200, 1801))
    monitor = Monitor(LINE, [R1])

    again = judge(monitor, [replace(block_of(script), notes=notes)])
    once = judge(monitor, [block_of(script)])

    assert dump_state(again[1]) == dump_state(once[1])
