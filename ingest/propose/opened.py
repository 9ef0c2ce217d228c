"""Opens any log without a line file: its columns, its time, whether it is wide or long."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from ingest.account import ReadingAccount
from ingest.cell_units import split_unit, units_in_cells
from ingest.csv_log import CsvLog
from ingest.errors import BadLog
from ingest.log_file import LogFile
from ingest.log_parts import log_parts
from ingest.mapping import ChannelSource, LogMapping
from ingest.number_text import NO_READING
from ingest.parquet_log import MAGIC, ParquetLog
from ingest.propose.header import names_in_head
from ingest.propose.vocabulary import plain
from ingest.quoted_records import joined_head
from ingest.raw_rows import RawRows
from ingest.text_file import look_at_form
from ingest.time_search import find_times
from ingest.time_stamps import TimeReader, as_text

MOST_OPENED = 12
"""Files of one log that are looked at, spread over all of them."""

_CLOCK = re.compile(r"time|stamp|date|datum|zeit|fecha|hora|heure|data|ora|tijd|\bts\b|^t$|epoch", re.IGNORECASE)
_TAG = re.compile(r"tag|name|variable|point|signal|kanal|channel|item|messstelle|punto|etiqu|senal|grandeur|variabele")
_VALUE = re.compile(r"^(value|wert|valor|valeur|valore|waarde|reading|val|v|messwert|number)s?$")
_QUALITY = re.compile(r"^(q|qual|quality|status|state|qualitaet|qualitat|calidad|qualite|qualita|kwaliteit|qualidade)$")
_LINE = re.compile(r"^(line|machine|extruder|linie|anlage|maschine|linea|maquina|ligne|machine|linha|macchina|lijn)"
                   r"(_?(name|id|no|nr))?$")  # fmt: skip
_LOT = re.compile(r"^(lot|charge|batch|lote|lotto|partie|partij|lot_?(no|nr|id)|batch_?(no|nr|id)|chargen?_?nr)$")
_RECIPE = re.compile(r"^(recipe|rezept|receta|recette|ricetta|recept|receita|product|produkt|grade|formula)"
                     r"(_?(name|id|no|nr))?$")  # fmt: skip
_MOST_LONG_COLUMNS = 10
_LOOK_AT = 100
"""Texts of a column that are looked at for a unit in its cells."""


@dataclass(frozen=True)
class Opened:
    """One file of a log, opened.

    names: columns that may be tags (wide) in file order. texts: distinct texts of columns that hold no numbers.
    zoned: stamps say how they stand to UTC. row_bytes: of a text log, on the mean.
    time_format: where it had to be guessed, or was given.
    """

    file: LogFile
    log: CsvLog | ParquetLog
    times: TimeReader
    names: tuple[str, ...]
    numeric: frozenset[str]
    zoned: bool
    layout: str
    tag_column: str = ""
    value_column: str = ""
    quality_column: str = ""
    line_column: str = ""
    line_values: tuple[str, ...] = ()
    lot_column: str = ""
    recipe_column: str = ""
    time_format: str = ""
    row_bytes: float = 100.0
    notes: tuple[str, ...] = field(default=())


def open_any(paths: Sequence[Path], time_format: str = "") -> list[Opened]:
    """Some files of a log, spread over all, each opened. Raises BadLog where none can be used.

    time_format: of a line file, '' to have it found.
    """
    parts = [part for path in paths for part in log_parts(Path(path))]
    chosen = sorted({int(i) for i in np.linspace(0, len(parts) - 1, min(MOST_OPENED, len(parts)))})
    opened, first_error = [], None
    for index in chosen:
        try:
            opened.append(_open(parts[index], len(parts), time_format))
        except BadLog as error:
            first_error = first_error or error
    if not opened:
        assert first_error is not None
        raise first_error
    return opened


def _open(part: LogFile, files: int, given: str) -> Opened:
    account = ReadingAccount()
    parquet = part.path.suffix.casefold() in (".parquet", ".pq") and part.seekable
    if part.seekable:
        with part.on_disk.open("rb") as raw:
            parquet = raw.read(4) == MAGIC or parquet
    row_bytes = 100.0
    if parquet:
        log: CsvLog | ParquetLog = ParquetLog(part, ())
        # Units that the file gives are only looked up for wanted columns.
        once = tuple(name for name in dict.fromkeys(log.names) if log.names.count(name) == 1 and name)
        flat = tuple(name for name in once if name in log.head().columns)
        log = ParquetLog(part, flat)
        names = flat
    else:
        _form, head = look_at_form(part)
        lines = joined_head([line.rstrip("\r") for line in head.decode().split("\n")[:400]])
        found = names_in_head(part.name, lines)
        row_bytes = max(2.0, sum(len(line) + 1 for line in lines) / len(lines))
        names = tuple(name for name in dict.fromkeys(found) if name and found.count(name) == 1)
        log = CsvLog(part, names, frozenset(names), (), account, files=files)
    head_rows = log.head()
    texts = {name: _filled(head_rows, name) for name in names}
    numeric = frozenset(name for name in names if name not in log.stamp_columns and _mostly_numbers(texts[name]))
    times, time_format, notes = _times(log, numeric, account, given)
    zoned = bool(times.read(head_rows)[2].any()) if len(head_rows.numbers) else False
    for name in numeric:
        if units := units_in_cells(texts[name][:_LOOK_AT]):
            log.units.setdefault(name, units[0])
    free = tuple(name for name in names if name not in times.columns)
    numeric &= frozenset(free)
    opened = Opened(
        part, log, times, free, numeric, zoned, "wide", time_format=time_format, row_bytes=row_bytes, notes=notes
    )
    return _with_columns(opened, texts)


def _times(
    log: CsvLog | ParquetLog, numeric: frozenset[str], account: ReadingAccount, given: str
) -> tuple[TimeReader, str, tuple[str, ...]]:
    # Columns of numbers under a name that is none of a clock need no looking at, which is what takes long.
    no_clock = sorted(name for name in numeric if not _CLOCK.search(name))
    channels = tuple(ChannelSource(name, name, "", "mean", 1.0) for name in no_clock)
    mapping = LogMapping("", 1.0, "UTC", channels, time_format=given)
    try:
        return find_times([log], mapping, account)[0], given, ()
    except BadLog as error:
        hint = re.search(r"'(%d[^']*)' where the day", error.hint)
        if hint is None or error.column is None:
            raise
        # Day and month cannot be told apart: the day first is a guess, to be looked at by who knows.
        guessed = replace(mapping, time_columns=(error.column,), time_format=hint[1])
        note = f"time_format is a guess: {error.reason}"
        return find_times([log], guessed, account)[0], hint[1], (note,)


def _filled(rows: RawRows, name: str) -> list[str]:
    texts = as_text(rows.columns[name]).to_pylist()
    return [text for text in texts if text and text.casefold() not in NO_READING]


def _mostly_numbers(texts: list[str]) -> bool:
    if not texts:
        return True  # an empty column may fill later
    some = texts[:: max(1, len(texts) // 100)]
    return sum(_is_number(text) for text in some) > 0.5 * len(some)


_SWITCH = {"on", "off", "true", "false"}


def _is_number(text: str) -> bool:
    if text.casefold() in _SWITCH or split_unit(text)[1]:
        return True
    try:
        float(
            text.replace(",", ".").replace(" ", "").replace("'", "") if text.count(",") < 2 else text.replace(",", "")
        )
    except ValueError:
        return False
    return True


def _with_columns(opened: Opened, texts: dict[str, list[str]]) -> Opened:
    words = [name for name in opened.names if name not in opened.numeric]
    keys = {name: plain(name.strip()).replace(" ", "_") for name in opened.names}
    tag = _tag_column(opened, words, keys, texts)
    if tag:
        values = [name for name in opened.numeric if _VALUE.match(keys[name])]
        others = [name for name in opened.names if name in opened.numeric and not _QUALITY.match(keys[name])]
        value = values[0] if values else others[0]
        quality = next((n for n in opened.names if n not in (tag, value) and _QUALITY.match(keys[n])), "")
        opened = replace(opened, layout="long", tag_column=tag, value_column=value, quality_column=quality)
    rest = [name for name in opened.names if name not in (opened.tag_column, opened.value_column)]
    lines = [name for name in rest if _LINE.match(keys[name]) and 0 < len(set(texts[name])) <= 60]
    lines = [name for name in lines if name in words or _few_whole(texts[name])]
    lot = next((name for name in rest if _LOT.match(keys[name])), "")
    recipe = next((name for name in rest if _RECIPE.match(keys[name])), "")
    line = lines[0] if lines else ""
    found = tuple(dict.fromkeys(texts[line])) if line else ()
    left = {opened.tag_column, opened.value_column, opened.quality_column, line, lot, recipe}
    names = tuple(name for name in opened.names if name not in left)
    return replace(opened, names=names, line_column=line, line_values=found, lot_column=lot, recipe_column=recipe)


def _few_whole(texts: list[str]) -> bool:
    return all(text.isdigit() for text in texts) and len(set(texts)) <= 20


def _tag_column(opened: Opened, words: list[str], keys: dict[str, str], texts: dict[str, list[str]]) -> str:
    """The column of tag names of a long log, '' for a wide one."""
    if len(opened.names) > _MOST_LONG_COLUMNS or not opened.numeric:
        return ""
    valued = any(_VALUE.match(keys[name]) for name in opened.numeric)
    fits = []
    for name in words:
        counts = Counter(texts[name])
        repeated = sum(count > 1 for count in counts.values())
        told = bool(_TAG.search(keys[name])) and valued
        if len(counts) >= (1 if told else 3) and repeated >= 0.3 * len(counts):
            fits.append((bool(_TAG.search(keys[name])), len(counts), name))
    fits = [fit for fit in fits if fit[0] or valued]
    return max(fits)[2] if fits else ""
