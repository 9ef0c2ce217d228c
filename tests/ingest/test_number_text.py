"""Texts as numbers."""

from __future__ import annotations

import math

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.number_text import NO_READING_AS_WRITTEN, Decimal, decimal_of, read_numbers


def one(text: str, decimal: Decimal, missing: frozenset[str] = frozenset(), switch: bool = False) -> float | str:
    """The number a text stands for, 'none' for no reading, 'unreadable'; the same alone and among others."""
    answers = set()
    for texts in ([text], ["x", text], [text, "1"]):
        numbers, unreadable = read_numbers(pa.chunked_array([texts]), decimal, missing, switch)
        place = texts.index(text)
        assert not (unreadable[place] and not math.isnan(numbers[place]))
        answers.add(
            "unreadable" if unreadable[place] else "none" if math.isnan(numbers[place]) else float(numbers[place])
        )
    assert len(answers) == 1
    return answers.pop()


@pytest.mark.parametrize(
    ("text", "point", "comma", "open_"),
    [
        ("12", 12, 12, 12),
        (" 12.5 ", 12.5, "unreadable", 12.5),
        ("12,5", "unreadable", 12.5, 12.5),
        ("-0.25", -0.25, "unreadable", -0.25),
        ("+3", 3, 3, 3),
        (".5", 0.5, "unreadable", 0.5),
        (",5", "unreadable", 0.5, 0.5),
        ("5.", 5, "unreadable", 5),
        ("1e-3", 0.001, 0.001, 0.001),
        ("1,5E+2", "unreadable", 150, 150),
        ("1,234", 1234, 1.234, "unreadable"),
        ("1.234", 1.234, 1234, 1.234),
        ("0,234", "unreadable", 0.234, 0.234),
        ("1,234.5", 1234.5, "unreadable", 1234.5),
        ("1.234,5", "unreadable", 1234.5, 1234.5),
        ("1,234,567", 1234567, "unreadable", "unreadable"),
        ("1.234.567,25", "unreadable", 1234567.25, 1234567.25),
        ("12 345.5", 12345.5, "unreadable", 12345.5),
        ("12\u00a0345", 12345, 12345, 12345),
        ("12\u202f345,5", "unreadable", 12345.5, "unreadable"),
        ("1'234.5", 1234.5, "unreadable", 1234.5),
        ("12,34,567", "unreadable", "unreadable", "unreadable"),
        ("1 23", "unreadable", "unreadable", "unreadable"),
        ("12 C", "unreadable", "unreadable", "unreadable"),
        ("0x10", "unreadable", "unreadable", "unreadable"),
        ("running", "unreadable", "unreadable", "unreadable"),
        ("1e999", "none", "none", "none"),
    ],
)
def test_texts(text: str, point: float | str, comma: float | str, open_: float | str) -> None:
    assert one(text, ".") == point
    assert one(text, ",") == comma
    assert one(text, "") == open_


@pytest.mark.parametrize("text", [*NO_READING_AS_WRITTEN, "  ", "nAn", "-INF", "\u00a0"])
@pytest.mark.parametrize("decimal", [".", ",", ""])
def test_no_reading(text: str, decimal: Decimal) -> None:
    assert one(text, decimal) == "none"


def test_words_of_the_line_file() -> None:
    assert one("KAPUTT", ".", frozenset({"kaputt"})) == "none"
    assert one("kaputt", ".") == "unreadable"


@pytest.mark.parametrize(("text", "number"), [("True", 1), ("off", 0), ("YES", 1), ("1", 1), ("0.0", 0)])
def test_switches(text: str, number: float) -> None:
    assert one(text, ".", switch=True) == number
    if text.isalpha():
        assert one(text, ".") == "unreadable"


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["12.5"], "."),
        (["12,5"], ","),
        (["1", "2", "300"], ""),
        (["1.234", "2.345"], ""),
        (["1,234", "0,5"], ","),
        (["1,234", "1,234.5"], "."),
        (["1.234,5", "1.234"], ","),
        (["", "Bad", "x"], ""),
        (["1.5", "2,5"], ""),
        (["0.234"], "."),
        (["1234.567"], "."),
    ],
)
def test_decimal_mark(texts: list[str], mark: Decimal) -> None:
    assert decimal_of(texts) == mark


@settings(deadline=None)
@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=30), st.sampled_from([".", ","]))
def test_numbers_come_back_to_the_bit(numbers: list[float], mark: Decimal) -> None:
    texts = [repr(number).replace(".", mark) for number in numbers]
    for more in ([], ["x"]):  # alone all at once, with a text among them one by one
        read, unreadable = read_numbers(pa.chunked_array([[*texts, *more]]), mark, frozenset())
        assert read[: len(numbers)].tobytes() == np.array(numbers).tobytes()
        assert not unreadable[: len(numbers)].any()
