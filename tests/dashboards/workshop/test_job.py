"""Job folders: named after the content, bounded in life and number, known to every process from the disk alone."""

from __future__ import annotations

import base64
import os
import time
from pathlib import Path

import pytest

from dashboards.pages import import_begin
from dashboards.pages.import_begin import Refused, from_drop, from_place
from dashboards.workshop import job as jobs
from dashboards.workshop import start_step as starting
from dashboards.workshop.job import Job, Status, clean, found_job, job_of_files, job_of_paths, recent_jobs
from dashboards.workshop.start_step import Busy, start_step

ONE, TWO = "1" * 32, "2" * 32


def test_the_same_content_is_the_same_job(tmp_path: Path) -> None:
    first = job_of_files(tmp_path, [("a.csv", b"x,y\n1,2\n")])
    again = job_of_files(tmp_path, [("a.csv", b"x,y\n1,2\n")])
    other = job_of_files(tmp_path, [("a.csv", b"x,y\n1,3\n")])

    assert first.key == again.key != other.key
    assert first.paths[0].read_bytes() == b"x,y\n1,2\n"


def test_names_of_dropped_files_stay_inside_the_folder(tmp_path: Path) -> None:
    job = job_of_files(tmp_path, [("../../etc/x.csv", b"1"), ("..\\y;z.csv.gz", b"2"), ("a/b/y;z.csv.gz", b"3")])

    assert [path.parent for path in job.paths] == [job.folder / "log"] * 3
    assert [path.name for path in job.paths] == ["001-x.csv", "002-y_z.csv.gz", "003-y_z.csv.gz"]


def test_a_file_that_grew_is_another_log(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("a\n")
    first = job_of_paths(tmp_path / "work", [log])
    log.write_text("a\nb\n")

    assert job_of_paths(tmp_path / "work", [log]).key != first.key
    assert first.paths == [log]


def test_no_other_folder_is_a_job(tmp_path: Path) -> None:
    (tmp_path / "lines").mkdir()

    assert found_job(tmp_path, "lines") is None and found_job(tmp_path, "../lines") is None


def test_a_step_without_a_sign_of_life_has_failed(tmp_path: Path) -> None:
    job = job_of_files(tmp_path, [("a.csv", b"1")])
    job.tell(Status("propose", "working"))
    assert job.status().state == "working"

    os.utime(job.folder / "alive", (time.time() - 120,) * 2)

    assert (job.status().state, job.status().said) == ("failed", "gone")


def test_old_folders_go_and_those_that_work_stay(tmp_path: Path) -> None:
    old, works, new = (job_of_files(tmp_path, [("a.csv", bytes([n]))]) for n in range(3))
    works.tell(Status("check", "working"))
    week = time.time() + 8 * 86400

    clean(tmp_path, keep=new.key, now=week)

    assert [job.folder.exists() for job in (old, works, new)] == [False, True, True]


def test_too_much_together_takes_the_oldest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = job_of_files(tmp_path, [("a.csv", b"x" * 4000)])
    for path in first.folder.iterdir():
        os.utime(path, (time.time() - 100,) * 2)
    monkeypatch.setattr(jobs, "MOST_KEPT_BYTES", 6000)

    second = job_of_files(tmp_path, [("b.csv", b"y" * 4000)])
    job_of_files(tmp_path, [("c.csv", b"z" * 100)])

    assert not first.folder.exists() and second.folder.exists()


def test_what_was_brought_lately_stands_first(tmp_path: Path) -> None:
    first, second = (job_of_files(tmp_path, [(f"{n}.csv", bytes([n]))]) for n in range(2))
    for path in first.folder.iterdir():
        os.utime(path, (time.time() - 100,) * 2)

    assert [job.key for job in recent_jobs(tmp_path, 5)] == [second.key, first.key]


class NoProcess:
    """Stands for a step that was started and goes on."""

    def __init__(self, *_: object, **__: object) -> None:
        started.append(1)

    def wait(self) -> int:
        return 0


started: list[int] = []


@pytest.fixture
def no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    started.clear()
    monkeypatch.setattr(starting.subprocess, "Popen", NoProcess)


@pytest.mark.usefixtures("no_process")
def test_one_job_for_a_browser_and_two_for_all(tmp_path: Path) -> None:
    a, b, c = (job_of_files(tmp_path, [("a.csv", bytes([n]))]) for n in range(3))

    start_step(tmp_path, a, "propose", ONE)
    start_step(tmp_path, a, "propose", ONE)
    assert started == [1]
    with pytest.raises(Busy) as busy:
        start_step(tmp_path, b, "propose", ONE)
    assert busy.value.key == a.key
    start_step(tmp_path, b, "propose", TWO)
    with pytest.raises(Busy) as busy:
        start_step(tmp_path, c, "propose", "3" * 32)
    assert busy.value.key == ""
    a.tell(Status("propose", "done"))
    start_step(tmp_path, c, "propose", "3" * 32)
    assert started == [1, 1, 1]


def _sent(content: bytes) -> str:
    return "data:text/csv;base64," + base64.b64encode(content).decode()


def test_what_is_dropped_is_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(import_begin, "MOST_DROPPED_BYTES", 3 << 20)

    with pytest.raises(Refused, match=r"4 MB.*up to 3 MB"):
        from_drop(tmp_path, [_sent(b"x" * (2 << 20))] * 2, ["a.csv", "b.csv"])
    with pytest.raises(Refused, match="61 files; up to 60"):
        from_drop(tmp_path, [_sent(b"x")] * 61, ["a.csv"] * 61)
    with pytest.raises(Refused, match=r"a\.csv is empty"):
        from_drop(tmp_path, [_sent(b"")], ["a.csv"])
    assert from_drop(tmp_path, [_sent(b"x")], ["a.csv"]).title == "a.csv"


def test_a_place_must_be_there(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="give a place"):
        from_place(tmp_path, "  ")
    with pytest.raises(Refused, match="Nothing is at"):
        from_place(tmp_path, str(tmp_path / "none.csv"))


def test_a_work_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "imports").write_text("a file")

    with pytest.raises(Refused, match="cannot be written"):
        from_drop(tmp_path / "imports", [_sent(b"x")], ["a.csv"])


def test_a_broken_file_of_a_job_is_as_none(tmp_path: Path) -> None:
    job = Job(tmp_path)
    (tmp_path / "choices.json").write_text('{"0": ')

    assert job.read("choices.json") == {}
