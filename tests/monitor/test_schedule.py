"""A schedule file becomes notes at the right instant, or a list of all that is wrong with it."""

from __future__ import annotations

import datetime as dt
import tomllib

import pytest

from ingest.block import Note
from monitor.line import Line
from monitor.schedule import read_schedule
from monitor.settings_file import SettingsError

LINE = Line.model_validate(
    tomllib.loads("""
format = 1
[line]
name = "Line 3"
kind = "twin-screw"
time_zone = "Europe/Madrid"
[[sensor]]
tag = "S"
role = "screw_speed"
""")
)


def utc(*parts: int) -> int:
    return int(dt.datetime(*parts, tzinfo=dt.UTC).timestamp()) * 1_000_000_000  # type: ignore[misc]


def read(tmp_path, text: str | bytes, recipes=None):
    path = tmp_path / "schedule.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_schedule(path, LINE, recipes)


def problems(tmp_path, text: str | bytes, recipes=None) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        read(tmp_path, text, recipes)
    assert str(tmp_path / "schedule.csv") in str(caught.value)
    return caught.value.problems


def test_local_and_offset_times_sorted(tmp_path):
    """Madrid is UTC+1 in winter and UTC+2 in summer (IANA time zone database)."""
    notes = read(
        tmp_path,
        "start,lot,recipe\n2026-07-02 06:00,L2,PP\n2026-03-02 06:00:30,L1,PA\n2026-07-02T06:00:00.5Z,L3,\n"
        "2026-07-02T09:00:00+02:00,,PP black\n",
    )

    assert notes == (
        Note(utc(2026, 3, 2, 5, 0, 30), "lot", "L1"),
        Note(utc(2026, 3, 2, 5, 0, 30), "recipe", "PA"),
        Note(utc(2026, 7, 2, 4), "lot", "L2"),
        Note(utc(2026, 7, 2, 4), "recipe", "PP"),
        Note(utc(2026, 7, 2, 6) + 500_000_000, "lot", "L3"),
        Note(utc(2026, 7, 2, 7), "recipe", "PP black"),
    )


@pytest.mark.parametrize(
    "text",
    [
        "\ufeffstart;lot;recipe\r\n2026-03-02 06:00;L1;PA\r\n\r\n",
        'Start, Lot ,RECIPE\n"2026-03-02 06:00", L1 ,PA',
        "line,recipe,lot,start\nLine 3,PA,L1,2026-03-02 06:00\nLine 4,PX,L9,2026-03-02 06:00\n",
        "start,lot,recipe,line\n2026-03-02 06:00,L1,PA,\n",
    ],
)
def test_spellings_of_one_schedule(tmp_path, text):
    at = utc(2026, 3, 2, 5)

    assert read(tmp_path, text) == (Note(at, "lot", "L1"), Note(at, "recipe", "PA"))


def test_every_mistake_is_told_at_once_with_its_place(tmp_path):
    text = (
        "start,lot,recipe\n2026-03-02 06:00,L1,PA\nyesterday,L2,PA\n2026-03-03,L3,PA\n2026-03-02T05:00Z,L4,PA\n"
        "2026-03-04 06:00,,\n2026-03-05 06:00,L6,PA30GF\n2026-03-06 06:00,L7\n"
    )

    assert problems(tmp_path, text, ["PA", "PA 30 GF"]) == [
        "row 3: start = 'yesterday' is no date and time; write it like 2026-03-02 06:00 or 2026-03-02T05:00:00Z",
        "row 4: start = '2026-03-03' has no time of day; write it like 2026-03-02 06:00 or 2026-03-02T05:00:00Z",
        "row 5: start = '2026-03-02T05:00Z' is the same time as in row 2; a line starts one lot at a time",
        "row 6: lot and recipe are both empty; give at least one",
        "row 7: recipe = 'PA30GF' is none of those given (PA, PA 30 GF), did you mean 'PA 30 GF'?",
        "row 8: has 2 values, the header names 3 columns",
    ]


def test_times_at_the_clock_changes_are_refused(tmp_path):
    """In 2026 Madrid skips 02:00 to 03:00 on 29 March and repeats it on 25 October."""
    found = problems(tmp_path, "start,lot,recipe\n2026-03-29 02:30,L1,PA\n2026-10-25 02:30,L2,PA\n")

    assert found == [
        "row 2: start = '2026-03-29 02:30' does not exist in Europe/Madrid: clocks go forward then; correct it",
        "row 3: start = '2026-10-25 02:30' comes twice in Europe/Madrid: clocks go back then; "
        "write '2026-10-25 02:30:00+02:00' or '2026-10-25 02:30:00+01:00'",
    ]
    assert read(tmp_path, "start,lot,recipe\n2026-10-25 02:30+01:00,L2,\n") == (
        Note(utc(2026, 10, 25, 1, 30), "lot", "L2"),
    )


