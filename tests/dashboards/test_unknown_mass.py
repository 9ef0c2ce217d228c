"""A rate whose unit nobody knows makes no kilograms anywhere."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest

from dashboards.clock import MINUTE, SECOND
from dashboards.composition import delivered
from dashboards.figures.barrel_strip import barrel_strip
from dashboards.figures.strip_view import StripView
from dashboards.load_history import rate_of
from dashboards.machine import mass_known
from dashboards.memory_data import MemoryData
from dashboards.names import figure, unit_of
from dashboards.outlook import delay_of
from dashboards.pages import lot_parts
from dashboards.repair_effect import Effect
from dashboards.report.as_html import as_html
from dashboards.report.lot_report import lot_report
from dashboards.shift_changes import changes_since_shift
from dashboards.upkeep_repairs import effect_words
from dashboards.verdict import delay_now
from ingest.roles import RELATIVE
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, HOUR, twin_line


@pytest.fixture(scope="module")
def relative() -> MemoryData:
    """Line 3 with feeder rates as numbers without a unit."""
    held, line = twin(), twin_line()
    sensors = tuple(s.model_copy(update={"unit": RELATIVE}) if s.role == "feeder_rate" else s for s in line.sensor)
    early = tuple(n if n.text != "4417-2" else replace(n, at_ns=END - 1200 * SECOND) for n in held.block.notes)
    block = replace(held.block, notes=tuple(sorted(early)))
    return MemoryData([replace(held, line=line.model_copy(update={"sensor": sensors}), block=block)], clock=lambda: END)


def words(shown: str) -> list[str]:
    """The text of a page, cell by cell."""
    return [unescape(part).strip() for part in re.split(r"<[^>]+>", shown) if part.strip()]


def test_rates_without_a_unit_are_no_mass(relative: MemoryData, data: MemoryData) -> None:
    line = relative.source.line("Line 3")
    assert mass_known(data.source.line("Line 3")) and not mass_known(line)
    assert delay_of(data, "Line 3", END - HOUR, END)[1].between(END - HOUR, END) > 400
    assert math.isnan(delay_of(relative, "Line 3", END - HOUR, END)[1].between(END - HOUR, END))
    assert data.line_now("Line 3").rate_kg_h == pytest.approx(490, rel=0.02)
    assert relative.line_now("Line 3").rate_kg_h is None


def test_nothing_made_of_them_has_a_unit(relative: MemoryData) -> None:
    line = relative.source.line("Line 3")
    assert (unit_of(line, "total_feed"), unit_of(line, "sme"), unit_of(line, "torque")) == ("", "", "%")
    assert figure(491.2, "total_feed", line) == "491"
    assert not relative.chart("Line 3", "total_feed", END - HOUR, END, 100).shown_unit_known


def test_no_page_of_a_lot_calls_what_is_not_known_zero(relative: MemoryData) -> None:
    """Two findings touch its end, past the last container that is known: it is held by time."""
    lot = relative.lots("Line 3")[-1]
    run = relative.run("Line 3", lot.start, lot.end)
    for shown in (
        lot_report(relative, lot, END),
        as_html([*lot_parts.stretch_words(relative, lot, run, {}, True), *lot_parts.body(relative, lot, run, {})]),
    ):
        told = words(shown)
        assert "Touched, mass not known" in told and "0.00" not in told
        reason = next(part for part in told if "This line logs no rate" in part)
        assert "at the die, " in reason
        assert any(part.startswith("Hold: ") and "all packed after 4417-2 until " in part for part in told)
        # What a finding says of a rate stands in its own words; no mass is told.
        assert not re.search(r" kg\b(?!/h)", reason)
        row = next(place for place, part in enumerate(told) if part.startswith("all after 4417-2 until "))
        assert told[row + 1 : row + 3] == ["■ hold", "not known"] and "not known" in told[row + 3 : row + 6]
        assert told[told.index("Sum of stretches") + 1] == "not known"
        assert "Feeder rates are logged in a unit that is not known, so shares are not known." in told


def test_the_way_to_the_die_is_reckoned_with_the_recipes_rate(relative: MemoryData, data: MemoryData) -> None:
    """1.2 l of 900 kg/m3 behind the screw."""
    wanted = relative.recipe_at("Line 3", END).recipe.rate_kg_h
    unknown, known = (delay_of(one, "Line 3", END - HOUR, END)[0] for one in (relative, data))
    assert unknown.rate_kg_h == wanted and (unknown.rate_known, known.rate_known) == (False, True)
    assert unknown.downstream_s == pytest.approx(1.2e-3 * 900 / wanted * 3600)
    assert delay_now(relative.line_now("Line 3")).rate_kg_h == wanted
    assert delay_now(data.line_now("Line 3")).rate_kg_h == pytest.approx(490, rel=0.02)


def test_they_are_summed_nowhere(relative: MemoryData, data: MemoryData) -> None:
    """The store still has the sum that an earlier version made of them."""
    line, known = relative.source.line("Line 3"), data.source.line("Line 3")
    assert np.isfinite(rate_of(data, known, END - HOUR, END, MINUTE)).any()
    assert not np.isfinite(rate_of(relative, line, END - HOUR, END, MINUTE)).any()
    assert delivered(data, "Line 3", END - HOUR, END) and delivered(relative, "Line 3", END - HOUR, END) == []
    (told, shown) = (changes_since_shift(one, one.line_now("Line 3"))[1] for one in (data, relative))
    assert "total_feed" in [c.key for c in told] and "total_feed" not in [c.key for c in shown]


def test_no_feeder_of_theirs_is_said_to_give_kilograms(relative: MemoryData, data: MemoryData) -> None:
    line, known = relative.source.line("Line 3"), data.source.line("Line 3")
    factor = Effect("back", 7.0, 8.0, 7.0, 9)
    assert "kg/h/%" in effect_words(known, "feed factor", "feeder_rate:F4", factor)
    assert "kg" not in effect_words(line, "feed factor", "feeder_rate:F4", factor)
    views = (StripView(now.line, now.readings, now.windows) for now in (d.line_now("Line 3") for d in (data, relative)))
    with_unit, without = ("".join(barrel_strip(view, 1384)) for view in views)
    assert ">of 102" in with_unit and ">of 102" not in without
