"""Tag names taken apart: words, numbers, units, in several languages and styles."""

from __future__ import annotations

import pytest

from ingest.propose.names import TagName, read_names, tokens_of
from ingest.propose.unit_in_name import unit_behind
from ingest.propose.vocabulary import vocabulary


def one(tag: str, unit: str = "") -> TagName:
    """A name read by itself."""
    return read_names([tag], {tag: unit} if unit else None)[0]


@pytest.mark.parametrize(
    ("name", "tokens"),
    [
        ("Machine1.MotorRPM.C.Actual", ("Machine", "1", "Motor", "RPM", "C", "Actual")),
        ("z10_temp_sp", ("z", "10", "temp", "sp")),
        ("Düse Ist", ("Düse", "Ist")),
        ("EX1/HZ01/PV", ("EX", "1", "HZ", "01", "PV")),
        ("MELT_PRESS", ("MELT", "PRESS")),
    ],
)
def test_words_and_numbers(name: str, tokens: tuple[str, ...]) -> None:
    assert tokens_of(name) == tokens


@pytest.mark.parametrize(
    ("name", "rest", "unit"),
    [
        ("T1 [°C]", "T1", "°C"),
        ("Druck (bar)", "Druck", "bar"),
        ("Durchsatz kg/h", "Durchsatz", "kg/h"),
        ("Drehzahl 1/min", "Drehzahl", "1/min"),
        ("screw_speed_rpm", "screw_speed", "rpm"),
        ("rate_kg_h", "rate", "kg/h"),
        ("vacío inHg abs", "vacío", "inHg abs"),
        ("Zone 1 Heizstrom A", "Zone 1 Heizstrom", "A"),
        ("Füllstand %", "Füllstand", "%"),
    ],
)
def test_units_at_the_end_of_a_name(name: str, rest: str, unit: str) -> None:
    found = unit_behind(name)

    assert (found.rest, found.unit) == (rest, unit)


@pytest.mark.parametrize("name", ["TIC101_CV", "T1_w", "pump_a", "Stage_1", "temp_in", "Zone 1"])
def test_words_that_only_look_like_units(name: str) -> None:
    """CV is a controller's output and a horsepower, w a set-point and no watt, a small a no ampere."""
    assert unit_behind(name).unit == ""


@pytest.mark.parametrize(
    ("word", "concepts"),
    [
        ("Massedruck", {"melt", "pressure"}),
        ("Schneckendrehzahl", {"screw", "speed"}),
        ("zonetemp", {"zone", "temperature"}),
        ("Düse", {"die"}),
        ("Duese", {"die"}),
        ("DUSE", {"die"}),
        ("Vácuo", {"vacuum"}),
        ("consigna", {"setpoint"}),
        ("xyzzy", set()),
    ],
)
def test_words_in_several_languages_and_inside_longer_ones(word: str, concepts: set[str]) -> None:
    assert {concept for meaning in vocabulary().meanings(word) for concept in meaning} == concepts


def test_a_letter_counts_only_where_no_word_says_the_same() -> None:
    assert one("T1").readings[0].weak == {"temperature"}
    assert "torque" not in one("m1/melt_temperature").readings[0].concepts


def test_the_unit_says_what_is_measured_where_the_name_does_not() -> None:
    (reading,) = one("Zone 1 Ist °C").readings

    assert reading.concepts == {"zone", "actual", "temperature"}
    assert not reading.by_unit
    assert one("tag_4711", "°C").readings[0].by_unit


def test_a_start_that_all_names_have_says_nothing() -> None:
    names = read_names([f"PLANT9.Q7.{rest}" for rest in ("Zone1.Temp", "Zone2.Temp", "Torque")])

    assert names[0].readings[0].numbers == (("zone", 1),)
    assert names[2].readings[0].unknown == ()


def test_letters_that_tell_feeders_apart() -> None:
    """A and B make two feeders where nothing else differs; alone a letter says nothing."""
    both = read_names(["WIC_A.PV", "WIC_B.PV", "SIC_1.PV"])

    assert [name.readings[0].unknown for name in both] == [("A",), ("B",), ()]
    assert one("WIC_A.PV").readings[0].unknown == ()


@pytest.mark.parametrize(("name", "tokens"), [("Głowica 1", ("Glowica", "1")), ("Ölü şnek", ("Ölü", "snek"))])
def test_words_with_letters_beyond_western_ones_stay_whole(name: str, tokens: tuple[str, ...]) -> None:
    assert tokens_of(name) == tokens


def test_a_card_of_a_controller_is_no_die() -> None:
    assert "die" not in {concept for reading in one("DI_102").readings for concept in reading.concepts}
    assert "die" in {concept for reading in one("DI temp").readings for concept in reading.concepts}
