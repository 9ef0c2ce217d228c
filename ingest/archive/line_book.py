"""What an archive knows of a line as a whole: its name and cadence, and which files were imported."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from threading import Event
from typing import Any

from ingest.archive.counts import Brought
from ingest.archive.layout import FORMAT, book_folder, line_in
from ingest.archive.place import Place
from ingest.archive.sealed import sealed, unsealed
from ingest.errors import BadLog
from ingest.mapping import LogMapping

_PIECE = 1 << 18


@dataclass(frozen=True)
class ImportedFile:
    """One file of an import. sha256: of its bytes. first, end: UTC ns of its readings, 0 where it had none."""

    path: str
    sha256: str
    size: int
    rows: int
    first: int
    last: int


@dataclass(frozen=True)
class Import:
    """One finished import. number: follows from files and mapping. mapping: fingerprint of how they were read."""

    number: str
    mapping: str
    files: tuple[ImportedFile, ...]
    brought: Brought
    account: dict[str, Any]

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "format": FORMAT, "number": self.number, "mapping": self.mapping,
            "files": [asdict(file) for file in self.files], "brought": self.brought.as_dict(), "account": self.account,
        }  # fmt: skip


def content_hash(path: Path, stop: Event | None = None) -> str:
    """SHA-256 of a file's bytes; '' where it was stopped before its end."""
    digest, piece = hashlib.sha256(), memoryview(bytearray(_PIECE))
    with path.open("rb", buffering=0) as file:
        while size := file.readinto(piece):
            if stop is not None and stop.is_set():
                return ""
            digest.update(piece[:size])
    return digest.hexdigest()


def mapping_fingerprint(mapping: LogMapping) -> str:
    """Tells whether a file was read before in the same way."""
    return hashlib.sha256(json.dumps(asdict(mapping), sort_keys=True).encode()).hexdigest()[:20]


def import_number(hashes: Sequence[str], fingerprint: str) -> str:
    """The same files read in the same way are the same import, in whatever order and under whatever names."""
    return hashlib.sha256("\n".join([f"{FORMAT}", fingerprint, *sorted(hashes)]).encode()).hexdigest()[:20]


def lines_in(place: Place) -> list[str]:
    """Names of the lines of an archive."""
    return sorted({line_in(path) for path in place.files("book") if path.endswith("/line.json")})


def read_step(place: Place, line: str) -> int | None:
    """Cadence of a line in ns, None where the archive does not know the line. Raises BadLog for another format."""
    try:
        about = unsealed(place.read(f"{book_folder(line)}/line.json"))
    except FileNotFoundError:
        return None
    if about is not None and about["format"] != FORMAT:
        raise BadLog(str(place), f"archive has format {about['format']}, this version reads {FORMAT}")
    return about["step_ns"] if about is not None else None


def keep_step(place: Place, line: str, step: int, *, dry: bool = False) -> None:
    """Notes the cadence of a line. Raises BadLog when the line is kept at another one."""
    known = read_step(place, line)
    if known is None:
        if not dry:
            about = {"format": FORMAT, "line": line, "step_ns": step}
            place.put(f"{book_folder(line)}/line.json", sealed(about))
    elif known != step:
        raise BadLog(
            str(place),
            f"line '{line}' is kept in cells of {known / 1e9:g} s, but its line file says {step / 1e9:g} s",
            hint="Correct cadence_s in the line file, or use another archive.",
        )


def finished_imports(place: Place, line: str) -> list[Import]:
    """All imports of a line that came to their end."""
    found = []
    for path in place.files(f"{book_folder(line)}/imports"):
        data = unsealed(place.read(path)) if not path.rpartition("/")[2].startswith(".") else None
        if data is not None:
            files = tuple(ImportedFile(**file) for file in data["files"])
            found.append(
                Import(data["number"], data["mapping"], files, Brought.from_dict(data["brought"]), data["account"])
            )
    return found


def keep_import(place: Place, line: str, done: Import) -> None:
    """An import came to its end."""
    place.put(f"{book_folder(line)}/imports/{done.number}.json", sealed(done.as_dict()))
