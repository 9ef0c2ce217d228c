"""Logs as plants of many countries and programs of many kinds write them; each once failed or was silently wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from ingest.calendar_words import month_of
from ingest.errors import BadLog
from ingest.mapping import ChannelSource
from tests.ingest.plain_log import Row, cells_of, expected_cells, mapping, moment, read, steady

COLUMNS = ("T1", "P die", "SP1")
LATE = datetime(2026, 3, 27, 23, 58, tzinfo=UTC)
"""A day that is no month, two minutes before midnight."""
NOON = datetime(2026, 3, 27, 11, 59, tzinfo=UTC)


def lines(
    rows: Sequence[Row], stamp: Callable[[datetime], str], head: str = "Time", mark: str = ";", point: str = "."
) -> list[str]:
    """A table with one time column."""
    cells = [[str(values[name]).replace(".", point) for name in COLUMNS] for _, values in rows]
    return [
        mark.join((head, *COLUMNS)),
        *(mark.join((stamp(moment(ns)), *some)) for (ns, _), some in zip(rows, cells, strict=True)),
    ]


def saved(path: Path, text: Sequence[str]) -> Path:
    path.write_text("\n".join(text) + "\n", encoding="utf-8")
    return path


def right(path: Path, rows: Sequence[Row], **line: object) -> None:
    """Every cell as it was written, nothing more, and no row set aside."""
    of = mapping(**{"time_columns": (), **line})
    blocks, account = read(path, of)
    assert cells_of(blocks) == expected_cells(rows, of)
    assert account.rows_accepted == len(rows)


ENGLISH = "January February March April May June July August September October November December"
CALENDARS = {
    "English": ENGLISH,
    "German": "Jan Feb Mrz Apr Mai Jun Jul Aug Sep Okt Nov Dez",
    "German, whole": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "Spanish": "ene feb mar abr may jun jul ago sep oct nov dic",
    "French": "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.",
    "Italian": "gen feb mar apr mag giu lug ago set ott nov dic",
    "Dutch": "jan feb mrt apr mei jun jul aug sep okt nov dec",
    "Portuguese": "jan fev mar abr mai jun jul ago set out nov dez",
    "Polish": "sty lut mar kwi maj cze lip sie wrz paź lis gru",
    "Polish, of": "stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października listopada grudnia",
    "Turkish": "Oca Şub Mar Nis May Haz Tem Ağu Eyl Eki Kas Ara",
    "Czech": "led úno bře dub kvě čvn čvc srp zář říj lis pro",
}


@pytest.mark.parametrize("names", CALENDARS.values(), ids=CALENDARS)
@pytest.mark.parametrize("way", ["{d} {m} {y} {t}", "{d:02d}-{m}-{y} {t}", "{d}. {m} {y}, {t}"])
def test_months_by_name(tmp_path: Path, names: str, way: str) -> None:
    def stamp(at: datetime) -> str:
        return way.format(d=at.day, m=names.split()[at.month - 1], y=at.year, t=f"{at:%H:%M:%S}")

    starts = [datetime(2026, month, 16, 10, 52, 30, tzinfo=UTC) for month in range(1, 13)]
    rows = [row for start in starts for row in steady(3, start=start)]
    blocks, account = read(saved(tmp_path / "log.csv", lines(rows, stamp)), mapping(time_columns=()))
    cells = cells_of(blocks)
    assert account.rows_accepted == 36
    assert [cells["zone_temperature:Z1", ns][0] for ns, _ in rows] == [values["T1"] for _, values in rows]


@pytest.mark.parametrize("name", ["jui", "ma", "x", "čer", "mean", "ju"])
def test_a_name_that_may_be_two_months_is_none(name: str) -> None:
    assert month_of(name) == 0


STAMPS: dict[str, Callable[[datetime], str]] = {
    "month first": lambda at: f'"{ENGLISH.split()[at.month - 1]} {at.day}, {at.year} {at:%H:%M:%S}"',
    "year last": lambda at: f"Fri Mar {at.day:2d} {at:%H:%M:%S} {at.year}",
    "weekday": lambda at: f"Fr {at:%d.%m.%Y %H:%M:%S}",
    "weekday in Spanish": lambda at: f"viernes, {at.day} de marzo de {at.year} {at:%H:%M:%S}",
    "Uhr": lambda at: f"{at:%d.%m.%Y %H:%M:%S} Uhr",
    "colons in the date": lambda at: f"{at:%Y:%m:%d %H:%M:%S}",
    "strokes": lambda at: f"{at:%Y-%m-%d-%H.%M.%S}",
    "narrow blank": lambda at: f"{at:%d/%m/%Y}\u202f{at:%H:%M:%S}",
    "zone by name": lambda at: f"{at + timedelta(hours=1):%Y-%m-%d %H:%M:%S} CET",
    "zone in brackets": lambda at: f"{at + timedelta(hours=1):%Y-%m-%dT%H:%M:%S}+01:00[Europe/Berlin]",
    "offset with GMT": lambda at: f"{at + timedelta(hours=1):%Y-%m-%d %H:%M:%S} GMT+1",
    "compact with offset": lambda at: f"{at + timedelta(hours=1):%Y%m%dT%H%M%S}+0100",
    "days of a spreadsheet": lambda at: repr((at - datetime(1899, 12, 30, tzinfo=UTC)) / timedelta(days=1)),
    "ticks since the year 1": lambda at: str((at - datetime(1, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1) * 10),
    "ticks since 1601": lambda at: str((at - datetime(1601, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1) * 10),
}


@pytest.mark.parametrize("stamp", STAMPS.values(), ids=STAMPS)
def test_stamps(tmp_path: Path, stamp: Callable[[datetime], str]) -> None:
    rows = steady(120, start=datetime(2026, 3, 27, 10, 52, 30, tzinfo=UTC))
    right(saved(tmp_path / "log.csv", lines(rows, stamp)), rows)


HALVES = {
    "Spanish": ("a. m.", "p. m."),
    "Spanish, unbroken": ("a.\u00a0m.", "p.\u00a0m."),
    "Turkish": ("ÖÖ", "ÖS"),
    "Greek": ("πμ", "μμ"),
    "German": ("vorm.", "nachm."),
}


@pytest.mark.parametrize("halves", HALVES.values(), ids=HALVES)
@pytest.mark.parametrize("start", [NOON, LATE])
def test_halves_of_a_day(tmp_path: Path, halves: tuple[str, str], start: datetime) -> None:
    def stamp(at: datetime) -> str:
        return f"{at:%d/%m/%Y} {at.hour % 12 or 12:02d}:{at:%M:%S} {halves[at.hour >= 12]}"

    rows = steady(240, start=start)
    right(saved(tmp_path / "log.csv", lines(rows, stamp)), rows)


def test_the_end_of_a_day_as_24_hours(tmp_path: Path) -> None:
    def stamp(at: datetime) -> str:
        midnight = f"{at - timedelta(days=1):%Y-%m-%d} 24:00:00"
        return midnight if f"{at:%H%M%S}" == "000000" else f"{at:%Y-%m-%d %H:%M:%S}"

    rows = steady(240, start=LATE)
    right(saved(tmp_path / "log.csv", lines(rows, stamp)), rows)
    path = saved(tmp_path / "bad.csv", [*lines(rows, stamp), "2026-03-27 24:00:01;1;1;1"])
    assert read(path, mapping(time_columns=()))[1].set_aside_by_reason == {"no readable time": 1}


def test_milliseconds_behind_a_colon_or_in_a_column_of_their_own(tmp_path: Path) -> None:
    rows = steady(200, 250)
    fine = {"cadence_s": 0.25, "time_columns": ()}
    path = saved(tmp_path / "log.csv", lines(rows, lambda at: f"{at:%Y-%m-%d %H:%M:%S}:{at.microsecond // 1000:03d}"))
    right(path, rows, **fine)

    def apart(at: datetime) -> str:
        return f"{at:%Y-%m-%d %H:%M:%S};{at.microsecond // 1000}"

    path = saved(tmp_path / "log.csv", lines(rows, apart, "Time;ms"))
    right(path, rows, **fine)
    assert "milliseconds are taken from column 'ms'" in str(read(path, mapping(**fine))[1].assumptions)


def test_date_and_time_as_digits(tmp_path: Path) -> None:
    rows = steady(120, start=datetime(2026, 3, 6, 9, 8, 30, tzinfo=UTC))
    right(saved(tmp_path / "log.csv", lines(rows, lambda at: f"{at:%Y%m%d;%H%M%S}", "Date;Time")), rows)


BERLIN = {"time_zone": "Europe/Berlin"}


def plain(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M:%S}"


def test_a_clock_that_the_file_says_is_utc(tmp_path: Path) -> None:
    """Taken for local time it would be an hour off without a word."""
    rows = steady(120)
    right(saved(tmp_path / "log.csv", lines(rows, plain, "Time (UTC)")), rows, **BERLIN)
    right(saved(tmp_path / "log.csv", lines(rows, plain, "Time (UTC)")), rows, time_columns=("Time (UTC)",), **BERLIN)
    for name in ("time_utc", "TimeUTC", "utc time", "Zeit [GMT]"):
        right(saved(tmp_path / "log.csv", lines(rows, plain, name)), rows, **BERLIN)
    head, *rest = lines(rows, plain)
    right(saved(tmp_path / "log.csv", [head, "UTC;°C;bar;°C", *rest]), rows, **BERLIN)
    right(saved(tmp_path / "log.csv", ["Export", "Time zone: UTC", "", head, *rest]), rows, **BERLIN)
    other = lines(rows, lambda at: plain(at + timedelta(hours=3)), "Time GMT+3")
    right(saved(tmp_path / "log.csv", other), rows, **BERLIN)
    two = lines(rows, lambda at: f"{plain(at + timedelta(hours=1))};{plain(at)}", "Local time;UTC time")
    right(saved(tmp_path / "log.csv", two), rows, **BERLIN)
    _, account = read(tmp_path / "log.csv", mapping(time_columns=(), **BERLIN))
    assert "stamps of column 'UTC time' are UTC, as its name says" in str(account.assumptions)


@pytest.mark.parametrize("mark", ["~", "^"])
def test_delimiters(tmp_path: Path, mark: str) -> None:
    rows = steady(120)
    right(saved(tmp_path / "log.csv", lines(rows, plain, mark=mark)), rows)


def test_texts_between_apostrophes(tmp_path: Path) -> None:
    rows = steady(120)
    quoted = [";".join(f"'{cell}'" for cell in line.split(";")) for line in lines(rows, plain)]
    right(saved(tmp_path / "log.csv", quoted), rows)
    some = ["'Time','Shift, crew','T1','P die','SP1'"]
    some += [
        line.replace(line[:20], f"'{line[:19]}','early, it''s A',", 1) for line in lines(rows, plain, mark=",")[1:]
    ]
    right(saved(tmp_path / "log.csv", some), rows)


def test_apostrophes_that_quote_nothing_stay(tmp_path: Path) -> None:
    rows = [(ns, {**values, "P die": 1234.5 + i}) for i, (ns, values) in enumerate(steady(120))]
    swiss = [line.replace(";1", ";1'", 1) for line in lines(rows, plain)]
    right(saved(tmp_path / "log.csv", [swiss[0], *swiss[1:]]), rows)


def test_rows_with_empty_fields_behind_them(tmp_path: Path) -> None:
    rows = steady(120)
    head, *rest = lines(rows, plain)
    right(saved(tmp_path / "log.csv", [head, *(f"{line};;;" for line in rest)]), rows)
    with pytest.raises(BadLog, match="the header has 4 columns and the rows have 6"):
        read(saved(tmp_path / "log.csv", [head, *(f"{line};;7" for line in rest)]), mapping(time_columns=()))


def test_a_quotation_mark_inside_a_text(tmp_path: Path) -> None:
    rows = steady(120)
    right(saved(tmp_path / "log.csv", lines(rows, lambda at: f'{plain(at)};3" pipe', "Time;Note")), rows)


def test_minus_behind_a_number_or_as_typesetters_write_it(tmp_path: Path) -> None:
    rows = [(ns, {**values, "P die": -1.5 - i}) for i, (ns, values) in enumerate(steady(120))]
    wide = (ChannelSource("P die", "melt_pressure:die", "bar", "max", 15),)
    for way in ("{}-", "\u2212{}"):
        text = ["Time;P die", *(f"{plain(moment(ns))};{way.format(-values['P die'])}" for ns, values in rows)]
        right(saved(tmp_path / "log.csv", text), rows, channels=wide)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (["<html><table>", "<tr><td>Time</td></tr>"], "is a web page"),
        (['<?xml version="1.0"?>', "<Workbook>"], "is an XML document"),
        (["Time;T1;P die;SP1", *(f"10:52:{i:02d};1;2;3" for i in range(60))], "and no column the date"),
    ],
)
def test_refused_in_words(tmp_path: Path, text: list[str], words: str) -> None:
    with pytest.raises(BadLog, match=words):
        read(saved(tmp_path / "log.xls", text), mapping(time_columns=()))
