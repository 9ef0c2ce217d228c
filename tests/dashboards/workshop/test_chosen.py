"""Choices of a person in a proposal, and the line file that follows; from a real sample log, through the real steps."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboards import ids, tag_choice
from dashboards.pages.import_choices import choose_what, of_zones, tell_line, tell_log
from dashboards.pages.import_end import mistakes
from dashboards.workshop.chosen import corrected, in_order, other_order, text_of
from dashboards.workshop.job import Job, job_of_paths
from dashboards.workshop.job_step import run
from dashboards.workshop.proposal_json import as_json, from_json
from dashboards.workshop.settings_text import judged
from sample_logs import sample_path

LOG = sample_path("single_starved") / "log.csv.gz"
SPEED, LEVEL = "Drehzahl 1/min", "Füllstand %"


@pytest.fixture(scope="module")
def proposed(tmp_path_factory: pytest.TempPathFactory) -> Job:
    job = job_of_paths(tmp_path_factory.mktemp("work"), [LOG])
    run(job.folder, "propose", [])
    assert job.status().state == "done"
    return job


@pytest.fixture
def job(proposed: Job) -> Iterator[Job]:
    yield proposed
    (proposed.folder / "choices.json").unlink(missing_ok=True)


def tag(job: Job, name: str):
    return next(one for one in corrected(job).proposal.lines[0].tags if one.tag == name)


def test_a_proposal_comes_back_from_its_file_as_it_was(job: Job) -> None:
    content = job.read("proposal.json")

    assert as_json(from_json(content)) == json.loads(json.dumps(content), object_hook=_lists_as_tuples)


def _lists_as_tuples(table: dict) -> dict:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in table.items()}


def test_the_preview_has_the_first_rows_and_the_course_of_every_tag(job: Job) -> None:
    seen = job.read("preview.json")

    assert seen["columns"]["Zeit"][:2] == ["02.03.2027 09:00:00", "02.03.2027 09:00:01"]
    courses = seen["parts"][0]["tags"]
    assert set(courses) == {one.tag for one in corrected(job).proposal.lines[0].tags}
    assert all(16 <= len(one["t"]) == len(one["y"]) <= 800 for one in courses.values())
    assert all(one["t"] == sorted(one["t"]) for one in courses.values())


def test_the_account_asks_what_was_assumed(job: Job) -> None:
    account = job.read("account.json")["0"]

    assert account["rows_read"] == account["rows_accepted"] + account["rows_set_aside"] > 6000
    assert any("day first" in sentence for sentence in account["assumptions"])


def test_a_tag_left_out_is_in_no_table_of_the_line_file(job: Job) -> None:
    assert choose_what(job, 0, LEVEL, ids.IMPORT_ROLE, "")

    line = judged(text_of(corrected(job), 0)).line
    assert line is not None and "hopper_level" not in line.channels
    assert not tag(job, LEVEL).told


def test_another_role_is_taken_with_its_place_and_unit(job: Job) -> None:
    name = "Zone 2 Soll °C"
    assert choose_what(job, 0, name, ids.IMPORT_OTHER, "melt_temperature")
    assert choose_what(job, 0, name, ids.IMPORT_AT, "M7")

    line = judged(text_of(corrected(job), 0)).line
    assert line is not None
    sensor = next(sensor for sensor in line.sensor if sensor.tag == name)
    assert (sensor.key, sensor.unit) == ("melt_temperature:M7", "°C")


def test_a_unit_that_cannot_be_is_refused_in_the_loaders_words(job: Job) -> None:
    assert choose_what(job, 0, SPEED, ids.IMPORT_UNIT, "bar")

    told = judged(text_of(corrected(job), 0))
    assert any(SPEED in problem and "bar" in problem for problem in told.problems)
    assert "Not to be used yet" in str(mistakes(told))


def test_a_zone_that_is_new_comes_into_the_list_of_zones(job: Job) -> None:
    assert choose_what(job, 0, "Zone 6 Ist °C", ids.IMPORT_AT, "Z7")

    line = judged(text_of(corrected(job), 0)).line
    assert line is not None and "Z7" in line.zone_names
    assert line.zone_names.index("Z7") == line.zone_names.index("Z6") + 1


def test_two_tags_of_one_role_are_told(job: Job) -> None:
    assert choose_what(job, 0, "Zone 6 Ist °C", ids.IMPORT_AT, "Z5")

    assert "sensor 'zone_temperature:Z5' is there twice" in judged(text_of(corrected(job), 0)).problems


def test_what_is_known_already_changes_nothing(job: Job) -> None:
    one = tag(job, SPEED)

    assert not choose_what(job, 0, SPEED, ids.IMPORT_ROLE, tag_choice.value_of(one))
    assert not choose_what(job, 0, SPEED, ids.IMPORT_UNIT, one.unit)
    assert not choose_what(job, 0, SPEED, ids.IMPORT_POSITION, "-")
    assert not choose_what(job, 0, "no such tag", ids.IMPORT_ROLE, "")
    assert not tell_line(job, 0, "name", "line 1") and not tell_line(job, 0, "time_zone", "")
    assert not tell_log(job, "recipes", []) and not tell_log(job, "time_format", "%d")
    assert not (job.folder / "choices.json").exists()


def test_facts_of_the_line_stand_in_its_file(job: Job) -> None:
    assert tell_line(job, 0, "name", 'single "9"') and tell_line(job, 0, "time_zone", "Europe/Madrid")
    assert tell_line(job, 0, "kind", "twin-screw")

    line = judged(text_of(corrected(job), 0)).line
    assert line is not None
    assert (line.name, line.line.time_zone, line.line.kind) == ('single "9"', "Europe/Madrid", "twin-screw")


def test_a_time_zone_that_is_none_is_refused(job: Job) -> None:
    tell_line(job, 0, "time_zone", 'x"\n[zone]')

    assert any("no" in problem or "not" in problem for problem in judged(text_of(corrected(job), 0)).problems)


@pytest.mark.parametrize(
    ("one", "other"), [("%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S"), ("%m-%d-%y", "%d-%m-%y"), ("", "")]
)
def test_day_and_month_change_places(one: str, other: str) -> None:
    assert other_order(one) == other and other_order(other) == one


def test_day_or_month_first_can_be_chosen_where_the_log_leaves_it_open(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    rows = [f"03/05/2026 10:{i // 60 % 60:02d}:{i % 60:02d},{180 + i % 7 / 10:.1f}" for i in range(600)]
    log.write_text("Time,Zone 1 Temp °C\n" + "\n".join(rows) + "\n", encoding="utf-8")
    job = job_of_paths(tmp_path / "work", [log])
    run(job.folder, "propose", [])
    guessed = corrected(job).proposal.log.time_format
    assert guessed.startswith("%d")

    assert tell_log(job, "time_format", other_order(guessed))

    line = judged(text_of(corrected(job), 0)).line
    assert line is not None and line.log.time_format.startswith("%m")


def test_what_is_no_log_ends_in_words_without_a_folder(tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("hello this is a letter")
    job = job_of_paths(tmp_path / "work", [letter])

    run(job.folder, "propose", [])

    status = job.status()
    assert status.state == "failed" and status.said.startswith("letter.txt: no row of column names")
    assert str(tmp_path) not in status.said


def test_a_step_is_a_process_that_ends_when_asked(tmp_path: Path) -> None:
    """The stop file is seen within seconds, however long the work is: here a pipe that never ends."""
    pipe = tmp_path / "log.csv"
    os.mkfifo(pipe)
    job = job_of_paths(tmp_path / "work", [pipe])
    command = [sys.executable, "-m", "dashboards.workshop.job_step", str(job.folder), "propose"]
    with subprocess.Popen(command, cwd=Path(tag_choice.__file__).parent.parent) as process:
        (job.folder / "stop").touch()
        try:
            assert process.wait(30) == 0
        finally:
            process.kill()
    assert job.status().state == "failed"


def test_zones_are_moved_by_the_form_and_written_so(job: Job) -> None:
    zones = corrected(job).proposal.lines[0].zones
    assert len(zones) > 2

    assert of_zones(job, {"part": 0}, {"zone": zones[1], "way": "-1"})
    moved = corrected(job).proposal.lines[0].zones
    assert moved == (zones[1], zones[0], *zones[2:])
    told = judged(text_of(corrected(job), 0))
    assert told.line is not None and told.line.zone_names == moved

    assert not of_zones(job, {"part": 0}, {"zone": zones[1], "way": "-1"})
    assert not of_zones(job, {"part": 0}, {"zone": "no such zone", "way": "1"})
    assert not of_zones(job, None, {"zone": zones[0], "way": "1"})


@pytest.mark.parametrize(
    ("zones", "order", "wanted"),
    [
        (("Z1", "Z2", "Z3"), (), ("Z1", "Z2", "Z3")),
        (("Z1", "Z2", "Z3"), ("Z2", "Z1", "Z3"), ("Z2", "Z1", "Z3")),
        (("Z1", "Z2", "Z3"), ("Z3", "Z1"), ("Z3", "Z1", "Z2")),
        (("Z1", "Z2"), ("gone", "Z2", "Z1"), ("Z2", "Z1")),
        (("A", "Z1"), ("Z1",), ("A", "Z1")),
    ],
)
def test_a_zone_that_comes_later_finds_its_place(zones: tuple, order: tuple, wanted: tuple) -> None:
    assert in_order(zones, order) == wanted
