"""Charts: traces, units, gaps, windows, findings."""

from __future__ import annotations

import base64
import json
from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboards.figures.channel_chart import channel_chart, gaps
from dashboards.figures.look import look
from dashboards.figures.upkeep_chart import spread_outline, upkeep_chart
from dashboards.memory_data import MemoryData
from dashboards.pages.upkeep import changes_of
from dashboards.upkeep_items import upkeep_items
from dashboards.upkeep_panels import panels_of
from tests.dashboards.weeks_world import NAME, weeks

SECOND = 1_000_000_000
HOUR = 3600 * SECOND
LIGHT = look("light")


def drawn(data: MemoryData, name: str, key: str, t0: int, t1: int, n: int = 600) -> go.Figure:
    """The chart as plotly understands it; plotly refuses what is not in its schema."""
    return go.Figure(channel_chart(data.chart(name, key, t0, t1, n), LIGHT))


def numbers(packed: dict) -> np.ndarray:
    kind = {"f8": np.float64, "f4": np.float32}[packed["dtype"]]
    return np.frombuffer(base64.b64decode(packed["bdata"]), dtype=kind)


def test_unit_zone_and_revision_are_stated(data: MemoryData, end_ns: int) -> None:
    figure = drawn(data, "Line 3", "feeder_rate:F4", end_ns - HOUR, end_ns, 600)
    assert figure.layout.yaxis.title.text == "kg/h"
    assert figure.layout.xaxis.title.text == "UTC+1, Europe/Madrid"
    assert figure.layout.uirevision == "feeder_rate:F4"


def test_times_are_wall_clock(data: MemoryData, end_ns: int) -> None:
    figure = drawn(data, "Line 3", "torque", end_ns - HOUR, end_ns, 600)
    assert figure.layout.xaxis.range[1] == (end_ns + HOUR) / 1e6


def test_gap_is_a_gap(data: MemoryData, end_ns: int) -> None:
    chart = data.chart("Line 3", "torque", end_ns - 3 * HOUR, end_ns, 600)
    (gap,) = gaps(chart.trace, chart.t0, chart.t1)
    start = end_ns - 3 * HOUR + 3000 * SECOND
    assert abs(gap[0] - start) <= 30 * SECOND and abs(gap[1] - start - 180 * SECOND) <= 30 * SECOND
    line = next(trace for trace in go.Figure(channel_chart(chart, LIGHT)).data if trace.name == "torque")
    assert np.isnan(numbers(line.y)).any() and line.connectgaps is False


def test_outside_is_coloured_and_marked_with_a_shape(data: MemoryData, end_ns: int) -> None:
    figure = drawn(data, "Line 3", "feeder_rate:F4", end_ns - HOUR, end_ns, 600)
    colours = [trace.line.color for trace in figure.data if trace.mode == "lines"]
    marks = [trace.marker.symbol for trace in figure.data if trace.mode == "markers"]
    assert LIGHT.under in colours and LIGHT.over not in colours
    assert marks == ["triangle-down"]


def test_inside_is_without_colour(data: MemoryData, end_ns: int) -> None:
    figure = drawn(data, "Line 3", "screw_speed", end_ns - HOUR, end_ns, 600)
    assert not [trace for trace in figure.data if trace.mode == "markers"]


def test_bands_are_the_recipe(data: MemoryData, end_ns: int) -> None:
    figure = drawn(data, "Line 3", "melt_temperature:melt", end_ns - HOUR, end_ns, 600)
    bands = [(s.y0, s.y1) for s in figure.layout.shapes if s.type == "rect" and s.fillcolor == LIGHT.band]
    assert bands == [(232, 244)]


def test_finding_is_marked_where_it_began(data: MemoryData, end_ns: int) -> None:
    chart = data.chart("Line 3", "feeder_rate:F4", end_ns - HOUR, end_ns, 600)
    since = (chart.findings[0].last.since + HOUR) / 1e6
    assert any(s.type == "line" and s.x0 == since == s.x1 for s in go.Figure(channel_chart(chart, LIGHT)).layout.shapes)


def posts(figure: go.Figure) -> list[float]:
    """Where something stands upright on the time axis."""
    return [s.x0 for s in figure.layout.shapes if s.type == "line" and s.x0 == s.x1 and s.y0 == 0 and s.yref == "paper"]


