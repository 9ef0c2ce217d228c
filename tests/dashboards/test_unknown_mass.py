"""A rate whose unit nobody knows makes no kilograms anywhere."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboards.machine import mass_known
from dashboards.memory_data import MemoryData
from dashboards.names import figure, unit_of
from dashboards.outlook import delay_of
from ingest.roles import RELATIVE
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, HOUR, twin_line


@pytest.fixture(scope="module")
def relative() -> MemoryData:
    """Line 3 with feeder rates as numbers without a unit."""
    held, line = twin(), twin_line()
    sensors = tuple(s.model_copy(update={"unit": RELATIVE}) if s.role == "feeder_rate" else s for s in line.sensor)
    return MemoryData([replace(held, line=line.model_copy(update={"sensor": sensors}))], clock=lambda: END)


def test_rates_without_a_unit_are_no_mass(relative: MemoryData, data: MemoryData) -> None:
    line = relative.source.line("Line 3")
    assert mass_known(data.source.line("Line 3")) and not mass_known(line)
    assert delay_of(data, "Line 3", END - HOUR, END)[1].between(END - HOUR, END) > 400
    assert delay_of(relative, "Line 3", END - HOUR, END)[1].between(END - HOUR, END) == 0
    assert data.line_now("Line 3").rate_kg_h == pytest.approx(490, rel=0.02)
    assert relative.line_now("Line 3").rate_kg_h is None


def test_nothing_made_of_them_has_a_unit(relative: MemoryData) -> None:
    line = relative.source.line("Line 3")
    assert (unit_of(line, "total_feed"), unit_of(line, "sme"), unit_of(line, "torque")) == ("", "", "%")
    assert figure(491.2, "total_feed", line) == "491"
    assert not relative.chart("Line 3", "total_feed", END - HOUR, END, 100).shown_unit_known
