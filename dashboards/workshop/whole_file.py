"""Files that other processes see whole or not at all, and a lock between processes."""

from __future__ import annotations

import os
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

STALE_LOCK_S = 10.0
_WAIT_S = 0.02


def write_whole(path: Path, content: bytes) -> None:
    """Writes beside the place and then renames into it. Raises OSError."""
    beside = path.with_name(f".{path.name}.{uuid.uuid4().hex[:8]}")
    try:
        beside.write_bytes(content)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Only one process at a time goes through here with this folder; a lock left by a killed one ends by itself."""
    folder.mkdir(parents=True, exist_ok=True)
    place = folder / ".lock"
    while True:
        try:
            os.close(os.open(place, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            break
        except FileExistsError:
            try:
                if time.time() - place.stat().st_mtime > STALE_LOCK_S:
                    place.unlink(missing_ok=True)
            except FileNotFoundError:
                continue
            time.sleep(_WAIT_S)
    try:
        yield
    finally:
        place.unlink(missing_ok=True)
