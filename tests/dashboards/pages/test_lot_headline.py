"""The headline of a lot says which containers to hold."""

from __future__ import annotations

import math
from dataclasses import replace

from dashboards.clock import HOUR, SECOND, PlantClock
from dashboards.held_words import MOST_NAMED, kilograms, mass, to_hold
from dashboards.memory_data import MemoryData
from dashboards.pages import lot_parts
from dashboards.report.as_html import as_html
from dashboards.touched import Container, Verdict
from monitor.records import Finding
from tests.dashboards.lines import twin
from tests.dashboards.plant import END

CLOCK = PlantClock("UTC")
AFTER = "all packed after B9 until 12:00, not yet named ones too"


def held(found: list[Container], outside_kg: float = 0.0) -> str:
    return to_hold(found, CLOCK, outside_kg)


def packed(*verdicts: Verdict) -> list[Container]:
    return [Container(f"B{i + 1}", i, i + 1, 25.0, 5.0, (), verdict) for i, verdict in enumerate(verdicts)]


def test_containers_to_hold_and_to_check_are_named() -> None:
    assert held(packed("clear", "hold", "check", "hold")) == " Hold: B2, B4. Check: B3."
    assert held(packed("clear", "clear")) == held([]) == ""


def test_of_many_the_first_are_named_and_the_rest_counted() -> None:
    many: list[Verdict] = ["hold"] * (MOST_NAMED + 3)
    assert held(packed(*many)).endswith(f"B{MOST_NAMED} + 3.")


def test_what_came_after_the_last_container_is_named_after_them_even_behind_many() -> None:
    after = Container("B9", 9, 12 * HOUR, 300.0, 99.0, (), "hold", after=True)

    assert held([*packed("hold"), after]) == f" Hold: B1 and {AFTER} (99.0 kg of it touched)."
    assert held([after]) == f" Hold: {AFTER} (99.0 kg of it touched)."
    many: list[Verdict] = ["hold"] * (MOST_NAMED + 3)
    assert held([*packed(*many), after]).endswith(f" + 3 and {AFTER} (99.0 kg of it touched).")


def test_kilograms_in_no_container_are_told_where_there_are_containers() -> None:
    assert held(packed("hold"), 42.0) == " Hold: B1. 42.0 kg of what is touched is in no container."
    assert held([], 42.0) == held(packed("clear"), 0.2) == ""


def test_what_is_touched_is_named_where_its_kilograms_are_not_known() -> None:
    after = Container("B9", 9, 12 * HOUR, math.nan, math.nan, (), "hold", after=True)

    assert held([*packed("hold"), after], math.nan) == (
        f" Hold: B1 and {AFTER}. Some of what is touched is in no container; how much is not known."
    )
    assert (mass(math.nan), kilograms(math.nan)) == ("mass not known", "not known")
    assert (mass(302.4), kilograms(302.4)) == ("302 kg", "302")


def test_the_headline_says_what_touched_product_first() -> None:
    """The talc's own finding, not the share that only follows from it nor the drift of a zone, which is no product."""
    data = MemoryData([twin()], clock=lambda: END)
    lot = data.lots("Line 3")[-1]
    text = as_html(lot_parts.stretch_words(data, lot, data.run("Line 3", lot.start, lot.end), {}, True))
    assert "First, from 07:05 on: talc T4 delivers 83.8 kg/h" in text and "Most pressing" not in text
    calm = data.run("Line 3", lot.start, lot.start + HOUR)
    assert "First, " not in as_html(lot_parts.stretch_words(data, lot, calm, {}, False))


def test_what_came_later_and_is_more_pressing_is_named_beside_the_first() -> None:
    held = twin()
    talc = next(f for f in held.findings if f.last.channel == "feeder_rate:F4")
    later = replace(talc.last, finding="later", priority=1, since=talc.last.since + 240 * SECOND, summary="disc gone")
    held.findings = [*held.findings, Finding(END, later)]
    data = MemoryData([held], clock=lambda: END)
    lot = data.lots("Line 3")[-1]
    text = as_html(lot_parts.stretch_words(data, lot, data.run("Line 3", lot.start, lot.end), {}, True))
    assert "First, from 07:05 on: talc T4 delivers 83.8 kg/h" in text
    assert "Most pressing, from 07:09 on: disc gone." in text


def test_a_chosen_stretch_says_that_it_is_a_part_of_the_lot() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    lot = data.lots("Line 3")[-1]

    def said(start: int, whole: bool) -> str:
        return as_html(lot_parts.stretch_words(data, lot, data.run("Line 3", start, lot.end), {}, whole)[0])

    assert ">PART OF LOT: " in said(lot.start + HOUR, whole=False).replace("</span>", ">")
    assert "PART OF LOT" not in said(lot.start, whole=True)
