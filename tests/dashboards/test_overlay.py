"""Runs laid over each other: which, over what, and in what look."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboards.figures.look import look
from dashboards.figures.overlay_chart import PATTERNS, overlay_chart
from dashboards.memory_data import MemoryData
from dashboards.overlay import MOST_RUNS, OVERS, lots_meant, overlay, reference, references, toggled
from dashboards.pages.lot_beside import beside_rows, different_rows
from dashboards.report.as_html import as_html
from dashboards.shown_units import Choice, chosen
from dashboards.urls import parameters, query
from dashboards.views import Lot
from tests.dashboards.lots_world import nine_lots

KEY = "feeder_rate:F4"


@pytest.fixture(scope="module")
def data() -> MemoryData:
    return nine_lots()


@pytest.fixture(scope="module")
def lots(data: MemoryData) -> list[Lot]:
    return data.lots("Line 3")


def test_references_survive_an_address(data: MemoryData, lots: list[Lot]) -> None:
    told = ",".join(reference(lot) for lot in lots[2:5])
    back = parameters(query({"beside": told}))["beside"]
    assert lots_meant(data, back) == lots[2:5]
    assert lots_meant(data, "2020-01-01T00:00:00Z@Line%203,rubbish,@,x@no such line") == []


def test_toggling_puts_in_and_takes_out_and_stops_at_the_most(lots: list[Lot]) -> None:
    told = ""
    for lot in lots:
        told = toggled(told, lot, MOST_RUNS)
    assert len(references(told)) == MOST_RUNS
    assert reference(lots[0]) not in references(toggled(told, lots[0], MOST_RUNS))


def test_by_time_every_run_begins_at_its_own_start(data: MemoryData, lots: list[Lot]) -> None:
    laid = overlay(data, lots[4:8], KEY, "time")
    assert [run.label for run in laid.runs] == ["4414", "4415", "4416", "4417"]
    assert all(0 <= run.x[0] < 0.01 and run.x[-1] == pytest.approx(1 / 3, abs=0.01) for run in laid.runs)


def test_by_kilograms_runs_end_at_what_was_fed(data: MemoryData, lots: list[Lot]) -> None:
    laid = overlay(data, lots[4:6], KEY, "kg")
    assert laid.runs[0].x[-1] == pytest.approx(509.7 / 3, rel=0.02)
    token = chosen.set(Choice(mass="lb"))
    try:
        turned = overlay(data, lots[4:6], KEY, "kg")
    finally:
        chosen.reset(token)
    assert np.allclose(turned.runs[0].x, laid.runs[0].x * 2.2046226)
    assert np.allclose(turned.runs[0].y, laid.runs[0].y * 2.2046226, equal_nan=True)


def test_from_steady_the_start_of_steady_is_zero(data: MemoryData, lots: list[Lot]) -> None:
    """The line settles for the first ten minutes of the first lot."""
    laid = overlay(data, lots[:2], KEY, "steady")
    assert laid.runs[0].x[0] == pytest.approx(-1 / 6, abs=0.01)
    assert laid.runs[1].x[0] == pytest.approx(0.0, abs=0.01)


def test_what_cannot_be_laid_is_named(data: MemoryData, lots: list[Lot]) -> None:
    other = data.lots("Line 5")[0]
    laid = overlay(data, [lots[3], other], KEY, "time")
    assert [run.label for run in laid.runs] == ["4413"]
    assert len(laid.left_out) == 1 and "Line 5" in laid.left_out[0]


@pytest.mark.parametrize("over", OVERS)
def test_chart_is_valid_and_told_apart_without_colour(data: MemoryData, lots: list[Lot], over: str) -> None:
    laid = overlay(data, lots[3:], KEY, over)  # type: ignore[arg-type]
    assert len(laid.runs) == MOST_RUNS
    figure = overlay_chart(laid, look("light"))
    go.Figure(figure)
    lines = [trace["line"] for trace in figure["data"]]
    assert len({line["dash"] for line in lines}) == MOST_RUNS == len(PATTERNS)
    assert {line["color"] for line in lines} == {look("light").ink}
    words = [note["text"] for note in figure["layout"]["annotations"]]
    assert all(any(run.label in text for text in words) for run in laid.runs)


def test_page_rows_say_which_and_stay_small(data: MemoryData, lots: list[Lot]) -> None:
    lot = lots[-1]
    rows = beside_rows(data, lot, {}, KEY, "light")
    assert "4417" in as_html(rows)
    told = ",".join(reference(other) for other in lots)
    chosen_rows = beside_rows(data, lot, {"beside": told, "over": "kg"}, KEY, "dark")
    assert "Graph" in str(chosen_rows)
    text = as_html(different_rows(data, lot, {}))
    assert "talc T4 rate" in text and "lowest of 9" in text
    assert "No recipe is known" in as_html(different_rows(data, data.lots("Line 5")[0], {}))


def test_the_name_of_a_run_stands_beside_its_pattern_and_is_not_cut_by_the_edge(
    data: MemoryData, lots: list[Lot]
) -> None:
    laid = overlay(data, lots[:3], KEY, OVERS[0])
    runs = (laid.runs[0], replace(laid.runs[1], label="4411, a line with a long name"), *laid.runs[2:])
    layout = overlay_chart(replace(laid, runs=runs), look("light"))["layout"]
    names = [note for note in layout["annotations"] if note.get("yref") == "paper"]
    patterns = [shape for shape in layout["shapes"] if shape.get("yref") == "paper" and shape["type"] == "line"]
    assert len(names) == len(patterns) == 3
    for note, shape in zip(names, patterns, strict=True):
        assert note["yanchor"] == "middle" and note["y"] == shape["y0"] == shape["y1"]
    assert [note["text"] for note in names if "4411" in note["text"]] == ["4411, a line w…"]
