"""Where an archive lies: a folder on this computer or on any filesystem that pyarrow opens by URL."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pyarrow as pa
from pyarrow import fs

from ingest.errors import BadLog


class Place:
    """A folder; paths are relative to it, with '/' between names.

    `create` and `put` never show half a file where a rename is possible (a folder of this computer); elsewhere a
    file that was cut off may stay, so nothing may rely on a file that no whole record names.
    """

    def __init__(self, filesystem: fs.FileSystem, base: str) -> None:
        self.filesystem, self.base = filesystem, base.rstrip("/")

    @contextmanager
    def create(self, path: str) -> Iterator[pa.NativeFile]:
        """A new file to be written; it is there, whole and safe, when the context ends well."""
        self.filesystem.create_dir(self._full(path).rpartition("/")[0], recursive=True)
        with self.filesystem.open_output_stream(self._full(path)) as sink:
            yield sink

    def put(self, path: str, data: bytes) -> None:
        """A small file, at once."""
        with self.create(path) as sink:
            sink.write(data)

    def open(self, path: str) -> pa.NativeFile:
        """A file to be read from anywhere; raises FileNotFoundError."""
        return self.filesystem.open_input_file(self._full(path))

    def read(self, path: str) -> bytes:
        """A whole small file; raises FileNotFoundError."""
        with self.filesystem.open_input_stream(self._full(path)) as source:
            return source.readall()

    def files(self, folder: str) -> list[str]:
        """Paths of all files below a folder, sorted; none where there is no such folder."""
        selector = fs.FileSelector(self._full(folder), allow_not_found=True, recursive=True)
        found = self.filesystem.get_file_info(selector)
        start = len(self.base) + 1 if self.base else 0
        return sorted(info.path[start:] for info in found if info.type == fs.FileType.File)

    def remove(self, path: str) -> None:
        """Takes a file away."""
        self.filesystem.delete_file(self._full(path))

    @contextmanager
    def locked(self, folder: str) -> Iterator[None]:
        """Keeps a second import of the same line out, where the filesystem can."""
        yield

    def __str__(self) -> str:
        return f"{self.filesystem.type_name}:{self.base}"

    def _full(self, path: str) -> str:
        return f"{self.base}/{path}" if self.base else path


class Folder(Place):
    """A folder of this computer: files are forced to the disk and then renamed to where they are looked for."""

    def __init__(self, folder: Path) -> None:
        super().__init__(fs.LocalFileSystem(), folder.absolute().as_posix())

    @contextmanager
    def create(self, path: str) -> Iterator[pa.NativeFile]:
        """As `Place.create`."""
        whole = Path(self._full(path))
        part = whole.with_name(f".{whole.name}.part")
        self._make(whole.parent)
        with pa.OSFile(str(part), "wb") as sink:
            yield sink
        _force(part)
        os.replace(part, whole)
        _force(whole.parent)

    def _make(self, folder: Path) -> None:
        """The folder and those above it, so that they outlive a loss of power."""
        if not folder.is_dir():
            self._make(folder.parent)
            folder.mkdir(exist_ok=True)
            _force(folder.parent)

    @contextmanager
    def locked(self, folder: str) -> Iterator[None]:
        """As `Place.locked`; the lock ends with the process, however that ends. Raises BadLog."""
        try:
            import fcntl
        except ImportError:  # not on every system; there, two imports at a time are the person's affair
            yield
            return
        self._make(Path(self._full(folder)))
        handle = os.open(self._full(f"{folder}/.lock"), os.O_CREAT | os.O_RDWR, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            raise BadLog(self.base, "another import into this line of the archive is running", hint="Wait.") from None
        try:
            yield
        finally:
            os.close(handle)

    def __str__(self) -> str:
        return self.base


def open_place(url: str | Place) -> Place:
    """The place a URL or path names: a path or file:// is a folder here, anything else goes through pyarrow.

    Raises BadLog for a URL that pyarrow cannot open.
    """
    if isinstance(url, Place):
        return url
    if "://" not in url:
        return Folder(Path(url))
    try:
        filesystem, base = fs.FileSystem.from_uri(url)
    except (pa.ArrowException, ValueError, ImportError, OSError) as error:
        reason = f"archive cannot be opened: {(str(error).splitlines() or ['unknown'])[0].rstrip('.')}"
        raise BadLog(url, reason, hint="Give a folder, or a URL such as file:///..., s3://..., gs://...") from None
    if not base.strip("/"):
        raise BadLog(url, "archive cannot be opened: the URL names no bucket or folder")
    return Folder(Path(base)) if isinstance(filesystem, fs.LocalFileSystem) else Place(filesystem, base)


def _force(path: Path) -> None:
    """What was written to a file or folder is on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