def test_a_chart_names_the_marks_it_has_and_no_others(data: MemoryData, end_ns: int) -> None:
    """The talc ran short 24 min before the end: its beginning is in the last hour, not in the last ten minutes."""
    whole = drawn(data, "Line 3", "feeder_rate:F4", end_ns - HOUR, end_ns)
    assert len(posts(whole)) == 1 and whole.layout.meta["marks"] == ["lasts", "begins", "setpoint", "mean"]
    late = drawn(data, "Line 3", "feeder_rate:F4", end_ns - HOUR // 6, end_ns)
    assert posts(late) == [] and late.layout.meta["marks"] == ["lasts", "setpoint", "mean"]
    calm = drawn(data, "Line 3", "melt_temperature:melt", end_ns - HOUR, end_ns)
    assert posts(calm) == [] and calm.layout.meta["marks"] == []


def test_a_step_of_the_pressure_is_a_mark_that_is_named() -> None:
    plant = weeks()
    screen = next(item for item in upkeep_items(plant, NAME) if item.kind == "screen")
    changed = changes_of(plant, screen)
    for shown, marks in ((changed, ["changed"]), ((), [])):
        figure = go.Figure(upkeep_chart(panels_of(plant, screen, shown), LIGHT))
        upright = [s for s in figure.layout.shapes if s.type == "line" and s.x0 == s.x1 and s.line.dash == "dot"]
        assert len(upright) == len([at for at in shown if at >= panels_of(plant, screen).t0])
        assert bool(upright) == bool(marks) and figure.layout.meta["marks"] == marks


def dashes(figure: go.Figure) -> list[tuple[float, str]]:
    """Height and axis of every level dashed line."""
    found = [s for s in figure.layout.shapes if s.type == "line" and s.y0 == s.y1 and s.line.dash == "dash"]
    return [(s.y0, s.yref or "y") for s in found]


def test_a_limit_is_a_dashed_line_with_its_word(data: MemoryData, end_ns: int) -> None:
    """The line's file lets melt pressure rise to 120 bar, twice what it reads; here it may rise to 64."""
    chart = data.chart("Line 3", "melt_pressure:P1", end_ns - HOUR, end_ns, 600)
    assert chart.limit == 120.0
    near = go.Figure(channel_chart(replace(chart, limit=64.0), LIGHT))
    assert dashes(near) == [(64.0, "y")]
    assert [a.text for a in near.layout.annotations if a.y == 64.0 and "machine limit" in a.text] == [
        "machine limit 64"
    ]
    none = go.Figure(channel_chart(replace(chart, limit=None), LIGHT))
    assert dashes(none) == [] and not [a for a in none.layout.annotations if "limit" in a.text]


def test_upkeep_draws_a_limit_where_there_is_one_and_says_it() -> None:
    plant = weeks()
    items = upkeep_items(plant, NAME)
    for item in items:
        panels = panels_of(plant, item)
        figure = go.Figure(upkeep_chart(panels, LIGHT))
        wanted = [panel.limit for panel in panels.panels if panel.limit is not None]
        assert [y for y, _ in dashes(figure)] == wanted
        words = [(a.y, a.text) for a in figure.layout.annotations if a.text.startswith("limit ")]
        assert words == [(limit, f"limit {limit:.0f}") for limit in wanted]
        bare = replace(panels, panels=tuple(replace(panel, limit=None) for panel in panels.panels))
        none = go.Figure(upkeep_chart(bare, LIGHT))
        assert dashes(none) == [] and not [a for a in none.layout.annotations if a.text.startswith("limit ")]
    assert any(panel.limit is not None for item in items for panel in panels_of(plant, item).panels)


def test_unknown_unit_is_said(data: MemoryData, end_ns: int) -> None:
    figure = drawn(data, "Line 5", "melt_pressure:P1", end_ns - 3 * HOUR, end_ns, 600)
    assert figure.layout.yaxis.title.text == "unit not known, relative only"


@pytest.mark.parametrize("key", ["share:F4", "sme", "total_feed"])
def test_derived_quantities_chart_too(data: MemoryData, end_ns: int, key: str) -> None:
    figure = drawn(data, "Line 3", key, end_ns - HOUR, end_ns, 600)
    assert len(numbers(figure.data[0].y)) > 100


def test_unknown_channel_gives_an_empty_chart_not_an_error(data: MemoryData, end_ns: int) -> None:
    figure = drawn(data, "Line 3", "zone_current:Z1", end_ns - HOUR, end_ns, 600)
    assert len(numbers(figure.data[0].y)) == 0


@pytest.mark.parametrize("n", [600, 2000])
def test_payload_is_bounded(data: MemoryData, end_ns: int, n: int) -> None:
    figure = drawn(data, "Line 3", "feeder_rate:F4", end_ns - 3 * HOUR, end_ns, n)
    assert len(json.dumps(figure.to_dict())) < 120_000


def test_same_input_same_figure(data: MemoryData, end_ns: int) -> None:
    chart = data.chart("Line 3", "torque", end_ns - HOUR, end_ns, 600)
    assert channel_chart(chart, LIGHT) == channel_chart(chart, LIGHT)


def test_every_upkeep_item_has_its_chart(data: MemoryData) -> None:
    for item in [*upkeep_items(data, "Line 3"), *upkeep_items(data, "Line 5")]:
        figure = upkeep_chart(panels_of(data, item), LIGHT)
        assert len(go.Figure(figure).data) >= 2 and len(json.dumps(figure)) < 150_000


def test_outline_of_a_spread_breaks_at_gaps() -> None:
    low, high = np.array([1.0, 1, np.nan, 2]), np.array([2.0, 2, np.nan, 3])
    t, y = spread_outline(np.arange(4), low, high)
    assert np.isnan(y).sum() == 2 and len(t) == 4 + 1 + 2 + 1
