"""Line and recipe files with their versions: nothing is ever written over silently."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from dashboards.workshop.kept_files import KeptFiles, NotSaved, file_name, version_of

NOON = 1_772_539_200_000_000_000


def test_a_new_file_has_one_version_under_its_own_name_for_its_content(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path / "lines")

    version = kept.save("twin 4.toml", "a = 1\n", "", NOON)

    assert kept.names() == ["twin 4.toml"]
    assert (tmp_path / "lines" / "twin 4.toml").read_text() == "a = 1\n"
    assert [one.name for one in kept.versions("twin 4.toml")] == [version] == [version_of("a = 1\n")]
    assert (tmp_path / "lines/versions/twin 4" / f"20260303T120000.000000Z-{version}.toml").exists()


def test_a_change_keeps_what_was_there(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    first = kept.save("a.toml", "a = 1\n", "", NOON)

    second = kept.save("a.toml", "a = 2\n", first, NOON + 60 * 10**9)

    assert [one.name for one in kept.versions("a.toml")] == [second, first]
    assert kept.version_text("a.toml", first) == "a = 1\n"
    assert kept.text("a.toml") == "a = 2\n"


def test_a_new_file_is_not_written_over_one_that_is_there(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    kept.save("a.toml", "a = 1\n", "", NOON)

    with pytest.raises(NotSaved) as refused:
        kept.save("a.toml", "a = 2\n", "", NOON)

    assert refused.value.why == "there"
    assert kept.text("a.toml") == "a = 1\n"


def test_what_somebody_saved_meanwhile_stays(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    first = kept.save("a.toml", "a = 1\n", "", NOON)
    kept.save("a.toml", "a = 2\n", first, NOON)

    with pytest.raises(NotSaved) as refused:
        kept.save("a.toml", "a = 3\n", first, NOON)

    assert refused.value.why == "changed"
    assert kept.text("a.toml") == "a = 2\n"


def test_a_file_changed_by_hand_becomes_a_version_before_it_is_changed_again(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    first = kept.save("a.toml", "a = 1\n", "", NOON)
    (tmp_path / "a.toml").write_text("a = 1.5\n")
    by_hand = version_of("a = 1.5\n")
    assert [one.name for one in kept.versions("a.toml")] == [by_hand, first]

    kept.save("a.toml", "a = 2\n", by_hand, NOON + 10**18)

    assert kept.version_text("a.toml", by_hand) == "a = 1.5\n"


def test_going_back_is_a_version_of_its_own(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    first = kept.save("a.toml", "a = 1\n", "", NOON)
    second = kept.save("a.toml", "a = 2\n", first, NOON + 10**9)

    kept.save("a.toml", "a = 1\n", second, NOON + 2 * 10**9)

    assert [one.name for one in kept.versions("a.toml")] == [first, second, first]


@pytest.mark.parametrize("name", ["../a.toml", "a/b.toml", ".toml", "a.txt", "", "\\\\x\\y.toml", "a" * 80 + ".toml"])
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    kept = KeptFiles(tmp_path / "lines")

    with pytest.raises(NotSaved) as refused:
        kept.save(name, "a = 1\n", "", NOON)

    assert refused.value.why == "name"
    assert kept.text(name) is None and kept.version_text(name, "0" * 12) is None


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "lines"
    folder.mkdir()
    folder.chmod(0o500)

    with pytest.raises(NotSaved) as refused:
        KeptFiles(folder).save("a.toml", "a = 1\n", "", NOON)

    assert refused.value.why == "folder"


def test_a_place_that_is_no_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "lines").write_text("a file")

    with pytest.raises(NotSaved) as refused:
        KeptFiles(tmp_path / "lines").save("a.toml", "a = 1\n", "", NOON)

    assert refused.value.why == "folder" and refused.value.said


def test_versions_of_one_moment_keep_their_order(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    version, saved = "", []
    for number in range(6):
        version = kept.save("a.toml", f"a = {number}\n", version, NOON)
        saved.insert(0, version)

    assert [one.name for one in kept.versions("a.toml")] == saved


def test_of_many_who_save_at_once_one_wins_and_the_others_are_told(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    first = kept.save("a.toml", "a = 0\n", "", NOON)
    ends: list[str] = []

    def save(number: int) -> None:
        try:
            ends.append(KeptFiles(tmp_path).save("a.toml", f"a = {number}\n", first, NOON + number))
        except NotSaved as error:
            ends.append(error.why)

    threads = [threading.Thread(target=save, args=(number,)) for number in range(1, 6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert ends.count("changed") == 4
    assert kept.versions("a.toml")[0].name in ends
    assert len(kept.versions("a.toml")) == 2


@pytest.mark.parametrize(
    ("title", "name"),
    [("twin 4", "twin 4.toml"), ("a/b: c", "a b c.toml"), ("…", "line.toml"), ("ä" * 90, "ä" * 50 + ".toml")],
)
def test_a_line_gives_its_file_a_name(title: str, name: str) -> None:
    assert file_name(title) == name
