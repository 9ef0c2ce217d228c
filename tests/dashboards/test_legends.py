"""The shapes are explained where they are used, for eyes and for screen readers."""

from __future__ import annotations

import re
from pathlib import Path

from dashboards.figures import chart_base
from dashboards.legends import CHART_MARKS, chart_legend, shapes_legend, strip_legend
from dashboards.memory_data import MemoryData
from dashboards.pages import live, live_parts, upkeep
from dashboards.parts import SHAPES, shape_of, table
from dashboards.report.as_html import as_html
from dashboards.report.lot_report import lot_report
from tests.dashboards.lines import twin
from tests.dashboards.plant import END


def test_every_shape_has_its_words_and_is_named_aloud() -> None:
    for legend in (as_html(shapes_legend()), as_html(strip_legend())):
        for shape in SHAPES.values():
            assert shape in legend
        assert legend.count('role="img"') == legend.count("aria-label=") >= len(SHAPES)
    assert "torque: means of the last 60 s; other readings of 10 s" in as_html(strip_legend())


def test_a_shape_without_a_word_beside_it_is_spoken() -> None:
    assert 'aria-label="less than expected"' in as_html(shape_of("under", spoken=True))
    assert 'aria-hidden="true"' in as_html(shape_of("under"))


def test_legends_stand_where_the_shapes_are() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    legend = as_html(shapes_legend())
    now, clock = data.line_now("Line 3"), data.clock("Line 3")
    assert legend in as_html(live_parts.findings_list(data, now, clock, ""))
    assert legend in as_html(upkeep.answer(data, {}, "light", 1384)[2])
    assert legend in lot_report(data, data.lots("Line 3")[-1], END)
    assert "means of the last 60 s" in str(live.layout(data, "Line 3"))
    # Where nothing is open nothing is explained.
    calm = MemoryData([twin()], clock=lambda: END)
    calm.source._lines["Line 3"].findings = []  # type: ignore[attr-defined]
    assert legend not in as_html(live_parts.findings_list(calm, calm.line_now("Line 3"), clock, ""))


def test_every_mark_a_chart_may_name_has_its_words() -> None:
    """Names that figures give, found in their text, are those that the frame can say."""
    asked = {
        mark
        for file in (Path(chart_base.__file__).parent).glob("*_chart.py")
        for call in re.findall(r"\.explain\(([^)]*)\)", file.read_text(encoding="utf-8"))
        for mark in re.findall(r'"(\w+)"', call)
    }
    assert asked == set(CHART_MARKS)
    told = as_html(chart_legend())
    assert "a finding begins" in told and told.count("data-mark=") == len(CHART_MARKS)


def test_a_wide_table_names_the_column_at_each_value_for_a_telephone() -> None:
    wide = as_html(table(["what", "word", "since", "kg"], [["a", "b", "c", "d"]], numbers=(3,)))
    assert 'class="stack"' in wide and 'data-label="word"' in wide and 'data-label="what"' not in wide
    assert wide.count('role="row"') == 2 and wide.count('role="cell"') == 4
    assert "stack" not in as_html(table(["what", "count"], [["a", "b"]]))
