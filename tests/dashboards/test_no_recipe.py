"""Where no recipe is in use, nothing speaks of windows as if there were some; and what judged is what is named."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboards.figures.barrel_strip import barrel_strip
from dashboards.figures.strip_view import StripView
from dashboards.judged_by import ways_of
from dashboards.memory_data import MemoryData, MemoryLine
from dashboards.pages import live, lot, lot_beside, lot_parts, lot_raw, lots
from dashboards.pages.lines import found_in_all, line_block
from dashboards.report.lot_report import lot_report
from dashboards.verdict import verdict_of
from dashboards.watched import watched
from ingest.block import Note
from monitor.recipe import Recipe
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, HOUR, RECIPE, twin_recipe

WAYS = "the machine's limits, set-points, physics and what was usual earlier in the run"


def without_recipe(source: str = "live") -> MemoryLine:
    held = twin()
    notes = tuple(note for note in held.block.notes if note.kind != "recipe")
    return replace(held, recipes=[], block=replace(held.block, notes=notes), source=source)


def over(held: MemoryLine) -> MemoryData:
    return MemoryData([held], clock=lambda: END)


def made_on(*lines: str) -> Recipe:
    recipe = twin_recipe()
    return recipe.model_copy(update={"recipe": recipe.recipe.model_copy(update={"lines": lines})})


def lot_words(data: MemoryData) -> str:
    """All that the page of the last lot says."""
    last = data.lots("Line 3")[-1]
    page = lot.answer(data, last, {}, "light", 1384)
    rows = [*page, lot_raw.raw_section(data, last), *lot_beside.different_rows(data, last, {})]
    return json.dumps(rows, cls=PlotlyJSONEncoder, ensure_ascii=False)


def test_the_page_of_a_lot_does_not_speak_of_windows() -> None:
    told = lot_words(over(without_recipe()))

    assert f"No window was judged, as no recipe with windows is known for it: findings go by {WAYS}." in told
    assert "No window was judged in these" in told and "no recipe in use, so no window" in told
    assert "No recipe is known for this lot, so no other lot of the same recipe" in told
    for wrong in (
        "All readings with a window",
        "Windows were judged",
        "no window in the recipe",
        "lots of this recipe",
    ):
        assert wrong not in told, wrong


def test_with_a_recipe_the_page_of_a_lot_tells_what_of_its_windows_was_watched() -> None:
    told = lot_words(over(twin()))

    assert "reading with a window was not watched" in told or "All readings with a window" in told
    assert (
        "Windows were judged for" in told and "No window was judged" not in told and "line were steady: 1, and" in told
    )


def test_steady_hours_before_a_recipe_are_not_counted_as_judged() -> None:
    held = twin()
    second = made_on().model_copy(update={"recipe": made_on().recipe.model_copy(update={"name": "R-2"})})
    begun = held.block.t0 + 2 * HOUR
    notes = tuple(n for n in held.block.notes if n.kind != "recipe")
    data = over(
        replace(
            held,
            recipes=[*held.recipes, second],
            block=replace(held.block, notes=(*notes, Note(begun, "recipe", RECIPE))),
            phases=[(held.block.t0, END, "steady")],
        )
    )
    run = data.run("Line 3", held.block.t0, END)
    found = watched(data, run)

    assert found.judged_s == pytest.approx(HOUR / 1e9, abs=120)
    assert found.windowless_s == pytest.approx(2 * HOUR / 1e9, abs=120)
    whole = replace(data.lots("Line 3")[-1], start=held.block.t0)
    assert "For 2 h of steady running no recipe with windows is known" in str(
        lot_parts.stretch_words(data, whole, run, {}, True)
    )


def test_a_lot_that_was_never_steady_is_not_said_to_have_been_watched() -> None:
    held = twin()
    data = over(replace(held, phases=[(held.block.t0, END, "heating")]))
    last = data.lots("Line 3")[-1]
    told = str(lot_parts.stretch_words(data, last, data.run("Line 3", last.start, last.end), {}, True))

    assert "It was never steady, so no window was judged." in told and "All readings" not in told


def test_the_live_word_and_the_drawings_say_that_there_are_no_windows() -> None:
    data = over(without_recipe())
    now = data.line_now("Line 3")
    verdict = verdict_of(replace(now, findings=()), data.clock("Line 3"))

    assert (verdict.word, verdict.look) == ("no windows", "calm")
    assert verdict.reason == f"No recipe with windows is known for what runs now; findings go by {WAYS}."
    drawn = barrel_strip(StripView(now.line, now.readings, now.windows), 1384)
    assert ">no windows<" in drawn and ">target<" not in drawn
    assert "no windows known" in str(line_block(data, "Line 3", 1384))
    assert "no windows known" in str(lots.lots_table(data, {}))
    page = live.answer(data, "Line 3", {}, "light", 1384, {}, 1.0)
    assert "no window is judged in it" in str(page) and "nothing is judged" not in str(page)


def test_a_report_says_what_judged_instead() -> None:
    data = over(without_recipe())
    told = lot_report(data, data.lots("Line 3")[-1], END)

    assert "No recipe with windows was known" in told
    assert "All readings with a window" not in told and "Windows were judged" not in told


def test_a_log_that_has_ended_does_not_wait_for_readings() -> None:
    data = over(without_recipe("finished log"))
    data.now_ns = lambda: END + 24 * HOUR
    page = str(live.answer(data, "Line 3", {}, "light", 1384, {}, 1.0))

    assert "The log has ended, so nothing is forecast." in page and "while no readings come" not in page


def test_notes_are_findings_too() -> None:
    held = without_recipe("finished log")
    notes = [f for f in held.findings if f.last.priority == 4]

    def told(data: MemoryData) -> str:
        return found_in_all(data, data.line_now("Line 3"), data.clock("Line 3"))

    assert told(over(replace(held, findings=notes))) == "No finding in it but notes: 1."
    assert told(over(replace(held, findings=[]))) == "No finding in it."


def test_a_line_without_feeders_has_no_raw_material_lots_to_write_down() -> None:
    held = single()
    bare = held.line.model_copy(update={"feeder": ()})
    data = over(replace(held, line=bare))
    first = data.lots("Line 5")[-1]

    assert "names no feeder" in str(lot_raw.raw_table(data, first, first.start, first.end))
    assert "className='gone'" in str(lot_raw.raw_section(data, first))
    assert ways_of(bare) == "physics and what was usual earlier in the run"


@pytest.mark.parametrize(("lines", "used"), [((), True), (("Line 3",), True), (("Line 8",), False)])
def test_a_recipe_made_on_another_line_is_not_this_lines(lines: tuple[str, ...], used: bool) -> None:
    """Several recipes, each for a line of its own, and no schedule: the one for this line judged it, and no other."""
    held, other = without_recipe(), made_on("Line 8")
    other = other.model_copy(update={"recipe": other.recipe.model_copy(update={"name": "R-8"})})
    data = over(replace(held, recipes=[made_on(*lines), other]))

    assert (data.lots("Line 3")[-1].recipe == RECIPE) is used
    assert bool(data.line_now("Line 3").windows) is used


def test_an_only_recipe_holds_before_the_first_note_as_it_is_judged() -> None:
    held = without_recipe()
    later = (*held.block.notes, Note(END - HOUR, "recipe", RECIPE))
    data = over(replace(held, recipes=[twin_recipe()], block=replace(held.block, notes=later)))

    assert data.recipe_at("Line 3", END - 2 * HOUR) is not None
