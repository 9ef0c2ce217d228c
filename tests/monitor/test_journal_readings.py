"""However the commits were cut, the same readings, levels and quantities come back; slow oracles say which."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from ingest.block import Block
from monitor.journal import Journal
from monitor.journal.levels import width_for
from monitor.journal.schema import piece_table
from monitor.line import Line

LINE_TOML = """
format = 1
[line]
name = "L"
kind = "twin-screw"
cadence_s = {cadence}
[[sensor]]
tag = "SPEED"
role = "screw_speed"
"""
CHANNELS = ("screw_speed", "torque", "melt_pressure:DIE")
S = 1_000_000_000
HOUR = 3600 * S
T0 = 1_772_430_000 * S  # 20 minutes before a UTC hour


@dataclass
class Given:
    phase: np.ndarray
    quantities: dict = field(default_factory=dict)
    records: tuple = ()


def a_log(n: int, step: int = S) -> Block:
    rng = np.random.default_rng(n)
    values = np.round(200 + np.cumsum(rng.normal(0, 0.3, (3, n)), axis=1), 1)
    values[2] = rng.normal(80, 3, n)  # not decimal
    values[rng.random((3, n)) < 0.02] = np.nan
    values[0, n // 3 : n // 3 + 700] = np.nan
    status = rng.choice(np.array([4, 4, 4, 0, 5, 6], np.uint8), (3, n))
    status[np.isnan(values)] = 3
    return Block(T0 // step * step, step, CHANNELS, values, status)


def opened(path, cadence: float = 1.0) -> Journal:
    journal = Journal(path)
    text = LINE_TOML.format(cadence=cadence)
    journal.register_line(Line.model_validate(tomllib.loads(text)), text, [])
    return journal


def fill(journal: Journal, log: Block, cuts: list[int]) -> None:
    for first, last in zip([0, *cuts], [*cuts, log.n], strict=True):
        part = log.cut(first, last)
        journal.commit("L", position=str(last), block=part, step=Given(np.zeros(part.n, np.int8)))


def same(a: Block, b: Block) -> bool:
    return (a.t0, a.step, a.channels) == (b.t0, b.step, b.channels) and (
        a.values.tobytes() == b.values.tobytes() and a.status.tobytes() == b.status.tobytes()
    )


def joined(parts: list[Block]) -> Block:
    return Block(
        parts[0].t0, parts[0].step, parts[0].channels,
        np.concatenate([p.values for p in parts], axis=1), np.concatenate([p.status for p in parts], axis=1),
    )  # fmt: skip


def oracle_levels(log: Block, row: int, t0: int, t1: int, width_s: int):
    """Bucket by bucket, cell by cell."""
    width = width_s * S
    cells = list(zip(log.times().tolist(), log.values[row].tolist(), log.status[row].tolist(), strict=True))
    for bucket in range(t0 // width * width, t1, width):
        first = max(0, -(-(bucket - log.t0) // log.step))
        last = max(first, -(-(bucket + width - log.t0) // log.step))
        good = [v for _, v, s in cells[first:last] if np.isfinite(v) and s & 3 != 2]
        yield (min(good), max(good), sum(good) / len(good), len(good)) if good else (np.nan, np.nan, np.nan, 0)


@settings(max_examples=12, deadline=None)
@given(cuts=st.lists(st.integers(0, 5000), max_size=40), ones=st.booleans())
def test_any_cut_gives_the_same_readings(tmp_path_factory, cuts, ones):
    log = a_log(5000)
    cuts = sorted({*cuts, *(range(2300, 2500) if ones else ())})
    with opened(tmp_path_factory.mktemp("j") / "j.sqlite") as journal:
        fill(journal, log, cuts)

        assert same(journal.blocks("L", log.t0, log.end), log)
        assert same(joined(list(journal.replay("L"))), log)
        assert same(joined(list(journal.replay("L", log.t0 + 1234 * S, log.t0 + 4000 * S))), log.cut(1234, 4000))


@pytest.mark.parametrize("cuts", [[], list(range(1, 5000, 3)), [1199, 1200, 1201, 4799, 4800, 4801]])
def test_levels_are_those_of_the_readings(tmp_path, cuts):
    log = a_log(5000)
    with opened(tmp_path / "j.sqlite") as journal:
        fill(journal, log, cuts)
        for width_s in (10, 60, 600):
            check_levels(journal, log, width_s)


def check_levels(journal: Journal, log: Block, width_s: int) -> None:
    t0, t1 = log.t0 + 905 * S, log.end - 95 * S

    levels = journal.levels("L", ["melt_pressure:DIE", "screw_speed"], t0, t1, width_s)

    assert levels.channels == ("melt_pressure:DIE", "screw_speed")
    assert levels.t.tolist() == list(range(t0 // (width_s * S) * width_s * S, t1, width_s * S))
    for place, row in enumerate((2, 0)):
        expected = np.array(list(oracle_levels(log, row, t0, t1, width_s)))
        assert np.array_equal(levels.minimum[place], expected[:, 0], equal_nan=True)
        assert np.array_equal(levels.maximum[place], expected[:, 1], equal_nan=True)
        assert np.allclose(levels.mean[place], expected[:, 2], rtol=1e-12, atol=0, equal_nan=True)
        assert np.array_equal(levels.count[place], expected[:, 3])


@pytest.mark.parametrize("cadence", [0.5, 7.0, 60.0])
def test_other_cadences(tmp_path, cadence):
    step = round(cadence * S)
    log = a_log(3000, step)
    with opened(tmp_path / "j.sqlite", cadence) as journal:
        fill(journal, log, [1, 2, 3, 500, 1733, 1734])

        assert same(journal.blocks("L", log.t0, log.end), log)
        assert same(joined(list(journal.replay("L"))), log)
        t1 = log.t0 + 300 * step
        for width_s in (10, 60, 600):
            levels = journal.levels("L", ["torque"], log.t0, t1, width_s)
            end = int(levels.t[-1]) + width_s * S
            expected = np.array(list(oracle_levels(log, 1, log.t0, end, width_s)))
            assert np.array_equal(levels.maximum[0], expected[:, 1], equal_nan=True)
            assert np.array_equal(levels.count[0], expected[:, 3])


def test_a_passed_hour_is_one_row_and_the_open_hour_few(tmp_path):
    log = a_log(1200 + 3600 + 900)
    with opened(tmp_path / "j.sqlite") as journal:
        fill(journal, log, list(range(5, log.n, 5)))
        with journal._engine.connect() as connection:
            rows = dict(
                connection.execute(select(piece_table.c.hour_ns, func.count()).group_by(piece_table.c.hour_ns)).all()
            )

    first = T0 // HOUR * HOUR
    assert rows == {first: 1, first + HOUR: 1, first + 2 * HOUR: 15}


def test_quantities_that_come_late_and_apart_are_each_told_once(tmp_path):
    """A 10 s cell is given when it is whole, so the newest cell of an hour comes in the next hour's commit."""
    step = 10 * S
    t = T0 // step * step + step * np.arange(900)
    sme, fill_share = np.sin(np.arange(900.0)), np.cos(np.arange(900.0))
    log = a_log(9000)
    with opened(tmp_path / "j.sqlite") as journal:
        for first in range(0, 9000, 45):
            last = first + 45
            now = slice(max(0, first // 10 - 1), last // 10 - 1)
            late = slice(max(0, first // 10 - 30), max(0, last // 10 - 30))
            quantities = {"sme": (t[now], sme[now]), "fill": (t[late], fill_share[late])}
            part = log.cut(first, last)
            journal.commit("L", position="", block=part, step=Given(np.zeros(part.n, np.int8), quantities))

        got = journal.quantities("L", ["fill", "sme", "share:F1"], 0 + T0, T0 + 10_000 * S)

        assert got["sme"][0].tolist() == t[:899].tolist() and np.array_equal(got["sme"][1], sme[:899])
        assert got["fill"][0].tolist() == t[:870].tolist() and np.array_equal(got["fill"][1], fill_share[:870])
        assert len(got["share:F1"][0]) == 0
        levels = journal.levels("L", ["sme"], T0, T0 + 8990 * S, 60, kind="quantity")
        counted = [sme[:899][(t[:899] >= b) & (t[:899] < b + 60 * S)] for b in levels.t]
        assert levels.count[0].tolist() == [len(c) for c in counted]
        assert levels.maximum[0].tolist() == [c.max() for c in counted]


def test_width_for_a_chart():
    assert width_for(0, 2000 * S, 2000) == 0
    assert width_for(0, 2001 * S, 2000) == 10
    assert width_for(0, 33 * HOUR, 2000) == 60
    assert width_for(0, 30 * 24 * HOUR, 2000) == 600
