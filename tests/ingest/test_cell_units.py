"""Logs with the unit in every cell, as '212.4 °C'."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from ingest.cell_units import split_unit
from ingest.errors import BadLog
from ingest.mapping import ChannelSource
from ingest.propose import propose
from tests.ingest.plain_log import CHANNELS, Row, cells_of, expected_cells, mapping, moment, read, steady

ROWS = steady(300)
PLAIN = {"T1": "{} °C", "P die": "{} bar", "SP1": "{} °C"}


def saved(
    path: Path, rows: Sequence[Row], ways: dict[str, str], mark: str = ";", point: str = ".", time: str = ""
) -> Path:
    lines = [mark.join(("Time", *ways))]
    for ns, values in rows:
        stamp = f"{ns // 10**9}" if time else f"{moment(ns):%Y-%m-%d %H:%M:%S}"
        cells = [way.format(str(values[name]).replace(".", point)) for name, way in ways.items()]
        lines.append(mark.join((stamp, *cells)))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("time", ["", "epoch"])
@pytest.mark.parametrize(("mark", "point"), [(";", "."), (";", ","), (",", "."), ("\t", ",")])
@pytest.mark.parametrize("blank", [" ", "", "\N{NO-BREAK SPACE}"])
def test_read_like_the_log_without(tmp_path: Path, mark: str, point: str, blank: str, time: str) -> None:
    ways = {name: way.replace(" ", blank) for name, way in PLAIN.items()}
    path = saved(tmp_path / "log.csv", ROWS, ways, mark, point, time)
    for size in (700, 1 << 20):
        blocks, account = read(path, mapping(time_columns=()), block_bytes=size)
        assert cells_of(blocks) == expected_cells(ROWS, mapping())
        assert (account.rows_accepted, account.values_unreadable) == (300, {})
    assert any("the unit stands in every cell of 'T1', 'SP1' ('°C')" in one for one in account.assumptions)


def test_the_unit_in_the_cell_counts(tmp_path: Path) -> None:
    """A display that changes between mbar and bar: exact factors, whatever the line file says."""
    rows = [(ns, {**values, "P die": 0.5 + i / 100}) for i, (ns, values) in enumerate(ROWS)]
    path = saved(tmp_path / "log.csv", rows, PLAIN)
    text = path.read_text().split("\n")
    text[1:] = [
        line.replace(f"{values['P die']} bar", f"{round(values['P die'] * 1000)} mbar") if values["P die"] < 1 else line
        for line, (_, values) in zip(text[1:], rows, strict=False)
    ]
    path.write_text("\n".join(text) + "\n")
    cells = cells_of(read(path)[0])
    for ns, values in rows:
        assert cells["melt_pressure:die", ns][0] == pytest.approx(values["P die"], rel=1e-14)
    psi = (ChannelSource("P die", "melt_pressure:die", "psi", "max", 15),)
    cells = cells_of(read(path, mapping(channels=psi))[0])
    assert cells["melt_pressure:die", rows[0][0]][0] == pytest.approx(0.5, rel=1e-12)


def test_what_is_no_unit_of_the_column_is_not_read(tmp_path: Path) -> None:
    odd = {7: "12 A", 8: "7 F", 9: "sensor 3"}
    rows = [(ns, {**values, "T1": odd.get(i, f"{values['T1']} °C")}) for i, (ns, values) in enumerate(ROWS)]
    _, account = read(saved(tmp_path / "log.csv", rows, {**PLAIN, "T1": "{}"}))
    unreadable = account.values_unreadable["T1"]
    assert (unreadable.count, unreadable.row, unreadable.text) == (2 + 1, 9, "12 A")


def test_a_letter_behind_some_numbers_is_no_unit(tmp_path: Path) -> None:
    rows = [
        (ns, {**values, "T1": f"{values['T1']}{' F' if i % 7 == 0 else ''}"}) for i, (ns, values) in enumerate(ROWS)
    ]
    blocks, account = read(saved(tmp_path / "log.csv", rows, {**PLAIN, "T1": "{}"}))
    assert account.values_unreadable["T1"].count == 43
    assert cells_of(blocks)["zone_temperature:Z1", ROWS[1][0]][0] == 200.125


def test_another_quantity_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path / "log.csv", ROWS, {"P die": "{} kg/h"})
    with pytest.raises(BadLog, match=r"no value can be read"):
        read(path, mapping(channels=CHANNELS[1:2]))


def test_the_long_layout(tmp_path: Path) -> None:
    cells = [f"{moment(ns):%Y-%m-%d %H:%M:%S},{n},{PLAIN[n].format(v[n])}" for ns, v in ROWS for n in PLAIN]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["Time,Tag,Value", *cells]) + "\n")
    of = mapping(layout="long", tag_column="Tag", value_column="Value")
    assert cells_of(read(path, of)[0]) == expected_cells(ROWS, mapping())


def test_a_line_file_is_proposed_with_these_units(tmp_path: Path) -> None:
    rows = [(ns, {"Zone 1 temp": 390.0 + i % 5, "Melt pressure": 1500 + i % 9}) for i, (ns, _) in enumerate(ROWS)]
    path = saved(tmp_path / "log.csv", rows, {"Zone 1 temp": "{} °F", "Melt pressure": "{} psi"})
    found = {one.tag: (one.role, one.unit) for one in propose([path]).lines[0].tags}
    assert found == {"Zone 1 temp": ("zone_temperature", "°F"), "Melt pressure": ("melt_pressure", "psi")}


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("212.4 °C", ("212.4", "°C")),
        ("-3,5 bar(g)", ("-3,5", "bar(g)")),
        ("45.2 1/min", ("45.2", "1/min")),
        ("1 234,5 kg/h", ("1 234,5", "kg/h")),
        ("55%", ("55", "%")),
        ("12 Uhr", ("12 Uhr", "")),
        ("Zone 3", ("Zone 3", "")),
        ("210.0", ("210.0", "")),
        ("2026-03-06", ("2026-03-06", "")),
        ("10 in H2O", ("10 in H2O", "")),
    ],
)
def test_number_and_unit_apart(text: str, parts: tuple[str, str]) -> None:
    assert split_unit(text) == parts
