"""Sentences of the monitor in other units: whole or not at all, and with the right values."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.shown_units import AS_INSIDE, Choice, chosen
from dashboards.spoken_findings import spoken_fact, spoken_finding
from dashboards.spoken_units import spoken
from monitor.records import Evidence
from tests.dashboards.lines import twin
from tests.dashboards.monitor_sentences import monitor_sentences

AMERICAN = Choice("F", "psi", "lb")
OURS = re.compile(r"(?<![\w.])\d+(?:\.\d+)? ?(?:°?C\b|bar\b|kg\b|kg/h)")
THEIRS = re.compile(r"(?<![\w.])\d+(?:\.\d+)? ?(?:°F|psi|lb)")


@pytest.fixture(autouse=True, scope="module")
def american() -> Iterator[None]:
    token = chosen.set(AMERICAN)
    yield
    chosen.reset(token)


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        (
            "melt temperature melt 242.0 °C, 4.0 °C above its limit of 238",
            "melt temperature melt 467.6 °F, 7.2 °F above its limit of 460",
        ),
        ("zone Z3 8.7 °C above set with its heating at zero", "zone Z3 15.7 °F above set with its heating at zero"),
        (
            "screw turning at 60 rpm with zone Z4 at 150 °C, 30 °C too cold",
            "screw turning at 60 rpm with zone Z4 at 302 °F, 54 °F too cold",
        ),
        (
            "talc T4 delivers 83.8 kg/h, 102.2 wanted; its drive has climbed to 97 %",
            "talc T4 delivers 184.7 lb/h, 225.3 wanted; its drive has climbed to 97 %",
        ),
        ("talc stopped: 0.0 of 102.2 kg/h", "talc stopped: 0.0 of 225.3 lb/h"),
        (
            "melt pressure P1 78 bar, 104 % of the machine limit of 75",
            "melt pressure P1 1131 psi, 104 % of the machine limit of 1088",
        ),
        ("melt pressure P1 fell from 56 to 12 bar at once", "melt pressure P1 fell from 812 to 174 psi at once"),
        ("melt temperature down 5 C", "melt temperature down 9 °F"),
        (
            "zone Z2 jumped up from 200 °C: the reading is not the zone",
            "zone Z2 jumped up from 392 °F: the reading is not the zone",
        ),
        ("suction 12 bar, usual 15, screw speed +4 %", "suction 174 psi, usual 218, screw speed +4 %"),
        (
            "; limit of 120 bar in 3.2 h (2.1..5.0) if it goes on so",
            "; limit of 1740 psi in 3.2 h (2.1..5.0) if it goes on so",
        ),
        ("now +0.40 °C an hour (+0.20 to +0.60)", "now +0.72 °F an hour (+0.36 to +1.08)"),
        ("vacuum at V1 was 142 mbar, 100 wanted", "vacuum at V1 was 142 mbar, 100 wanted"),
        ("talc share 17.1 %, 20.1 wanted", "talc share 17.1 %, 20.1 wanted"),
    ],
)
def test_known_sentences(said: str, wanted: str) -> None:
    assert spoken(said) == wanted


@pytest.mark.parametrize(
    "said",
    [
        "melt pressure P1 still 40 bar 15 min after the stop (39 before): take it as real",
        "3 zones in a row, 2 of 5 at 200 °C",
        "between 1.8e+02 and 2.0e+02 at 200 °C",
        "zone held at 180 °C over the night",
    ],
)
def test_what_is_not_plain_stays_whole(said: str) -> None:
    assert spoken(said) == said


@pytest.mark.parametrize("said", monitor_sentences())
def test_no_sentence_of_the_monitor_mixes_units(said: str) -> None:
    told = spoken(said)
    assert not (OURS.search(told) and THEIRS.search(told)), told


def test_most_sentences_are_turned() -> None:
    every = monitor_sentences()
    assert len(every) > 50
    assert sum(spoken(said) != said for said in every) > 0.9 * len(every)


@given(st.integers(-200, 4000), st.integers(1, 900), st.integers(0, 2))
def test_numbers_come_back_within_their_last_digit(tenths: int, by_tenths: int, digits: int) -> None:
    chosen.set(AMERICAN)
    value, by = tenths / 10, by_tenths / 10
    said = f"zone Z4 {value:.{digits}f} °C, {by:.{digits}f} °C above its limit of {value - by:.{digits}f}"
    told = spoken(said)
    found = [float(n) for n in re.findall(r"(?<![\w.])-?\d+(?:\.\d+)?(?!\w)", told)]
    given_numbers = [float(n) for n in re.findall(r"(?<![\w.])-?\d+(?:\.\d+)?(?!\w)", said)]
    half = 0.5 * 10.0**-digits * (1 + 1e-9)
    for shown, was, offset in zip(found, given_numbers, (32.0, 0.0, 32.0), strict=True):
        assert abs(shown - (was * 1.8 + offset)) <= half


@given(st.text(alphabet=st.sampled_from("0123456789 .,:;()+-/%°Cabrkgh \n"), max_size=60))
def test_any_text_is_spoken_without_a_mixture(text: str) -> None:
    chosen.set(AMERICAN)
    told = spoken(text)
    if OURS.search(told) and THEIRS.search(told):
        # Only what was no number with a unit before may look like one now.
        assert not OURS.search(text)


def test_numbers_in_names_are_no_readings() -> None:
    said = "feeder 2 of hall 3: 10.0 kg/h reported"
    assert spoken(said) == said
    assert spoken(said, ("feeder 2", "hall 3")) == "feeder 2 of hall 3: 22.0 lb/h reported"


def test_decimal_comma_in_sentences_and_facts() -> None:
    chosen.set(Choice(mark="comma"))
    assert (
        spoken("talc T4 delivers 83.8 kg/h, 102.2 wanted (2.1..5.0)")
        == "talc T4 delivers 83,8 kg/h, 102,2 wanted (2,1..5,0)"
    )
    assert spoken("line Line 3.1 at 2.5 bar", ("Line 3.1",)) == "line Line 3.1 at 2,5 bar"
    chosen.set(AMERICAN)


def test_facts_are_turned_by_their_fields() -> None:
    level = spoken_fact(Evidence("zone Z4", 200.0, "C", 190.0), ())
    assert (level.value, level.expected, level.unit) == (pytest.approx(392.0), pytest.approx(374.0), "°F")
    assert level.sentence() == "zone Z4 392.0 °F, expected 374.0"
    apart = spoken_fact(Evidence("melt temperature against expected", 5.0, "C", 0.0), ())
    assert (apart.value, apart.expected) == (pytest.approx(9.0), 0.0)
    slope = spoken_fact(Evidence("climbs by", 5.0, "C/min"), ())
    assert (slope.value, slope.unit) == (pytest.approx(9.0), "°F/min")


def test_without_a_choice_a_finding_is_the_same_object() -> None:
    held = twin()
    chosen.set(AS_INSIDE)
    assert spoken_finding(held.line, held.findings[0]) is held.findings[0]
    chosen.set(AMERICAN)
    told = spoken_finding(held.line, held.findings[2])
    assert told.last.summary.startswith("talc T4 delivers 184.7 lb/h, 225.3 wanted")
    assert told.last.finding == held.findings[2].last.finding
