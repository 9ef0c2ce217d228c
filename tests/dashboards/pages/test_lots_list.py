"""What the list of lots says of each lot: findings, kilograms touched, containers to hold."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from typing import Any

import pytest

from dashboards.memory_data import MemoryData
from dashboards.pages import lot_parts, lots
from dashboards.pages.lots import lots_table
from dashboards.report.as_html import as_html
from dashboards.shown_units import AS_INSIDE, Choice, chosen
from ingest.block import Note
from ingest.roles import RELATIVE
from tests.dashboards.lines import twin
from tests.dashboards.lots_world import nine_lots
from tests.dashboards.plant import END, SECOND

MINUTE = 60 * SECOND


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    token = chosen.set(AS_INSIDE)
    yield
    chosen.reset(token)


def text_of(shown: str) -> str:
    return unescape(re.sub(r"<[^>]+>", " ", shown))


def rows(data: MemoryData) -> dict[str, tuple[str, str]]:
    """Touched and containers of each lot of Line 3, as the list has them."""
    found = {}
    for shown in as_html(lots_table(data, {})).split("<tr")[2:]:
        cells = [text_of(cell.partition(">")[2]).split() for cell in shown.split("<td")[1:]]
        if cells[4] == ["Line", "3"]:
            found[" ".join(cells[1])] = (" ".join(cells[2]), " ".join(cells[3]))
    return found


def headline(data: MemoryData, number: str) -> str:
    """The head of a lot's own page."""
    lot = data.lot("Line 3", number)
    assert lot is not None
    run = data.run("Line 3", lot.start, lot.end)
    return " ".join(text_of(as_html(lot_parts.stretch_words(data, lot, run, {}, True))).split())


def packed(*notes: tuple[int, str]) -> MemoryData:
    """Line 3 with other containers, full so many minutes before the end."""
    held = twin()
    kept = [n for n in held.block.notes if not n.kind.startswith("container")]
    said = [Note(END - minutes * MINUTE, "container packed", name) for minutes, name in notes]
    return MemoryData(
        [replace(held, block=replace(held.block, notes=tuple(sorted([*kept, *said]))))], clock=lambda: END
    )


def unknown_mass() -> MemoryData:
    held = twin()
    sensors = tuple(s.model_copy(update={"unit": RELATIVE}) if s.role == "feeder_rate" else s for s in held.line.sensor)
    return MemoryData([replace(held, line=held.line.model_copy(update={"sensor": sensors}))], clock=lambda: END)


@pytest.mark.parametrize("mass", ["kg", "lb"])
def test_the_list_has_the_kilograms_of_the_lots_own_page(data: MemoryData, mass: str) -> None:
    """In the newest lot talc ran short for 24 min at 490 kg/h: somewhat under 196 kg, in the unit the reader chose."""
    chosen.set(Choice(mass=mass))
    found = rows(data)
    for number in ("4416", "4417"):
        told = re.search(r"([Aa]t least )?[\d.]+ (?:kg|lb)(?= touched)", headline(data, number))
        assert told is not None and found[number][0].lower() == told.group().lower()
    least = re.search(r"[\d.]+", found["4417"][0])
    assert least is not None and 185 < float(least.group()) / (2.2046 if mass == "lb" else 1) < 196


def test_the_list_counts_the_containers_that_the_lots_own_page_names() -> None:
    data = packed((80, "B1"), (22, "B2"), (15, "B3"), (8, "B4"))
    assert "Hold: B2, B3, B4 and all packed after B4 until" in headline(data, "4417")
    assert rows(data)["4417"][1] == "■ hold: 3 and all after B4"
    # The older lot lost vacuum for 9 min: to be checked, in what it packed up to then.
    checked = packed((145, "A1"), (130, "A2"))
    assert "Check: A1, A2." in headline(checked, "4416")
    assert rows(checked)["4416"][1] == "□ check: 2"


def test_where_no_container_was_written_down_the_list_says_so() -> None:
    assert rows(packed())["4417"][1] == "none written down"


