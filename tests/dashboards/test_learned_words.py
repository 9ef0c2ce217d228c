"""A finding says where it holds against what the run itself taught, and only there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboards.learned_words import learned_words
from dashboards.memory_data import MemoryData
from dashboards.pages import lot
from dashboards.report.as_html import as_html
from monitor.records import Evidence, Record
from monitor.reference.apply import Applied
from monitor.reference.model import Reference
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, RECIPE, twin_line, twin_recipe

TORQUE = Evidence("net torque", 26.5, "%", 36.0, -9.8, "net_torque")
PRESSURE = Evidence("melt pressure against expected", -12.0, "%", 0.0, -4.0)
RATE = Evidence("rate fed", 310.0, "kg/h", 312.0, None, "total_feed")


def record(*facts: Evidence) -> Record:
    return replace(twin().findings[0].last, evidence=facts)


def leans() -> Evidence:
    """As a condition that leans on good runs says so."""
    learned_from = {"first": "2026-02-01T00:00:00Z", "last": "2026-02-02T00:00:00Z", "steady_minutes": 600.0}
    return Applied(Reference("Line 3", "", RECIPE, "", {}, learned_from, ()), twin_line(), twin_recipe()).evidence()


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ((TORQUE, PRESSURE, RATE), ". What is expected of net torque, melt pressure was learned within this run."),
        ((RATE, Evidence("drive of talc T4", 97.0, "%", 58.0, None, "feeder_drive:F4")), ""),
        ((Evidence("net torque", 26.5, "%", None, None, "net_torque"),), ""),
        ((Evidence("melt temperature against expected", None, "C", 0.0),), ""),
        ((Evidence("feed from its set-point", -1.0, "%", 0.0, None, "total_feed"),), ""),
    ],
)
def test_only_what_nobody_set_was_learned(facts: tuple[Evidence, ...], told: str) -> None:
    assert learned_words(record(*facts)) == told


def test_what_leans_on_good_runs_says_so_instead() -> None:
    assert leans().what.startswith("what is expected comes from the reference")
    assert learned_words(record(TORQUE, PRESSURE, leans())) == ""


def test_the_page_of_a_lot_says_it_under_the_finding() -> None:
    held = twin()
    own = [replace(f, last=replace(f.last, evidence=(TORQUE, RATE))) for f in held.findings[-2:]]
    data = MemoryData([replace(held, findings=own)], clock=lambda: END)
    one = data.lots("Line 3")[-1]
    run = data.run("Line 3", one.start, one.end)
    page = as_html(lot.findings_rows(data, one, run, data.clock("Line 3"), {}))
    assert "(high confidence). What is expected of net torque was learned within this run." in page
