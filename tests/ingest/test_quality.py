"""Quality codes. Names and numbers of OPC UA status codes: OPC 10000-4 section 7.39 and its published table."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa
import pytest

from ingest.block import BAD, GOOD, UNCERTAIN
from ingest.quality import CLASSIC, OPC_UA, read_quality, scheme_of
from tests.ingest.plain_log import mapping, read

OPC_UA_CODES = [
    (0x00000000, GOOD),
    (0x00300000, GOOD),  # GoodClamped
    (0x408F0000, UNCERTAIN),  # UncertainNoCommunicationLastUsableValue
    (0x40900000, UNCERTAIN),  # UncertainLastUsableValue
    (0x40910000, UNCERTAIN),  # UncertainSubstituteValue
    (0x40920000, UNCERTAIN),  # UncertainInitialValue
    (0x40930000, UNCERTAIN),  # UncertainSensorNotAccurate
    (0x40940000, UNCERTAIN),  # UncertainEngineeringUnitsExceeded
    (0x80050000, BAD),  # BadCommunicationError
    (0x80890000, BAD),  # BadConfigurationError
    (0x808A0000, BAD),  # BadNotConnected
    (0x808B0000, BAD),  # BadDeviceFailure
    (0x808C0000, BAD),  # BadSensorFailure
    (0x808D0000, BAD),  # BadOutOfService
]
# The classic quality byte, value from memory: quality in bits 7 and 6, sub-status in bits 5 to 2, limit in bits 1 and 0
# (0 none, 1 low, 2 high, 3 constant), the maker's own in the high byte; only bits 7 and 6 tell good from bad.
CLASSIC_CODES = [
    (0, BAD),  # not specific
    (4, BAD),  # configuration error
    (8, BAD),  # not connected
    (12, BAD),  # device failure
    (16, BAD),  # sensor failure
    (20, BAD),  # last known value
    (24, BAD),  # communication failure
    (28, BAD),  # out of service
    (64, UNCERTAIN),  # not specific
    (68, UNCERTAIN),  # last usable value
    (80, UNCERTAIN),  # sensor not accurate
    (84, UNCERTAIN),  # engineering units exceeded
    (88, UNCERTAIN),  # sub-normal
    (192, GOOD),  # not specific
    (216, GOOD),  # local override
    (17, BAD),  # sensor failure, low limited
    (86, UNCERTAIN),  # units exceeded, high limited
    (195, GOOD),  # constant
    (0x1200 + 192, GOOD),  # with a byte of the maker's own
    (0x0100 + 24, BAD),
]
# Sparkplug payload specification, section 'Quality Codes'.
SPARKPLUG_CODES = [(0, BAD), (192, GOOD), (500, BAD)]
WORDS = [
    ("Good", GOOD),
    ("GOOD", GOOD),
    ("BadSensorFailure", BAD),
    ("bad", BAD),
    ("Uncertain", UNCERTAIN),
    ("STALE", BAD),
    ("UncertainLastUsableValue", UNCERTAIN),
    ("BAD_NOT_CONNECTED", BAD),
    ("Good, local override", GOOD),
    # A number beside words, as exports for people have it: the words count.
    ("192 (Good)", GOOD),
    ("0 - Bad", BAD),
    ("64: Uncertain", UNCERTAIN),
    # Status signals of NAMUR NE 107: failure and function check are invalid, out of specification is uncertain,
    # maintenance required is valid.
    ("Failure", BAD),
    ("Function check", BAD),
    ("Out of specification", UNCERTAIN),
    ("Maintenance required", GOOD),
]


def qualities(codes: list[object], scheme: str) -> list[int]:
    """Qualities of codes, all of them known."""
    quality, strange = read_quality(pa.chunked_array([pa.array(codes)]), scheme)
    assert not strange.any()
    return quality.tolist()


def test_opc_ua() -> None:
    codes, wanted = zip(*OPC_UA_CODES, strict=True)
    assert scheme_of(map(str, codes)) == OPC_UA
    assert qualities(list(codes), OPC_UA) == list(wanted)
    assert qualities([hex(code) for code in codes], OPC_UA) == list(wanted)
    # Flags in the low 16 bits do not change the meaning; signed numbers are what some exports make of them.
    assert qualities([code | 0x0480 for code in codes], OPC_UA) == list(wanted)
    # Limit bits 9 and 8 (OPC 10000-8, 7.3.3: 01 low, 10 high, 11 constant) with the bit that says they are there.
    for limit in (0x0500, 0x0600, 0x0700):
        assert qualities([code | limit for code in codes], OPC_UA) == list(wanted)
    assert qualities([code - (1 << 32) if code >> 31 else code for code in codes], OPC_UA) == list(wanted)


@pytest.mark.parametrize("table", [CLASSIC_CODES, SPARKPLUG_CODES], ids=["classic", "Sparkplug"])
def test_bytes(table: list[tuple[int, int]]) -> None:
    codes, wanted = zip(*table, strict=True)
    assert scheme_of(map(str, codes)) == CLASSIC
    assert qualities(list(codes), CLASSIC) == list(wanted)
    assert qualities([f"{code}.0" for code in codes], CLASSIC) == list(wanted)


@pytest.mark.parametrize("scheme", [OPC_UA, CLASSIC, ""])
def test_words_and_nothing(scheme: str) -> None:
    codes, wanted = zip(*WORDS, strict=True)
    assert qualities(list(codes), scheme) == list(wanted)
    assert qualities([None, "", "Good"], scheme) == [GOOD, GOOD, GOOD]


def test_what_is_not_known_is_uncertain() -> None:
    quality, strange = read_quality(pa.chunked_array([["wobbly", "128", "192"]]), CLASSIC)
    assert quality.tolist() == [UNCERTAIN, UNCERTAIN, GOOD]
    assert strange.tolist() == [True, True, False]


LONG = mapping(layout="long", tag_column="Tag", value_column="Value", quality_column="Q")


def log(tmp_path: Path, rows: Sequence[tuple[int, str, str, object]]) -> Path:
    """A long log of seconds after ten, tag, value, quality."""
    path = tmp_path / "log.csv"
    lines = [f"2026-03-06 10:00:{s:02d},{tag},{value},{quality}" for s, tag, value, quality in rows]
    path.write_text("\n".join(["Time,Tag,Value,Q", *lines]) + "\n")
    return path


def test_zero_alone_is_good_and_said(tmp_path: Path) -> None:
    blocks, account = read(log(tmp_path, [(i, "SP1", "5", 0) for i in range(5)]), LONG)
    assert blocks[0].status[2].tolist() == [4] * 5
    assert any("all numbers in 'Q' are 0, which is taken as good" in s for s in account.assumptions)


def test_zero_is_bad_where_one_other_code_far_down_says_so(tmp_path: Path) -> None:
    rows = [(i // 1000 % 60, "SP1", "5", 0) for i in range(3000)] + [(3, "SP1", "5", 192)]
    blocks, account = read(log(tmp_path, rows), LONG)
    assert blocks[0].status[2].tolist() == [6, 6, 6, 4]
    assert any("are classic quality bytes" in s for s in account.assumptions)


def test_quality_reaches_the_cells(tmp_path: Path) -> None:
    rows = [
        (0, "T1", "200", 192),
        (0, "T1", "210", 64),  # mean with an uncertain reading is uncertain
        (1, "T1", "200", 192),
        (1, "T1", "900", 0),  # a bad reading is left out of the mean
        (2, "T1", "900", 0),  # ... unless there is no other
        (4, "T1", "200", 192),
        (5, "T1", "", 0),  # bad and without value: what was held is held no longer
        (7, "T1", "200", 192),
        (8, "T1", "", 192),  # good and without value says nothing
        (8, "SP1", "5", 192),  # the last reading of a cell brings its own quality
        (8, "SP1", "6", 64),
    ]
    blocks, account = read(log(tmp_path, rows), LONG)
    assert blocks[0].status[0].tolist() == [5, 4, 6, 2, 4, 3, 3, 4, 0]
    assert blocks[0].values[0, [0, 1, 2, 3, 4, 7, 8]].tolist() == [205, 200, 900, 900, 200, 200, 200]
    assert (blocks[0].values[2, 8], blocks[0].status[2, 8]) == (6, 5)
    assert account.rows_accepted == 11


def test_a_strange_code_is_counted_with_its_place(tmp_path: Path) -> None:
    blocks, account = read(log(tmp_path, [(0, "T1", "200", "Good"), (1, "T1", "201", "wobbly")]), LONG)
    assert blocks[0].status[0].tolist() == [4, 5]
    found = account.values_unreadable["Q"]
    assert (found.count, found.row, found.text) == (1, 3, "wobbly")
