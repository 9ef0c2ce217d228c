"""The committed logs: small, readable by our own reader, true, and what the generator makes."""

from __future__ import annotations

import csv
import gzip
import io
import json

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.read_log import read_blocks
from monitor.line import read_line
from monitor.recipe import read_recipe
from monitor.schedule import read_schedule
from sample_logs import sample_names, sample_path
from sample_logs.dialects import DIALECTS
from sample_logs.draw_plant import relogged
from sample_logs.make import truth_of, write_run
from sample_logs.sample_runs import RUN_SEED, SINGLE_PRODUCT, TWIN_PRODUCT, sample_plants, sample_runs
from sample_logs.simulate import simulate

NAMES = ("single_clean", "single_hot_hold", "single_starved", "twin_bridged", "twin_clean", "twin_cold_start",
         "twin_heaters", "twin_path_blocked")  # fmt: skip
REMADE_S = 3300.0
PRODUCT = {"twin": TWIN_PRODUCT, "single": SINGLE_PRODUCT}


@pytest.fixture(scope="module")
def plants():
    return sample_plants()


@pytest.fixture(scope="module")
def runs(plants):
    return {run.name: run for run in sample_runs(plants)}


def _log(name):
    return next(path for path in sample_path(name).iterdir() if path.name.startswith("log."))


def _read(name):
    line = read_line(sample_path(f"{name}/line.toml"))
    account = ReadingAccount()
    blocks = list(read_blocks([_log(name)], line.mapping(), account))
    return line, blocks, account


def test_all_are_there_and_small():
    assert sample_names() == NAMES
    sizes = [path.stat().st_size for name in NAMES for path in sample_path(name).iterdir()]
    assert max(sizes) < 1_500_000 and sum(sizes) < 8_000_000


def test_an_unknown_name_says_what_there_is():
    with pytest.raises(FileNotFoundError, match="there are single_clean, "):
        sample_path("nothing")


@pytest.mark.parametrize("name", NAMES)
def test_log_reads_back_with_its_files(name, runs):
    line, blocks, account = _read(name)
    recipe = read_recipe(sample_path(f"{name}/recipe.toml"))
    notes = read_schedule(sample_path(f"{name}/schedule.csv"), line, [recipe.name])
    run = runs[name]
    start = round(run.start.timestamp()) * 10**9
    assert blocks[0].t0 == start
    assert sum(block.n for block in blocks) == round(run.seconds / run.cadence_s)
    assert not account.silent_tags and not account.values_unreadable
    assert [n.text for n in notes if n.kind == "lot"] == [lot for _, lot in run.lots]
    assert notes[0].at_ns == start + round(run.lots[0][0] * 1e9)
    truth = json.loads(sample_path(f"{name}/truth.json").read_text(encoding="utf-8"))
    end = start + round(run.seconds * 1e9)
    for fault in truth["faults"]:
        assert start <= fault["start_ns"] < fault["end_ns"] <= end
        assert not fault["subject"] or fault["subject"] in (*line.zone_names, *(f.name for f in line.feeder))


@pytest.mark.parametrize("name", NAMES)
def test_truth_and_settings_are_what_the_generator_makes(name, plants, runs):
    run = runs[name]
    plant = relogged(plants[run.plant], plain=run.plain, cadence_s=run.cadence_s, product=PRODUCT[run.plant])
    assert json.loads(sample_path(f"{name}/truth.json").read_text(encoding="utf-8")) == truth_of(run, plant)


@pytest.fixture(scope="module")
def remade(plants, runs):
    """The first 55 min of every log, made again."""
    blocks = {}
    for kind in ("twin", "single"):
        ours = [run for run in runs.values() if run.plant == kind]
        logged = [relogged(plants[kind], plain=r.plain, cadence_s=r.cadence_s, product=PRODUCT[kind]) for r in ours]
        simulated = simulate(logged, [run.scenario for run in ours], REMADE_S, RUN_SEED)
        blocks |= {run.name: (logged[i], simulated.block(i)) for i, run in enumerate(ours)}
    return blocks


