"""A measured fact is never a bare number: it has its unit, or says what it counts or is a part of."""

from __future__ import annotations

import pytest

from dashboards.spoken_findings import fact_words
from monitor.records import Evidence
from tests.dashboards.lines import twin


@pytest.mark.parametrize(
    ("fact", "told"),
    [
        (Evidence("feed from its set-point", -1.0, "%", 0.0), "feed from its set-point −1.00 %"),
        (Evidence("net torque from expected", -26.5, "%", 0.0, -4.0), "net torque from expected −26.5 % (4.0 sigma)"),
        (Evidence("melt pressure against expected", -31.5, "%", 0.0, -22.0),
         "melt pressure against expected −31.5 % (over 20 sigma)"),
        (Evidence("rate of talc", 0.0, "kg/h", 18.7), "rate of talc 0.00 kg/h, expected 18.7"),
        (Evidence("cycles seen", 6.0, ""), "cycles seen 6"),
        (Evidence("degree of fill at the throat", 0.44, "", None, None, "fill"), "degree of fill at the throat 44.0 %"),
        (Evidence("correlation with its own output, the stronger", 0.44, ""),
         "correlation with its own output, the stronger 0.44 of at most 1"),
        (Evidence("melt pressure P1", 58.2, "", None, None, "melt_pressure:P1"), "melt pressure P1 58.2 bar"),
        (Evidence("load now", 105.0, "% of the limit"), "load at that moment 105.0 % of the limit"),
        (Evidence("load at the peak", 104.0, "", 67.0), "load at the peak 104.0 %, expected 67.0"),
    ],
)  # fmt: skip
def test_facts(fact: Evidence, told: str) -> None:
    assert fact_words(fact, twin().line) == told


def test_without_a_line_a_reading_keeps_its_number() -> None:
    assert fact_words(Evidence("load at the peak", 104.5, "")) == "load at the peak 104.5"
