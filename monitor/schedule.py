"""The schedule file: which lot and recipe start when, and which container was full when, as notes for the monitor.

CSV with a header: start, lot, recipe; line where one file serves several lines; container where product is packed:
a row with a container, lot and recipe left empty, says when that container was full. `start` is ISO 8601, with an
offset or in plant local time. Comma or semicolon separated, UTF-8.
"""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import io
import zoneinfo
from collections.abc import Collection
from pathlib import Path

from ingest.block import Note
from monitor.line import Line
from monitor.settings_file import SettingsError, unreadable

REQUIRED = ("start", "lot", "recipe")
ALLOWED = (*REQUIRED, "line", "container")
EXAMPLE = "2026-03-02 06:00 or 2026-03-02T05:00:00Z"
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def read_schedule(path: Path, line: Line, recipes: Collection[str] | None = None) -> tuple[Note, ...]:
    """Lot and recipe notes of one line, ordered by time.

    Rows whose `line` names another line are left out. recipes: names that may stand in the file, None = any.
    Raises SettingsError with every mistake in the file: row, column, value, what is allowed.
    """
    problems: list[str] = []
    columns, rows = _table(path, problems)
    zone = zoneinfo.ZoneInfo(line.line.time_zone)
    notes: list[Note] = []
    seen: dict[int, int] = {}
    for number, cells in rows:
        if len(cells) != len(columns):
            problems.append(f"row {number}: has {len(cells)} values, the header names {len(columns)} columns")
            continue
        row = dict(zip(columns, cells, strict=True))
        if row.get("line") not in (None, "", line.name):
            continue
        at_ns = _start(row["start"], zone, number, problems)
        container = row.get("container", "")
        if not (row["lot"] or row["recipe"] or container):
            problems.append(f"row {number}: lot and recipe are both empty; give at least one")
        if recipes is not None and row["recipe"] and row["recipe"] not in recipes:
            problems.append(_unknown_recipe(row["recipe"], number, recipes))
        if at_ns is None:
            continue
        if container:
            notes.append(Note(at_ns, "container packed", container))
        if not (row["lot"] or row["recipe"]):
            continue
        if at_ns in seen:
            problems.append(
                f"row {number}: start = '{row['start']}' is the same time as in row {seen[at_ns]}; "
                "a line starts one lot at a time"
            )
        seen.setdefault(at_ns, number)
        notes += [Note(at_ns, kind, row[kind]) for kind in ("lot", "recipe") if row[kind]]
    if problems:
        raise SettingsError(str(path), problems)
    return tuple(sorted(notes))


def _table(path: Path, problems: list[str]) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Column names and the rows under them with their row numbers in the file, cells stripped."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise SettingsError(str(path), [unreadable(error)]) from None
    except UnicodeDecodeError as error:
        raise SettingsError(str(path), [f"is not UTF-8 text (byte {error.start})"]) from None
    header = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text), delimiter=";" if header.count(";") > header.count(",") else ",")
    try:
        rows = [(reader.line_num, [cell.strip() for cell in cells]) for cells in reader if any(cells)]
    except csv.Error as error:
        raise SettingsError(str(path), [f"row {reader.line_num}: is no CSV ({error})"]) from None
    if not rows:
        raise SettingsError(str(path), [f"is empty; the first row names the columns {', '.join(REQUIRED)}"])
    columns = [name.lower() for name in rows[0][1]]
    for name in REQUIRED:
        if name not in columns:
            problems.append(f"row {rows[0][0]}: column '{name}' is missing; needed are {', '.join(REQUIRED)}")
    for name in columns:
        if name not in ALLOWED:
            near = difflib.get_close_matches(name, ALLOWED, n=1)
            hint = f"did you mean '{near[0]}'?" if near else f"allowed are {', '.join(ALLOWED)}"
            problems.append(f"row {rows[0][0]}: no such column '{name}', {hint}")
        elif columns.count(name) > 1 and f"row {rows[0][0]}: column '{name}' is there twice" not in problems:
            problems.append(f"row {rows[0][0]}: column '{name}' is there twice")
    if problems:
        raise SettingsError(str(path), problems)
    return columns, rows[1:]


def _start(text: str, zone: zoneinfo.ZoneInfo, number: int, problems: list[str]) -> int | None:
    place = f"row {number}: start = '{text}'"
    try:
        stamp = dt.datetime.fromisoformat(text)
    except ValueError:
        problems.append(f"{place} is no date and time; write it like {EXAMPLE}")
        return None
    if ":" not in text:
        problems.append(f"{place} has no time of day; write it like {EXAMPLE}")
        return None
    if stamp.tzinfo is None:
        early, late = (stamp.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
        exists = early.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) == stamp
        if not exists:
            problems.append(f"{place} does not exist in {zone.key}: clocks go forward then; correct it")
            return None
        if early.utcoffset() != late.utcoffset():
            problems.append(
                f"{place} comes twice in {zone.key}: clocks go back then; write '{early.isoformat(' ')}' or "
                f"'{late.isoformat(' ')}'"
            )
            return None
        stamp = early
    return (stamp - _EPOCH) // dt.timedelta(microseconds=1) * 1000


def _unknown_recipe(name: str, number: int, recipes: Collection[str]) -> str:
    near = difflib.get_close_matches(name, recipes, n=1)
    hint = f", did you mean '{near[0]}'?" if near else ""
    known = ", ".join(sorted(recipes)) or "none"
    return f"row {number}: recipe = '{name}' is none of those given ({known}){hint}"
