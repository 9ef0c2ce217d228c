"""Takes away files that no record names: of imports that were cut off, and of days that were replaced."""

from __future__ import annotations

from contextlib import suppress

from ingest.archive.day_book import DayBook
from ingest.archive.layout import book_folder, cells_folder, coarse_folder
from ingest.archive.place import Place


def sweep(place: Place, line: str) -> int:
    """Removes what does not count of one line and says how many files that were. Nobody may be importing into it."""
    current = DayBook(place, line).current_files()
    found = [
        *place.files(cells_folder(line)),
        *place.files(coarse_folder(line)),
        *place.files(f"{book_folder(line)}/days"),
        *(path for path in place.files(f"{book_folder(line)}/imports") if path.rpartition("/")[2].startswith(".")),
    ]
    idle = [path for path in found if path not in current]
    for path in idle:
        with suppress(FileNotFoundError):
            place.remove(path)
    return len(idle)
