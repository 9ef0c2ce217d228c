"""One file of a log: on the disk, packed, a member of a zip archive, or a sheet of a workbook."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, Protocol

from ingest.errors import BadLog
from ingest.unpacking import PACKINGS, Unpacked


class ByteStream(Protocol):
    """Bytes of a log from its start on."""

    def read(self, size: int = -1, /) -> bytes:
        """Up to `size` bytes, none at the end."""
        ...

    def tell(self) -> int:
        """How many bytes of the file on the disk that took, for a progress bar."""
        ...

    def close(self) -> None:
        """Gives the file back."""
        ...


@dataclass(frozen=True)
class LogFile:
    """Where the bytes of one log come from.

    path: file on the disk. inside: member of an archive, or sheet of a workbook; '' for the file itself.
    packed: how the bytes are packed, '' for not at all. kind: for people, beside the encoding.
    size_bytes: on the disk. opener: opens what is no plain file.
    constants: columns that the folders say, `date=2026-03-06`, by name.
    keep: what must live as long as this does, such as a temporary copy.
    """

    path: Path
    size_bytes: int
    inside: str = ""
    packed: str = ""
    kind: str = ""
    opener: Callable[[], ByteStream] | None = None
    constants: dict[str, str] = field(default_factory=dict)
    keep: object = None
    copy: Path | None = None

    @property
    def name(self) -> str:
        """For people."""
        return f"{self.path}: {self.inside}" if self.inside else str(self.path)

    @property
    def on_disk(self) -> Path:
        """The file to be opened by whatever needs one."""
        return self.copy or self.path

    @property
    def seekable(self) -> bool:
        """Bytes of the file on the disk are those of the log."""
        return self.opener is None and not self.packed

    def open(self) -> ByteStream:
        """From the start, unpacked. Raises BadLog."""
        if self.opener is not None:
            return self.opener()
        raw = open_bytes(self.on_disk)
        return Unpacked(self.name, raw, self.packed) if self.packed else raw


def open_bytes(path: Path) -> BinaryIO:
    """The file opened for reading; raises BadLog when that is not possible."""
    try:
        if path.is_dir():
            raise BadLog(path, "is a folder, not a log", hint="Give the log files themselves.")
        return path.open("rb")
    except FileNotFoundError:
        raise BadLog(path, "does not exist", hint="Check the name and the folder.") from None
    except OSError as error:
        raise BadLog(path, f"cannot be opened: {error.strerror}", hint="Check the rights on the file.") from None


def file_at(path: Path, constants: dict[str, str] | None = None) -> LogFile:
    """A file on the disk as it is, or unpacked if it is packed."""
    with open_bytes(path) as raw:
        start = raw.read(8)
    packed = next((name for name, magic in PACKINGS.items() if start.startswith(magic)), "")
    return LogFile(path, path.stat().st_size, packed=packed, kind=packed, constants=constants or {})