def test_header_mistakes(tmp_path):
    assert problems(tmp_path, "start,lott,recipe,recipe\n") == [
        "row 1: column 'lot' is missing; needed are start, lot, recipe",
        "row 1: no such column 'lott', did you mean 'lot'?",
        "row 1: column 'recipe' is there twice",
    ]
    assert problems(tmp_path, "") == ["is empty; the first row names the columns start, lot, recipe"]
    assert problems(tmp_path, b"start,lot,recipe\n2026-03-02 06:00,L\xe9,PA\n") == ["is not UTF-8 text (byte 35)"]


def test_a_missing_file_and_a_folder(tmp_path):
    for path in (tmp_path / "absent.csv", tmp_path):
        with pytest.raises(SettingsError, match=r"does not exist|is a folder"):
            read_schedule(path, LINE)


def test_a_container_is_a_note_of_its_own(tmp_path):
    path = tmp_path / "lots.csv"
    path.write_text(
        "start,lot,recipe,container\n2026-03-02T06:00:00Z,L1,R1,\n2026-03-02T06:40:00Z,,,C-17\n", encoding="utf-8"
    )

    kinds = [(note.kind, note.text) for note in read_schedule(path, LINE)]

    assert kinds == [("lot", "L1"), ("recipe", "R1"), ("container packed", "C-17")]


CONTAINERS = "start,lot,recipe,container,filled_from,filled_until\n2026-03-02T06:00:00Z,L1,R1,,,\n"


@pytest.mark.parametrize(
    ("row", "kinds"),
    [
        (",,,C1,2026-03-02T06:20:00Z,", ["begun"]),
        (",,,C1,,2026-03-02T06:40:00Z", ["packed"]),
        (",,,C1,2026-03-02T06:20:00Z,2026-03-02T06:40:00Z", ["begun", "packed"]),
        ("2026-03-02T06:20:00Z,,,C1,,2026-03-02T06:40:00Z", ["begun", "packed"]),
        ("2026-03-02T06:40:00Z,,,C1,,", ["packed"]),
        ("2026-03-02T06:20:00Z,L1,R1,C1,,", ["begun"]),
    ],
)
def test_when_a_container_was_begun_and_when_it_was_full(tmp_path, row, kinds):
    """A lot named again in a container's row is no new lot."""
    at = {"begun": utc(2026, 3, 2, 6, 20), "packed": utc(2026, 3, 2, 6, 40)}

    notes = read(tmp_path, f"{CONTAINERS}{row}\n")

    assert [note.text for note in notes[:2]] == ["L1", "R1"]
    assert notes[2:] == tuple(Note(at[kind], f"container {kind}", "C1") for kind in kinds)


def test_mistakes_in_the_times_of_containers(tmp_path):
    assert problems(
        tmp_path,
        f"{CONTAINERS},,,C1,soon,\n,L2,,C2,2026-03-02T07:00:00Z,\n,,,,2026-03-02T07:00:00Z,\n"
        ",,,C3,2026-03-02T07:00:00Z,2026-03-02T06:00:00Z\n2026-03-02T06:50:00Z,,,C4,2026-03-02T07:00:00Z,\n,,,C5,,\n",
    ) == [
        "row 3: filled_from = 'soon' is no date and time; write it like 2026-03-02 06:00 or 2026-03-02T05:00:00Z",
        "row 4: start = '' is no date and time; write it like 2026-03-02 06:00 or 2026-03-02T05:00:00Z",
        "row 5: lot and recipe are both empty; give at least one",
        "row 5: filled_from = '2026-03-02T07:00:00Z' is of no container",
        "row 5: start = '' is no date and time; write it like 2026-03-02 06:00 or 2026-03-02T05:00:00Z",
        "row 6: filled_until = '2026-03-02T06:00:00Z' is not after the beginning of the filling, "
        "'2026-03-02T07:00:00Z'",
        "row 7: start = '2026-03-02T06:50:00Z' stands beside filled_from and no lot or recipe starts; leave start "
        "empty",
        "row 8: start = '' is no date and time; write it like 2026-03-02 06:00 or 2026-03-02T05:00:00Z",
    ]
