"""Any filesystem that pyarrow opens: folders by path and URL, others by URL, one that can neither rename nor force."""

from __future__ import annotations

from pathlib import Path

import pytest
from pyarrow import fs

from ingest.archive.import_log import import_log
from ingest.archive.place import Folder, Place, open_place
from ingest.archive.read import ArchivedLine, archive_blocks
from ingest.errors import BadLog
from tests.ingest.archive.archive_cases import LINE, bring, tree
from tests.ingest.plain_log import mapping, read, same_blocks, steady, write_csv


def test_a_folder_by_path_and_by_url(tmp_path: Path) -> None:
    log = write_csv(tmp_path / "log.csv", steady(5000))
    import_log([log], mapping(), str(tmp_path / "one"))
    import_log([log], mapping(), (tmp_path / "two words").as_uri())
    assert tree(tmp_path / "one") == tree(tmp_path / "two words") != {}
    assert isinstance(open_place((tmp_path / "x").as_uri()), Folder)


@pytest.mark.parametrize("kind", ["folder of a filesystem", "memory"])
def test_another_filesystem(tmp_path: Path, kind: str) -> None:
    """No server of an object store is at hand here; these two stand for them: no rename, nothing of this computer."""
    if kind == "memory":
        place = Place(fs._MockFileSystem(), "plant/archive")  # type: ignore[attr-defined]
    else:
        place = Place(fs.SubTreeFileSystem(str(tmp_path), fs.LocalFileSystem()), "plant/archive")
    rows = steady(50_000)
    logs = [write_csv(tmp_path / f"{i}.csv", part) for i, part in enumerate((rows[:30_000], rows[20_000:]))]
    for log in logs:
        import_log([log], mapping(), place)
    assert import_log([logs[0]], mapping(), place).known == (logs[0],)
    whole, _ = read(write_csv(tmp_path / "whole.csv", rows))
    assert same_blocks(list(archive_blocks(place, LINE)), whole)
    line = ArchivedLine(place, LINE)
    assert line.coarse(line.first, line.end, 60).count.sum() == 3 * 50_000
    for log in logs:
        bring(tmp_path / "here", log, mapping=mapping())
    assert {path: place.read(path) for path in place.files("")} == tree(tmp_path / "here")


def test_a_url_that_pyarrow_knows_by_its_scheme() -> None:
    place = open_place("mock:///plant/archive")
    assert not isinstance(place, Folder) and place.filesystem.type_name == "mock"
    assert place.base == "plant/archive"


@pytest.mark.parametrize("url", ["nonsense://x/y", "s3://"])
def test_a_url_that_cannot_be_opened(url: str) -> None:
    with pytest.raises(BadLog, match="archive cannot be opened"):
        open_place(url)


def test_two_imports_at_a_time_are_refused(tmp_path: Path) -> None:
    place = Folder(tmp_path)
    with place.locked("book/line=L1"):
        with pytest.raises(BadLog, match="another import"), Folder(tmp_path).locked("book/line=L1"):
            pass
        with place.locked("book/line=L2"):
            pass
    with place.locked("book/line=L1"):
        pass
