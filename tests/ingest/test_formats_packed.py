"""Logs in gzip, zstd, bzip2, xz, zip archives and folders; and archives made to fill memory or time."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import time
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pyarrow.dataset as ds
import pyarrow.parquet as pq
import pytest

from ingest.errors import BadLog
from tests.ingest.plain_log import (
    Style,
    cells_of,
    csv_text,
    expected_cells,
    mapping,
    read,
    same_blocks,
    steady,
    write_csv,
    write_parquet,
)

COLUMNS = ("T1", "P die", "SP1")
ROWS = steady(400)
TEXT = csv_text(ROWS, COLUMNS, Style()).encode()


@pytest.mark.parametrize(
    ("pack", "name"),
    [
        (gzip.compress, "gzip"),
        (lambda data: gzip.compress(data[:999]) + gzip.compress(data[999:]), "gzip"),  # RFC 1952, 2.2: members
        (lambda data: pa.Codec("zstd").compress(data, asbytes=True), "zstd"),
        (
            lambda data: b"".join(pa.Codec("zstd").compress(part, asbytes=True) for part in (data[:999], data[999:])),
            "zstd",  # RFC 8878, 3: frames may follow one another
        ),
        (bz2.compress, "bzip2"),
        (lzma.compress, "xz"),
    ],
)
def test_packed_logs(tmp_path: Path, pack: Callable[[bytes], bytes], name: str) -> None:
    (tmp_path / "plain.csv").write_bytes(TEXT)
    path = tmp_path / "log"
    path.write_bytes(pack(TEXT))
    blocks, account = read(path)
    assert same_blocks(blocks, read(tmp_path / "plain.csv")[0])
    assert name in account.files[0].found["encoding"]
    for size in (1, 999):
        assert same_blocks(blocks, read(path, block_bytes=size)[0])


@pytest.mark.parametrize("pack", [gzip.compress, bz2.compress, lzma.compress, pa.Codec("zstd").compress])
def test_packed_logs_that_are_cut_off(tmp_path: Path, pack: Callable[[bytes], bytes]) -> None:
    whole = bytes(pack(TEXT))
    for size in (12, len(whole) // 2):
        path = tmp_path / "log"
        path.write_bytes(whole[:size])
        with pytest.raises(BadLog, match=r"cut off or damaged|is empty"):
            read(path)


def archive(path: Path, members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> Path:
    """A zip archive."""
    with zipfile.ZipFile(path, "w", method) as file:
        for name, data in members.items():
            file.writestr(name, data)
    return path


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_zip_with_several_members(tmp_path: Path, method: int) -> None:
    style = Style()
    write_parquet(tmp_path / "p.parquet", ROWS[200:300])
    path = archive(
        tmp_path / "log.zip",
        {
            "week/b.csv": csv_text(ROWS[100:200], COLUMNS, style).encode(),
            "week/a.csv": csv_text(ROWS[:100], COLUMNS, style).encode("utf-16"),
            "week/c.parquet": (tmp_path / "p.parquet").read_bytes(),
            "week/d.csv": csv_text(ROWS[300:], COLUMNS, style).encode(),
            "readme.txt": b"Dear all,\n\nplease find the log.\n",
            "__MACOSX/week/._a.csv": b"\x00\x05\x16",
            "week/empty.csv": b"",
        },
        method,
    )
    blocks, account = read(path)
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert account.rows_read == account.rows_accepted == 400
    assert [entry.path.split("/")[-1] for entry in account.files] == ["a.csv", "b.csv", "c.parquet", "d.csv"]
    assert any("readme.txt is left out" in sentence for sentence in account.assumptions)


def test_rows_set_aside_name_the_member(tmp_path: Path) -> None:
    path = archive(tmp_path / "log.zip", {"a.csv": TEXT + b"2026-03-06 12:00:00,1\n"})
    _, account = read(path)
    assert account.set_aside[0].file == f"{path}: a.csv"
    assert account.set_aside[0].row == 402


def test_archives_that_are_refused(tmp_path: Path) -> None:
    inner = archive(tmp_path / "inner.zip", {"a.csv": TEXT}).read_bytes()
    outer = archive(tmp_path / "outer.zip", {"inner.zip": inner})
    with pytest.raises(BadLog, match=r"outer.zip: inner.zip: is an archive inside an archive.*Unpack"):
        read(outer)
    twice = archive(tmp_path / "twice.zip", {"a.csv.gz": gzip.compress(TEXT)})
    with pytest.raises(BadLog, match="is packed twice"):
        read(twice)
    with pytest.raises(BadLog, match="is empty"):
        read(archive(tmp_path / "none.zip", {"folder/": b""}))
    whole = archive(tmp_path / "whole.zip", {"a.csv": TEXT}, zipfile.ZIP_STORED).read_bytes()
    (tmp_path / "cut.zip").write_bytes(whole[:-30])
    with pytest.raises(BadLog, match="cut off or damaged"):
        read(tmp_path / "cut.zip")
    spoilt = bytearray(whole)
    spoilt[5000] ^= 0xFF  # the check sum of the member no longer fits
    (tmp_path / "spoilt.zip").write_bytes(bytes(spoilt))
    with pytest.raises(BadLog, match="cut off or damaged"):
        read(tmp_path / "spoilt.zip")
    locked = bytearray(whole)
    for magic, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        locked[locked.index(magic) + place] |= 1
    (tmp_path / "locked.zip").write_bytes(bytes(locked))
    with pytest.raises(BadLog, match="protected by a password"):
        read(tmp_path / "locked.zip")


LINES = b"2026-03-06 10:52:30,1,2,3\n"


def bomb(packed: str) -> bytes:
    """600 MB of one and the same row, packed."""
    head, block = b"Time,T1,P die,SP1\n", LINES * 400_000
    if packed == "gzip":
        sink = io.BytesIO()
        with gzip.GzipFile(fileobj=sink, mode="wb", compresslevel=6) as file:
            file.write(head + LINES * 100)
            # Blank lines pack best of all that is read line by line.
            for _ in range(60):
                file.write(b"\n" * len(block))
        return sink.getvalue()
    codec = pa.Codec("zstd")
    part = codec.compress(b"\n" * (64 << 20), asbytes=True)
    return bytes(codec.compress(head + LINES * 100, asbytes=True)) + part * 40


@pytest.mark.parametrize("packed", ["gzip", "zstd"])
def test_bombs(tmp_path: Path, packed: str) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(bomb(packed))
    began = time.perf_counter()
    tracemalloc.start()
    with pytest.raises(BadLog, match=r"unpacks to more than .* times its size"):
        read(path)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 300e6
    assert time.perf_counter() - began < 60


def test_members_that_overlap(tmp_path: Path) -> None:
    # After D. Fifield, A better zip bomb, USENIX WOOT 2019: many entries that share one stretch of bytes.
    data = bytearray(archive(tmp_path / "one.zip", {"a.csv": TEXT}).read_bytes())
    start = data.index(b"PK\x01\x02")
    end = data.index(b"PK\x05\x06")
    entry = bytes(data[start:end])
    count = 50
    tail = bytearray(data[end:])
    tail[8:12] = count.to_bytes(2, "little") * 2
    tail[12:16] = (len(entry) * count).to_bytes(4, "little")
    path = tmp_path / "overlap.zip"
    path.write_bytes(bytes(data[:start]) + entry * count + bytes(tail))
    with pytest.raises(BadLog, match="overlap"):
        read(path)


def test_a_folder_of_files(tmp_path: Path) -> None:
    for i in range(4):
        (tmp_path / "2026" / f"{i}").mkdir(parents=True)
        write_csv(tmp_path / "2026" / f"{i}" / "log.csv", ROWS[100 * i : 100 * i + 100])
    (tmp_path / "2026" / "notes.docx").write_bytes(b"PK")
    (tmp_path / ".hidden.csv").write_text("x")
    blocks, account = read(tmp_path)
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert account.rows_accepted == 400


def test_a_partitioned_folder_as_pyarrow_writes_it(tmp_path: Path) -> None:
    # Hive style folders: Apache Arrow documentation, 'Reading and writing partitioned datasets'.
    write_parquet(tmp_path / "plain.parquet", ROWS)
    table = pq.read_table(tmp_path / "plain.parquet")
    doubled = pa.concat_tables([table.append_column("line", pa.array([name] * 400)) for name in ("E 1", "E 2")])
    days = pa.array([f"2026-03-0{6 + i // 200}" for i in range(400)] * 2)
    doubled = doubled.append_column("day", days)
    schema = pa.schema([("line", pa.string()), ("day", pa.string())])
    ds.write_dataset(
        doubled,
        tmp_path / "set",
        format="parquet",
        partitioning=ds.partitioning(schema, flavor="hive"),
        use_threads=False,
    )
    assert (tmp_path / "set" / "line=E%201").is_dir()
    line = mapping(line_column="line", line_value="E 1", lot_column="day")
    blocks, account = read(tmp_path / "set", line)
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert account.rows_read == 800
    assert account.set_aside_by_reason == {"belongs to another line": 400}
    assert [note.text for block in blocks for note in block.notes] == ["2026-03-06", "2026-03-07"]
    back = pq.read_table(tmp_path / "set", filters=[("line", "==", "E 1")])
    assert back.num_rows == account.rows_accepted


@pytest.mark.parametrize("unit", ["s", "ms", "us", "ns"])
@pytest.mark.parametrize("zone", [None, "UTC", "Europe/Berlin", "+05:30"])
def test_parquet_times_of_any_unit_and_zone(tmp_path: Path, unit: str, zone: str | None) -> None:
    stamps = pa.array([ns for ns, _ in ROWS], pa.timestamp("ns", "UTC")).cast(pa.timestamp(unit, "UTC"))
    stamps = stamps.cast(pa.timestamp(unit, zone)) if zone else stamps.cast(pa.timestamp(unit))
    table = {"Time": stamps} | {name: [values[name] for _, values in ROWS] for name in COLUMNS}
    pq.write_table(pa.table(table), tmp_path / "log.parquet", version="2.6")
    blocks, _ = read(tmp_path / "log.parquet")
    assert cells_of(blocks) == expected_cells(ROWS, mapping())


def test_parquet_columns_of_many_types(tmp_path: Path) -> None:
    rows = [(ns, {"T1": float(i % 7), "P die": float(i), "SP1": float(i % 2)}) for i, (ns, _) in enumerate(ROWS)]
    plain = [values for _, values in rows]
    stamps = pa.array([ns for ns, _ in rows], pa.timestamp("ns"))
    for kinds in (
        (pa.float32(), pa.int16(), pa.bool_()),
        (pa.float16(), pa.decimal128(9, 2), pa.uint8()),
        (pa.dictionary(pa.int32(), pa.string()), pa.large_string(), pa.string_view()),
    ):
        table = {"Time": stamps}
        for name, kind in zip(COLUMNS, kinds, strict=True):
            values = pa.array([v[name] for v in plain])
            if kind == pa.bool_() or pa.types.is_decimal(kind) or pa.types.is_float16(kind):
                table[name] = values.cast(kind)
            elif pa.types.is_dictionary(kind):
                table[name] = values.cast(pa.string()).dictionary_encode()
            elif pa.types.is_integer(kind) or pa.types.is_floating(kind):
                table[name] = values.cast(kind)
            else:
                table[name] = values.cast(pa.string()).cast(kind)
        pq.write_table(pa.table(table), tmp_path / "log.parquet")
        blocks, account = read(tmp_path / "log.parquet")
        assert cells_of(blocks) == expected_cells(rows, mapping()), kinds
        assert account.rows_accepted == 400


def test_parquet_bombs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ingest.parquet_log.FREE_ROWS", 1_000_000)
    count = 8_000_000
    table = pa.table({"Time": pa.repeat(pa.scalar(1_772_794_350), count)} | {n: pa.repeat(1.0, count) for n in COLUMNS})
    path = tmp_path / "log.parquet"
    pq.write_table(table, path, compression="zstd", row_group_size=count, write_statistics=False)
    assert path.stat().st_size < 80_000
    monkeypatch.setattr("ingest.parquet_log.ROWS_A_BYTE", 50)
    with pytest.raises(BadLog, match=r"holds 8000000 rows in \d+ bytes"):
        read(path)
    monkeypatch.setattr("ingest.parquet_log.LARGEST_CHUNK", 1000)
    write_parquet(path, ROWS, group=400)
    with pytest.raises(BadLog, match=r"column 'Time': one row group unpacks to"):
        read(path)


def test_a_great_many_columns(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    wide = ",".join(f"x{i}" for i in range(100_000))
    path.write_text(f"Time,T1,P die,SP1,{wide}\n" + "2026-03-06 10:52:30,1,2,3" + ",0" * 100_000 + "\n")
    with pytest.raises(BadLog, match=r"has 100004 columns.*Export only the columns"):
        read(path)
    million = ",".join(f"x{i}" for i in range(1_000_000))
    path.write_text(f"Time,T1,P die,SP1,{million}\n" + "2026-03-06 10:52:30,1,2,3" + ",0" * 1_000_000 + "\n")
    began = time.perf_counter()
    with pytest.raises(BadLog, match=r"row 1: line is longer than 1 MB"):
        read(path)
    assert time.perf_counter() - began < 10


def test_a_line_of_200_megabytes(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    with path.open("wb") as file:
        file.write(TEXT)
        for _ in range(200):
            file.write(b"7" * 1_000_000)
    tracemalloc.start()
    with pytest.raises(BadLog, match=r"row 402: line is longer than 1 MB"):
        read(path)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 100e6
