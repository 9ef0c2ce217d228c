"""Writes a log in a random dialect with random damage, and says what a reader must make of it.

Plain Python over lists of rows, the slow way; it shares no code with the readers, only the shape of a mapping. Every
choice comes from one `random.Random`, so a log is known by its seed.
"""

from __future__ import annotations

import gzip
import io
import random
import zipfile
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pyarrow as pa

from ingest.mapping import ChannelSource, LogMapping

FRESH, GOOD, UNCERTAIN, BAD = 4, 0, 1, 2
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

# Tag, key, unit: no value below has a fraction that is not written out.
TAGS = (
    ("T1", "zone_temperature:Z1", "C", 1),
    ("Düse", "melt_temperature:die", "C", 2),
    ("P die", "melt_pressure:die", "bar", 1),
    ("W1", "feeder_weight:F1", "kg", 2),
    ("n", "screw_speed", "rpm", 0),
)
QUALITIES = {
    "classic": {GOOD: ("192", "193", "216"), UNCERTAIN: ("64", "84"), BAD: ("0", "24")},
    "UA": {GOOD: ("0", "0x00300000"), UNCERTAIN: ("0x40900000", "1083441152"), BAD: ("0x808C0000", "2156527616")},
    "words": {GOOD: ("Good", "good"), UNCERTAIN: ("Uncertain",), BAD: ("Bad", "BadSensorFailure")},
}
# A zone and a moment (UTC) near which its clock changes, by the rules of the IANA database.
CHANGES = {
    "Europe/Berlin": ("2026-10-25 01:00", "2026-03-29 01:00"),
    "America/New_York": ("2026-11-01 06:00", "2026-03-08 07:00"),
    "Australia/Lord_Howe": ("2026-04-04 15:00", "2026-10-03 15:30"),
    "Asia/Kolkata": (),
    "UTC": (),
}
TIMES = (
    *("iso", "iso T Z", "iso offset", "day first", "slashes", "am pm", "month by name", "compact", "two columns"),
    *("epoch s", "epoch ms", "epoch ns"),
)


@dataclass
class Written:
    """A log on the disk and the truth about it.

    cells: (key, UTC ns) -> (value, status). aside: reason -> rows. bad_values: tag -> values that are no numbers.
    """

    paths: list[Path]
    mapping: LogMapping
    said: str
    rows: int = 0
    accepted: int = 0
    cells: dict[tuple[str, int], tuple[float, int]] = field(default_factory=dict)
    aside: dict[str, int] = field(default_factory=dict)
    bad_values: dict[str, int] = field(default_factory=dict)
    duplicates: int = 0
    out_of_order: int = 0


@dataclass
class _Row:
    """One row before it is written. fields: texts behind the time. hit: the damage that it already has."""

    at: datetime
    time: list[str]
    fields: list[str]
    tags: list[str]
    values: dict[str, tuple[float, int]]
    hit: str = ""
    raw: str = ""


