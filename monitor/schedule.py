"""The schedule file: which lot and recipe start when, and which container was filled when, as notes for the monitor.

CSV with a header: start, lot, recipe; line where one file serves several lines; container where product is packed.
Of a container `filled_from` says when its filling began, `filled_until` when it was full; either is enough. Where a row
has neither, `start` is when the container was full; with a lot or recipe in the row it was begun as they were.
Times are ISO 8601, with an offset or in plant local time. Comma or semicolon separated, UTF-8.
"""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import io
import zoneinfo
from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path

from ingest.block import Note
from monitor.line import Line
from monitor.settings_file import SettingsError, unreadable

REQUIRED = ("start", "lot", "recipe")
FILLED_FROM, FILLED_UNTIL = "filled_from", "filled_until"
ALLOWED = (*REQUIRED, "line", "container", FILLED_FROM, FILLED_UNTIL)
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
    again: set[Note] = set()
    seen: dict[int, int] = {}
    for number, cells in rows:
        if len(cells) != len(columns):
            problems.append(f"row {number}: has {len(cells)} values, the header names {len(columns)} columns")
            continue
        row = dict(zip(columns, cells, strict=True))
        if row.get("line") not in (None, "", line.name):
            continue
        starts = bool(row["lot"] or row["recipe"])
        container = row.get("container", "")
        if not (starts or container):
            problems.append(f"row {number}: lot and recipe are both empty; give at least one")
        if recipes is not None and row["recipe"] and row["recipe"] not in recipes:
            problems.append(_unknown_recipe(row["recipe"], number, recipes))
        notes += _container(row, starts, zone, number, problems)
        if not starts and container:
            continue
        at_ns = _time(row["start"], "start", zone, number, problems)
        if at_ns is None or not starts:
            continue
        if at_ns in seen:
            problems.append(
                f"row {number}: start = '{row['start']}' is the same time as in row {seen[at_ns]}; "
                "a line starts one lot at a time"
            )
        seen.setdefault(at_ns, number)
        started = [Note(at_ns, kind, row[kind]) for kind in ("lot", "recipe") if row[kind]]
        notes += started
        again.update(started if container else ())
    if problems:
        raise SettingsError(str(path), problems)
    return tuple(_without_repeats(sorted(notes), again))


def _without_repeats(notes: Sequence[Note], again: Collection[Note]) -> Iterator[Note]:
    """A file may name lot and recipe in the row of every container: no new lot starts there. again: of such rows."""
    now: dict[str, str] = {}
    for note in notes:
        if not (note in again and now.get(note.kind) == note.text):
            yield note
        now[note.kind] = note.text


def _container(
    row: Mapping[str, str], starts: bool, zone: zoneinfo.ZoneInfo, number: int, problems: list[str]
) -> list[Note]:
    """When a container's filling began and when it was full, as far as the row says. starts: a lot or recipe does."""
    name = row.get("container", "")
    given = {column: row[column] for column in (FILLED_FROM, FILLED_UNTIL) if row.get(column)}
    if not name:
        problems += [f"row {number}: {column} = '{text}' is of no container" for column, text in given.items()]
        return []
    if not given:
        at_ns = _time(row["start"], "start", zone, number, [] if starts else problems)
        return [] if at_ns is None else [Note(at_ns, "container begun" if starts else "container packed", name)]
    if not starts and row["start"]:
        if FILLED_FROM in given:
            problems.append(
                f"row {number}: start = '{row['start']}' stands beside {FILLED_FROM} and no lot or recipe starts; "
                "leave start empty"
            )
            return []
        given = {FILLED_FROM: row["start"], **given}  # beside when it was full: when it was begun
    times = {column: _time(text, column, zone, number, problems) for column, text in given.items()}
    begun, full = times.get(FILLED_FROM), times.get(FILLED_UNTIL)
    if begun is not None and full is not None and full <= begun:
        problems.append(
            f"row {number}: {FILLED_UNTIL} = '{given[FILLED_UNTIL]}' is not after the beginning of the filling, "
            f"'{given[FILLED_FROM]}'"
        )
        return []
    kinds = ((begun, "container begun"), (full, "container packed"))
    return [Note(at_ns, kind, name) for at_ns, kind in kinds if at_ns is not None]


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


def _time(text: str, column: str, zone: zoneinfo.ZoneInfo, number: int, problems: list[str]) -> int | None:
    place = f"row {number}: {column} = '{text}'"
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