def test_where_the_mass_is_not_known_the_list_says_so() -> None:
    data = unknown_mass()
    assert "Touched, mass not known" in headline(data, "4417")
    assert rows(data)["4417"][0] == "mass not known"


def test_a_lot_that_nothing_touched_has_nothing_to_hold() -> None:
    found = rows(nine_lots())
    assert found["4413"] == ("nothing", "") and "Nothing touched" in headline(nine_lots(), "4413")
    assert found["4418"][0].endswith(" kg")


def test_the_list_reads_nothing_of_the_store_twice() -> None:
    """Sixty lots ask for the same line, notes and findings again and again; that was most of the time of the list."""
    data, asked = nine_lots(), Counter[tuple[Any, ...]]()

    class Counting:
        def __getattr__(self, name: str) -> Any:
            def ask(*args: Any) -> Any:
                asked[name, args] += 1
                return getattr(store, name)(*args)

            return ask

    store, data.source = data.source, Counting()  # type: ignore[assignment]
    lots_table(data, {})
    assert asked["lines", ()] == asked["line", ("Line 3",)] == 1
    assert {what: times for what, times in asked.items() if times > 1 and what[0] != "levels"} == {}


def test_a_lot_that_was_never_judged_is_not_called_clean() -> None:
    held = replace(twin(), findings=[])
    judged = str(lots_table(MemoryData([held], clock=lambda: END), {}))
    never = str(lots_table(MemoryData([replace(held, phases=[])], clock=lambda: END), {}))

    assert "Span(children='none', className='soft')" in judged and "never judged" not in judged
    assert "never judged" in never and "children='none'" not in never
    assert "nothing" in judged and "nothing" not in never
    assert headline(MemoryData([held], clock=lambda: END), "4417").startswith("Nothing touched")
    told = headline(MemoryData([replace(held, phases=[])], clock=lambda: END), "4417")
    assert told.startswith("Never judged") and "never steady" not in told


def test_a_lot_of_unknown_mass_that_nothing_touched_is_so_in_the_list_and_on_its_page() -> None:
    held = replace(twin(), findings=[])
    sensors = tuple(s.model_copy(update={"unit": RELATIVE}) if s.role == "feeder_rate" else s for s in held.line.sensor)
    data = MemoryData([replace(held, line=held.line.model_copy(update={"sensor": sensors}))], clock=lambda: END)

    assert rows(data)["4417"] == ("nothing", "")
    told = headline(data, "4417")
    assert told.startswith("Nothing touched No finding that counts for product.")
    assert "How many kilograms were fed is not known" in told


def test_a_lot_of_another_year_says_which_and_what_may_be_searched_is_said_as_an_example() -> None:
    for years, began in ((0, "3 Mar 04:29"), (1, "3 Mar 2026 04:29")):
        data = MemoryData([twin()], clock=lambda ago=years: END + ago * 365 * 86400 * SECOND)
        assert began in [text_of(c.partition(">")[2]).strip() for c in as_html(lots_table(data, {})).split("<td")]
    form = json.dumps(lots.layout(data, {}).to_plotly_json(), default=lambda part: part.to_plotly_json())
    assert form.count("for example ") == 3


def test_where_there_is_no_lot_at_all_the_list_leads_to_the_first_page(
    data: MemoryData, empty_data: MemoryData
) -> None:
    empty, none = as_html(lots.lots_table(empty_data, {})), as_html(lots.lots_table(data, {"find": "zzz"}))
    assert "no lot yet" in empty and "No lot fits" not in empty
    assert "href='/'" in str(lots.lots_table(empty_data, {}))
    assert "No lot fits" in none and "no lot yet" not in none


def test_a_chosen_lot_has_a_tick_and_no_mark_of_a_container(data: MemoryData) -> None:
    ticks = [json.dumps(lots._choose(lot, {"chosen": wanted}).to_plotly_json()["props"], ensure_ascii=False)
             for lot in data.lots("Line 3")[:1] for wanted in ("", lots.reference(lot))]  # fmt: skip
    assert "☐" in ticks[0] and "☑" in ticks[1]
    assert not any(mark in tick for tick in ticks for mark in "■□")