def write_log(seed: int, folder: Path, damaged: bool = True) -> Written:
    """The log of a seed, in `folder`."""
    chance = random.Random(seed)
    delimiter = chance.choice([",", ";", "\t", "|"])
    decimal = "." if delimiter == "," else chance.choice(".,")
    group = chance.choice(["", "", "'", " ", "." if decimal == "," else ","])
    group = "" if group == delimiter else group
    time = chance.choice(TIMES)
    zone = chance.choice(list(CHANGES))
    layout = chance.choice(["wide", "wide", "long"])
    quality = chance.choice(["", "", *QUALITIES])
    encoding = chance.choice(["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le"])
    packing = chance.choice(["", "", "gz", "zst", "zip"])
    line_end = chance.choice(["\n", "\r\n"])
    quoted = chance.random() < 0.3
    tags = chance.sample(TAGS, chance.randint(2, 5))
    parallel = layout == "wide" and len(tags) >= 4 and chance.random() < 0.3
    follow = not parallel and chance.random() < 0.2
    said = f"seed {seed}: {delimiter!r} {decimal} {group!r} {time} {zone} {layout} {quality} {encoding} {packing}"
    said += f" {'quoted' if quoted else ''} {'parallel' if parallel else 'follow' if follow else ''}"

    stamps = _stamps(chance, zone)
    if time in ("slashes", "am pm") and stamps[0].day < 13:
        time = "day first"  # with points; a log of a day cannot tell which number is the month
    time_names = ["Datum", "Zeit"] if time == "two columns" else [chance.choice(["Time", "Zeitstempel", "ts"])]
    sources = tuple(ChannelSource(tag, key, unit, "last", 0.5) for tag, key, unit, _ in tags)
    columns: dict[str, object] = {"time_columns": tuple(time_names) if chance.random() < 0.5 else ()}
    if layout == "long":
        columns |= {"layout": "long", "tag_column": "Tag", "value_column": "Wert"}
        columns |= {"quality_column": "Status"} if quality else {}
    mapping = LogMapping("L1", 1.0, zone, sources, **columns)  # type: ignore[arg-type]
    written = Written([], mapping, said)

    def cell(decimals: int, most: float) -> tuple[str, float]:
        digits = f"{chance.uniform(1, most):.{decimals}f}"
        whole, _, rest = digits.partition(".")
        if group and len(whole) > 3:
            whole = f"{whole[:-3]}{group}{whole[-3:]}"
        return whole + (decimal + rest if rest else ""), float(digits)

    rows: list[_Row] = []
    for at in stamps:
        parts = _time_text(time, at, zone, decimal)
        fields: list[str] = []
        values: dict[str, tuple[float, int]] = {}
        for tag, key, _, decimals in tags:
            text, value = cell(decimals, 9000 if tag == "W1" else 399)
            status = chance.choices([GOOD, UNCERTAIN, BAD], [18, 1, 1])[0] if quality else GOOD
            code = [chance.choice(QUALITIES[quality][status])] if quality else []
            if layout == "wide":
                fields += [text, *code]
                values[key] = (value, status | FRESH)
            else:
                rows.append(_Row(at, parts, [tag, text, *code], [tag], {key: (value, status | FRESH)}))
        if layout == "wide":
            rows.append(_Row(at, parts, fields, [tag for tag, *_ in tags], values))
    suffix = [".q"] if quality else []
    if layout == "wide":
        names = [name for tag, *_ in tags for name in (tag, *(tag + one for one in suffix))]
    else:
        names = ["Tag", "Wert", *(["Status"] if quality else [])]

    def join(fields: list[str]) -> str:
        return delimiter.join(f'"{one}"' if quoted or delimiter in one else one for one in fields)

    width = 1 + len(suffix)
    sheets: list[tuple[list[str], list[_Row]]] = [(names, rows)]
    if parallel:
        half = (len(tags) // 2) * width
        keys = [key for _, key, *_ in tags]
        first = set(keys[: len(tags) // 2])
        sheets = [
            (part_names, [_part(row, part, mine) for row in rows])
            for part_names, part, mine in (
                (names[:half], slice(0, half), first),
                (names[half:], slice(half, None), set(keys) - first),
            )
        ]
    elif follow:
        cut = stamps[len(stamps) // 2]
        sheets = [(names, [row for row in rows if row.at < cut]), (names, [row for row in rows if row.at >= cut])]
    preamble = chance.random() < 0.3
    units = layout == "wide" and chance.random() < 0.3
    totals = chance.random() < 0.25
    for number, (head, some) in enumerate(sheets):
        # Damage goes to one file only where several run side by side, so that the truth stays plain.
        lines = _damage(chance, some, join, written, layout, time, damaged and not parallel)
        text = []
        if preamble:
            text += ["Linie 3", f"printed{delimiter}by night shift"]
        text.append(join([*time_names, *head]))
        if units:
            unit_of = {tag: unit for tag, _, unit, _ in tags}
            text.append(join(["" for _ in time_names] + [unit_of.get(name, "") for name in head]))
        text += lines
        if totals:
            text.append(join(["Summe", *[""] * (len(time_names) + len(head) - 1)]))
            _count(written.aside, "no readable time" if layout == "wide" else "tag is not in the line file")
            written.rows += 1
        data = (line_end.join(text) + line_end).encode(encoding)
        if encoding == "utf-16-le" and chance.random() < 0.5:
            data = b"\xff\xfe" + data
        written.paths.append(_pack(folder / f"log{number}.csv", data, packing))
    chance.shuffle(written.paths)
    return written


def _stamps(chance: random.Random, zone: str) -> list[datetime]:
    """60 to 160 moments in whole seconds; near a change of the clock where the zone has one, half of the time."""
    # The 13th or later tells day from month.
    start = datetime(2026, chance.randint(1, 12), chance.randint(13, 26), chance.randint(0, 23), 5, 7, tzinfo=UTC)
    step = chance.choice([1, 1, 2, 5, 20])
    count = chance.randint(60, 160)
    if CHANGES[zone] and chance.random() < 0.5:
        moment = datetime.fromisoformat(chance.choice(CHANGES[zone]) + "+00:00")
        start = moment - timedelta(seconds=step * chance.randint(5, count - 5))
    jitter = chance.random() < 0.3
    at, stamps = start, []
    for _ in range(count):
        stamps.append(at)
        at += timedelta(seconds=step * (chance.choice([1, 1, 1, 2, 4]) if jitter else 1))
    return stamps


def _time_text(form: str, at: datetime, zone: str, decimal: str) -> list[str]:
    here = at.astimezone(ZoneInfo(zone))
    clock = f"{here:%H:%M:%S}"
    seconds = (at - EPOCH) // timedelta(seconds=1)
    match form:
        case "iso":
            return [f"{here:%Y-%m-%d} {clock}"]
        case "iso T Z":
            return [f"{at:%Y-%m-%dT%H:%M:%S}Z"]
        case "iso offset":
            offset = here.strftime("%z")
            return [f"{here:%Y-%m-%d} {clock}.000{offset[:3]}:{offset[3:]}"]
        case "day first":
            return [f"{here:%d.%m.%Y} {clock}{decimal}000"]
        case "slashes":
            return [f"{here:%d/%m/%Y} {clock}"]
        case "am pm":
            return [f"{here.month}/{here.day}/{here.year} {here.hour % 12 or 12}:{here:%M:%S %p}"]
        case "month by name":
            return [f"{here.day:02d}-{MONTHS[here.month - 1]}-{here.year} {clock}"]
        case "compact":
            return [f"{here:%Y%m%d} {here:%H%M%S}"]
        case "two columns":
            return [f"{here:%d.%m.%Y}", clock]
        case "epoch s":
            return [str(seconds)]
        case "epoch ms":
            return [f"{seconds}000"]
        case "epoch ns":
            return [f"{seconds}000000000"]
    raise ValueError(form)


def _part(row: _Row, fields: slice, keys: set[str]) -> _Row:
    values = {key: value for key, value in row.values.items() if key in keys}
    return _Row(row.at, row.time, row.fields[fields], row.tags, values)


def _damage(
    chance: random.Random, rows: list[_Row], join, written: Written, layout: str, time: str, on: bool
) -> list[str]:
    """The rows as lines, some of them damaged; what must become of each goes to `written`."""
    rows = list(rows)
    count = chance.randint(0, 6) if on else 0
    for place in sorted(chance.sample(range(5, len(rows) - 5), min(count, len(rows) - 10))):
        row = rows[place]
        if row.hit:
            continue
        kinds = ["cut", "extra", "number", "time", "twice", "nul"]
        row.hit = chance.choice(kinds)
    for place in range(6, len(rows) - 6):
        # Two neighbours change places: behind by a few seconds at most, both undamaged.
        one, other = rows[place], rows[place + 1]
        apart = (other.at - one.at).total_seconds()
        if on and not (one.hit or other.hit) and 0 < apart <= 5 and chance.random() < 0.02:
            one.hit = other.hit = "moved"
            rows[place], rows[place + 1] = other, one
            written.out_of_order += 1
    lines = []
    for row in rows:
        line = join([*row.time, *row.fields])
        written.rows += 1
        ns = (row.at - EPOCH) // timedelta(seconds=1) * 10**9
        if row.hit == "cut":
            lines.append(join([*row.time, *row.fields][: chance.randint(1, len(row.time) + len(row.fields) - 1)]))
            _count(written.aside, "wrong number of columns")
            continue
        if row.hit == "extra":
            lines.append(join([*row.time, *row.fields, "x", "9"]))
            _count(written.aside, "wrong number of columns")
            continue
        if row.hit == "time":
            lines.append(join(["soon", *[""] * (len(row.time) - 1), *row.fields]))
            _count(written.aside, "no readable time")
            continue
        if row.hit == "number":
            place = 1 if layout == "long" else 0
            fields = list(row.fields)
            fields[place] = "12x4"
            lines.append(join([*row.time, *fields]))
            tag = row.tags[0]
            _count(written.bad_values, tag)
            if layout == "long":
                _count(written.aside, "no value can be read")
                continue
            key = next(key for name, key, *_ in TAGS if name == tag)
            del row.values[key]
            written.accepted += 1
            _take(written, row, ns)
            continue
        if row.hit == "nul":
            line = line[:1] + "\0\0" + line[1:]  # NULs between letters: a reader leaves them out
        lines.append(line)
        written.accepted += 1
        _take(written, row, ns)
        if row.hit == "twice":
            lines.append(line)
            written.rows += 1
            written.accepted += 1
            written.duplicates += 1
    return lines


def _take(written: Written, row: _Row, ns: int) -> None:
    for key, value in row.values.items():
        written.cells[key, ns] = value


def _count(counts: dict[str, int], what: str) -> None:
    counts[what] = counts.get(what, 0) + 1


def _pack(path: Path, data: bytes, packing: str) -> Path:
    if packing == "gz":
        path, data = path.with_suffix(".csv.gz"), gzip.compress(data, mtime=0)
    elif packing == "zst":
        path, data = path.with_suffix(".csv.zst"), pa.Codec("zstd").compress(data, asbytes=True)
    elif packing == "zip":
        whole = io.BytesIO()
        with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(path.name, data)
        path, data = path.with_suffix(".zip"), whole.getvalue()
    path.write_bytes(data)
    return path
