"""Quality columns beside the tags of a wide log, and pressures against the air of the site."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from ingest.block import BAD, FRESH, GOOD, NONE, UNCERTAIN
from ingest.errors import BadLog
from ingest.mapping import ChannelSource
from tests.ingest.plain_log import (
    CHANNELS,
    cells_of,
    expected_cells,
    mapping,
    moment,
    read,
    same_blocks,
    steady,
)

ROWS = steady(40)
COLUMNS = ("T1", "P die", "SP1")
LONG = mapping(layout="long", tag_column="Tag", value_column="Value", quality_column="Quality")


def code(i: int, words: dict[str, str]) -> str:
    """Good but for every fifth (uncertain) and every seventh (bad) row."""
    return words["bad" if i % 7 == 6 else "uncertain" if i % 5 == 4 else "good"]


KINDS = [
    {"good": "Good", "uncertain": "Uncertain", "bad": "Bad"},
    {"good": "192", "uncertain": "64", "bad": "0"},
    {"good": "0", "uncertain": "0x40000000", "bad": "2147483648"},
]


def wide(words: dict[str, str], suffix: str, none_when_bad: bool = False) -> str:
    """A wide log with a quality column behind every tag but SP1."""
    lines = [f"Time,T1,T1{suffix},P die,P die{suffix},SP1"]
    for i, (ns, v) in enumerate(ROWS):
        t1 = "" if none_when_bad and i % 7 == 6 else v["T1"]
        lines.append(
            f"{moment(ns):%Y-%m-%d %H:%M:%S},{t1},{code(i, words)},{v['P die']},{code(i + 3, words)},{v['SP1']}"
        )
    return "\n".join(lines) + "\n"


def long(words: dict[str, str], none_when_bad: bool = False) -> str:
    """The same in the long layout."""
    lines = ["Time,Tag,Value,Quality"]
    for i, (ns, v) in enumerate(ROWS):
        t1 = "" if none_when_bad and i % 7 == 6 else v["T1"]
        stamp = f"{moment(ns):%Y-%m-%d %H:%M:%S}"
        lines += [f"{stamp},T1,{t1},{code(i, words)}", f"{stamp},P die,{v['P die']},{code(i + 3, words)}"]
        lines.append(f"{stamp},SP1,{v['SP1']},{words['good']}")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("words", KINDS)
@pytest.mark.parametrize("suffix", [".q", " status", "_Quality", ".ST", " [quality]"])
@pytest.mark.parametrize("none_when_bad", [False, True])
def test_wide_and_long_give_the_same_blocks(
    tmp_path: Path, words: dict[str, str], suffix: str, none_when_bad: bool
) -> None:
    one, other = tmp_path / "wide.csv", tmp_path / "long.csv"
    one.write_text(wide(words, suffix, none_when_bad))
    other.write_text(long(words, none_when_bad))
    blocks, account = read(one)
    assert same_blocks(blocks, read(other, LONG)[0])
    statuses = {status & ~FRESH for (key, _), (_, status) in cells_of(blocks).items() if key.startswith("zone_temp")}
    assert statuses == ({GOOD, UNCERTAIN} if none_when_bad else {GOOD, UNCERTAIN, BAD})
    assert any(f"'T1{suffix}'" in sentence for sentence in account.assumptions)
    for size in (1, 300):
        assert same_blocks(blocks, read(one, block_bytes=size)[0])
    given = mapping(quality_suffix=suffix)
    assert same_blocks(blocks, read(one, given)[0])


def test_parquet_with_whole_and_broken_codes(tmp_path: Path) -> None:
    table = {"Time": pa.array([ns for ns, _ in ROWS], pa.timestamp("ns", "UTC"))}
    table |= {name: pa.array([v[name] for _, v in ROWS]) for name in COLUMNS}
    for kind in (pa.int32(), pa.float64()):
        codes = pa.array([int(code(i, KINDS[1])) for i in range(40)]).cast(kind)
        pq.write_table(pa.table(table | {"T1.q": codes}), tmp_path / "log.parquet")
        (tmp_path / "log.csv").write_text(wide(KINDS[1], ".q"))
        status = read(tmp_path / "log.parquet")[0][0].status[0]
        assert status.tobytes() == read(tmp_path / "log.csv")[0][0].status[0].tobytes()


@pytest.mark.parametrize("texts", [("0", "1"), ("1",), ("on", "off"), ("heating", "cooling"), ("0",), ("",)])
def test_a_status_that_is_none_of_quality(tmp_path: Path, texts: tuple[str, ...]) -> None:
    words = {"good": texts[0], "uncertain": texts[-1], "bad": texts[-1]}
    path = tmp_path / "log.csv"
    path.write_text(wide(words, " status"))
    blocks, account = read(path)
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert not any("quality" in sentence for sentence in account.assumptions)


def test_quality_can_be_switched_off_and_a_wrong_suffix_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(wide(KINDS[0], ".q"))
    assert cells_of(read(path, mapping(quality_suffix="-"))[0]) == expected_cells(ROWS, mapping())
    with pytest.raises(BadLog, match=r"'\.x' behind it.*quality_suffix"):
        read(path, mapping(quality_suffix=".x"))


def test_a_bad_reading_without_a_value_ends_the_hold(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(wide(KINDS[0], ".q", none_when_bad=True))
    (block,) = read(path)[0]
    assert [i for i in range(block.n) if block.status[0, i] == NONE] == [i for i in range(40) if i % 7 == 6]


# Expected values by hand from the definitions: 1 inHg = 33.8639 mbar and 1 psi = 68.9476 mbar (NIST SP 811, B.8).
@pytest.mark.parametrize(
    ("unit", "reading", "mbar"),
    [
        ("mbar(g)", -850.0, 950 - 850),
        ("mbarg", -850.0, 950 - 850),
        ("bar(g)", -0.85, 950 - 850),
        ("psig", -12.0, 950 - 12 * 68.94757),
        ("inHg vac", 25.0, 950 - 25 * 33.86389),
        ("inHg vacuum", 25.0, 950 - 25 * 33.86389),
        ("mbar abs", 100.0, 100.0),
        ("mbar", 100.0, 100.0),
    ],
)
def test_vacuum_against_the_air_of_the_site(tmp_path: Path, unit: str, reading: float, mbar: float) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Time,V1\n" + "".join(f"2026-03-06 10:00:{i:02d},{reading}\n" for i in range(30)))
    line = mapping(channels=(ChannelSource("V1", "vacuum:V1", unit, "mean", 60),), atmosphere_mbar=950.0)
    blocks, account = read(path, line)
    assert blocks[0].values[0, 0] == pytest.approx(mbar, abs=1e-3)
    said = account.conversions.get("V1", "")
    assert ("950 mbar" in said) == (unit not in ("mbar abs", "mbar"))


def test_the_line_file_gives_air_pressure_and_suffix() -> None:
    from monitor.line import Line

    line = Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": "twin-screw", "atmosphere_mbar": 890},
            "log": {"quality_suffix": ".q"},
            "zone": [{"name": "Z1"}],
            "sensor": [{"tag": "T1", "role": "zone_temperature", "at": "Z1"}],
        }
    )
    assert (line.mapping().atmosphere_mbar, line.mapping().quality_suffix) == (890, ".q")
    assert replace(mapping(), atmosphere_mbar=890).channels == CHANNELS
