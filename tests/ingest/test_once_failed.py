"""Damaged files that once ended a reading in the wrong way (see tests/benchmarks/fuzz_ingest.py), and every seed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ingest.fuzz_seeds import SEEDS, outcome_of

FILES = sorted(path for path in (Path(__file__).parent / "once_failed").glob("*") if path.suffix != ".md")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_files_that_once_failed(path: Path) -> None:
    outcome_of(path, SEEDS[path.name.split("-")[0]][2])


@pytest.mark.parametrize("name", SEEDS)
def test_undamaged_seeds_are_read(name: str, tmp_path: Path) -> None:
    make, ending, mapping = SEEDS[name]
    path = tmp_path / f"log{ending}"
    path.write_bytes(make())
    assert outcome_of(path, mapping) in ("clean", "set aside")