@pytest.mark.parametrize("name", NAMES)
def test_regenerated_log_is_the_committed_one(name, runs, remade, tmp_path):
    """Text for text; logs longer than 55 min go on (a longer run begins like a shorter one: test_runs)."""
    run = runs[name]
    plant, block = remade[name]
    write_run(tmp_path, run, plant, block)
    for made in tmp_path.iterdir():
        committed = sample_path(f"{name}/{made.name}")
        if made.suffix == ".parquet":
            import pyarrow.parquet as pq

            short, whole = pq.read_table(made), pq.read_table(committed)
            assert short.equals(whole.slice(0, short.num_rows)), made.name
        elif made.name.startswith("log"):
            short, whole = (_text(path) for path in (made, committed))
            assert len(short) > 10_000 and whole.startswith(short), made.name
        else:
            assert made.read_bytes() == committed.read_bytes(), made.name


def _text(path):
    data = path.read_bytes()
    return gzip.decompress(data) if path.suffix == ".gz" else data


def test_german_log_looks_as_such_plants_write(runs):
    rows = list(
        csv.reader(io.StringIO(gzip.decompress(_log("twin_bridged").read_bytes()).decode("cp1252")), delimiter=";")
    )
    assert rows[0][0] == "Zeit" and "Zone 1 Ist °C" in rows[0]
    assert rows[1][0] == "02.03.2027 11:00:00"
    assert "," in rows[1][1]


def test_english_log_has_units_below_the_names():
    lines = _log("single_clean").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("TIME,Z1_TEMP,") and lines[1].startswith(",C,C,%")
    assert lines[2].startswith("2027-03-02T05:00:00Z,")


def test_long_log_has_a_row_a_reading():
    lines = gzip.decompress(_log("twin_cold_start").read_bytes()).decode().splitlines()
    assert lines[0] == "time,tag,value,quality"
    assert lines[1].endswith(",192")


def test_american_log_is_in_psi_and_fahrenheit():
    import pyarrow.parquet as pq

    table = pq.read_table(_log("twin_clean"))
    wanted = read_recipe(sample_path("twin_clean/recipe.toml")).zones["Z5"]
    assert np.nanmedian(table["z5_temp"].to_numpy()) == pytest.approx(wanted * 1.8 + 32, abs=1.0)
    _, blocks, _ = _read("twin_clean")
    bar = blocks[0].values[blocks[0].channels.index("melt_pressure:P1")]
    psi = table["melt_press_p1"].to_numpy()[: blocks[0].n]
    assert np.nanmedian(psi / bar) == pytest.approx(14.503773773, rel=1e-4)


@pytest.mark.parametrize("dialect", sorted(DIALECTS))
def test_every_dialect_reads_back_as_the_block(dialect, single, tmp_path):
    """What the logger stored comes back through the reader, within the digits written."""
    from monitor.line import Line
    from sample_logs.scenario import Scenario
    from sample_logs.write_logs import line_in_dialect, write_log

    plant = relogged(single, plain=True, cadence_s=2.0)
    block = simulate([plant], [Scenario()], 240, 2).block(0)
    style = DIALECTS[dialect]
    path = tmp_path / ("log.parquet" if style.form == "parquet" else "log.csv")
    write_log(block, plant, style, path, "Europe/Madrid")
    line = Line.model_validate(line_in_dialect(plant, style, "Europe/Madrid"))
    back = list(read_blocks([path], line.mapping(), ReadingAccount()))
    assert sum(b.n for b in back) == block.n and back[0].t0 == block.t0
    values = np.concatenate([b.values for b in back], axis=1)
    for c, key in enumerate(block.channels):
        off = np.abs(values[list(back[0].channels).index(key)] - block.values[c])
        assert np.nanmax(off) <= 0.051, key
