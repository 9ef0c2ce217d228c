"""Filesystems that stop for good before their k-th operation, as a process does that is killed there."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, cast

import pyarrow as pa
import pytest
from pyarrow import fs

from ingest.archive import place as place_module


class Killed(Exception):
    """The process is no more."""


class Life:
    """Counts operations; from the one numbered `last` on, none is done any more."""

    def __init__(self, last: int | None) -> None:
        self.count, self.last, self.over = 0, last, False

    def step(self) -> None:
        """One operation is about to be done."""
        if self.last is not None and self.count >= self.last:
            self.count += 1
            self.over = self.count > self.last + 1
            raise Killed
        self.count += 1


class DyingSink:
    """A file that is written; every write reaches the disk at once, and none after the end."""

    def __init__(self, file: BinaryIO, life: Life) -> None:
        self._file, self._life = file, life
        self.closed = False

    def write(self, data: Any) -> int:
        try:
            self._life.step()
        except Killed:
            if not self._life.over:  # the end comes in the middle of this write
                self._life.over = True
                self._file.write(bytes(data)[: len(data) // 2])
            raise
        return self._file.write(data)

    def flush(self) -> None:
        pass

    def close(self) -> None:
        if not self.closed:
            self.closed = True
            self._file.close()

    def readable(self) -> bool:
        return False

    def writable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return False


class DyingFiles(fs.FileSystemHandler):
    """The files of this computer without a rename: what is opened to be written is there at once, half or whole."""

    def __init__(self, life: Life) -> None:
        self._real, self._life = fs.LocalFileSystem(), life

    def get_type_name(self) -> str:
        return "dying"

    def normalize_path(self, path: str) -> str:
        return path

    def get_file_info(self, paths: list[str]) -> list[fs.FileInfo]:
        return self._real.get_file_info(paths)

    def get_file_info_selector(self, selector: fs.FileSelector) -> list[fs.FileInfo]:
        return self._real.get_file_info(selector)

    def open_input_stream(self, path: str) -> pa.NativeFile:
        return self._real.open_input_stream(path)

    def open_input_file(self, path: str) -> pa.NativeFile:
        return self._real.open_input_file(path)

    def create_dir(self, path: str, recursive: bool) -> None:
        self._life.step()
        self._real.create_dir(path, recursive=recursive)

    def open_output_stream(self, path: str, metadata: object) -> pa.NativeFile:
        self._life.step()
        return pa.PythonFile(DyingSink(open(path, "wb", buffering=0), self._life), mode="w")

    def delete_file(self, path: str) -> None:
        self._life.step()
        self._real.delete_file(path)

    def _not_used(self, *_: object) -> Any:
        raise NotImplementedError("an archive has no use for this")

    delete_dir = delete_dir_contents = delete_root_dir_contents = _not_used
    move = copy_file = open_append_stream = _not_used


class _DyingOs:
    """`os` as a folder of this computer uses it. Nothing is forced to the disk: the computer itself goes on living."""

    def __init__(self, life: Life) -> None:
        self._life = life

    def __getattr__(self, name: str) -> Any:
        if name == "fsync":
            return lambda _: self._life.step()
        if name in ("open", "replace"):
            return lambda *given: (self._life.step(), getattr(os, name)(*given))[1]
        return getattr(os, name)


@contextmanager
def dying_folder(life: Life) -> Iterator[None]:
    """Folders of this computer die with `life`: before a file is opened, written to, forced, renamed, removed."""
    with pytest.MonkeyPatch.context() as patch:
        real_mkdir, real_remove = Path.mkdir, place_module.Folder.remove

        def sink(path: str, mode: str) -> pa.NativeFile:
            life.step()
            return pa.PythonFile(DyingSink(cast(BinaryIO, open(path, mode, buffering=0)), life), mode="w")

        def mkdir(self: Path, *given: Any, **named: Any) -> None:
            life.step()
            real_mkdir(self, *given, **named)

        def remove(self: place_module.Folder, path: str) -> None:
            life.step()
            real_remove(self, path)

        class DyingPa:
            OSFile = staticmethod(sink)

            def __getattr__(self, name: str) -> Any:
                return getattr(pa, name)

        patch.setattr(place_module, "os", _DyingOs(life))
        patch.setattr(place_module, "pa", DyingPa())
        patch.setattr(Path, "mkdir", mkdir)
        patch.setattr(place_module.Folder, "remove", remove)
        yield
