"""The checks every condition must pass, as functions that raise AssertionError with what differs.

They run over the whole monitor with one condition or with all, on the scripted worlds. That they bite is shown by
`test_mutants_are_caught`, one broken condition for each failure.
"""

from __future__ import annotations

import dataclasses
import functools
import inspect
import itertools
import random
import re
from collections.abc import Sequence

import numpy as np

from ingest.block import NONE, Block, Note
from monitor.checkpoint import dump_state, load_state
from monitor.contract import Condition, SettingOutOfBounds, with_settings
from monitor.core import Monitor
from monitor.records import Record, findings
from tests.monitor.scripted_world import NS, World

Log = list[str]


def monitor_of(world: World, conditions: Sequence[Condition]) -> Monitor:
    """The whole path with only these conditions."""
    return Monitor(world.line, world.recipes, conditions=conditions, reference=getattr(world, "reference", None))


def judge(monitor: Monitor, pieces: Sequence[Block]) -> tuple[Log, str]:
    """Record log and final state of a log judged piece by piece."""
    state, log = monitor.start(), []
    for piece in pieces:
        state, step = monitor.advance(state, piece)
        log += [record.as_json() for record in step.records]
    return log + [record.as_json() for record in monitor.finish(state)], dump_state(state)


def pieces(block: Block, cuts: Sequence[int]) -> list[Block]:
    """The block cut before the given cells; equal neighbours give an empty piece."""
    places = [0, *sorted(cuts), block.n]
    return [block.cut(a, b) for a, b in itertools.pairwise(places)]


def same(a: tuple[Log, str], b: tuple[Log, str], what: str) -> None:
    """Equal records and equal state, or an AssertionError that shows the first difference."""
    for first, second in zip(a[0], b[0], strict=False):
        assert first == second, f"{what}: records differ\n{first}\n{second}"
    assert len(a[0]) == len(b[0]), f"{what}: {len(a[0])} records against {len(b[0])}"
    assert a[1] == b[1], f"{what}: final states differ"


@dataclasses.dataclass(frozen=True)
class Whole:
    """A log judged in one piece. records: of the step; ended: of its end; log: both as JSON; state: as text."""

    records: list[Record]
    ended: list[Record]
    log: Log
    state: str


@functools.cache
def whole(world: World, conditions: tuple[Condition, ...]) -> Whole:
    """The log in one piece: what every other way is held against. Once for each world object and conditions."""
    monitor = monitor_of(world, conditions)
    state, step = monitor.advance(monitor.start(), world.block)
    ended = monitor.finish(state)
    return Whole(step.records, ended, [r.as_json() for r in (*step.records, *ended)], dump_state(state))


def even_cuts(block: Block, width: int, seed: int = 0) -> dict[str, Sequence[int]]:
    """Cuts that ask nothing of what is found: hours, 997 cells, 10 s edges and beside every 20 min, random with empty
    pieces.

    width: cadence cells in a 10 s cell.
    """
    rng = random.Random(seed)
    return {
        "hours": range(3600, block.n, 3600),
        "997 cells": range(997, block.n, 997),
        "at 10 s edges and one cell beside": sorted(
            {place * width * 120 + beside for place in range(1, block.n // (width * 120)) for beside in (-1, 0, 1)}
        ),
        "random, and empty pieces": sorted(
            [1000, 1000, 1000, 5003, 5003, *(rng.randrange(block.n) for _ in range(30))]
        ),
    }


def check_cuts(world: World, conditions: Sequence[Condition], seed: int = 0, one_in: int = 1) -> None:
    """Any cut gives the same records and the same state as one piece.

    one_in: cut round one in so many decisions too, which takes most of the time; 0 = round none.
    """
    monitor = monitor_of(world, conditions)
    one = whole(world, tuple(conditions))
    for what, cuts in even_cuts(world.block, monitor.width, seed).items():
        same((one.log, one.state), judge(monitor, pieces(world.block, list(cuts))), what)
    if one_in:
        check_cuts_round_decisions(world, conditions, one_in, seed)


def check_cuts_round_decisions(world: World, conditions: Sequence[Condition], one_in: int = 1, seed: int = 0) -> None:
    """Cuts at and beside every beginning, decision and end give the same records and the same state as one piece.

    one_in: only of one record in so many, drawn by `seed`.
    """
    one = whole(world, tuple(conditions))
    log = one.log if one_in == 1 else random.Random(seed).sample(one.log, -(-len(one.log) // one_in))
    cuts = around_decisions(log, world.block)
    assert cuts or not one.log
    same((one.log, one.state), judge(monitor_of(world, conditions), pieces(world.block, cuts)), "round every decision")


def around_decisions(log: Log, block: Block) -> list[int]:
    """Cells at and beside every beginning, decision and end."""
    moments = {
        moment
        for record in map(Record.from_json, log)
        for moment in (record.since, record.decided_at, record.until or record.since)
    }
    cells = {(moment - block.t0) // block.step + beside for moment in moments for beside in (-1, 0, 1)}
    return sorted(cell for cell in cells if 0 < cell < block.n)


def check_narrow_cuts(world: World, conditions: Sequence[Condition], start: int, cells: int, width: int) -> None:
    """As `check_cuts`, cell by cell or nearly, on a stretch."""
    one = whole(world, tuple(conditions))
    narrow = [start + i for i in range(0, cells, width)]
    cut = judge(monitor_of(world, conditions), pieces(world.block, narrow))
    same((one.log, one.state), cut, f"pieces of {width} cells from {start}")


def check_checkpoints(world: World, conditions: Sequence[Condition], seed: int = 0) -> None:
    """A state written as JSON and read back has the same future: one run goes on from what was read at each place."""
    monitor, block, rng = monitor_of(world, conditions), world.block, random.Random(seed)
    one = whole(world, tuple(conditions))
    state, log = monitor.start(), []
    for piece in pieces(block, sorted(rng.randrange(1, block.n) for _ in range(6))):
        text = dump_state(state)
        state = load_state(text)
        assert dump_state(state) == text, f"checkpoint at {piece.t0} does not read back equal"
        state, step = monitor.advance(state, piece)
        log += [record.as_json() for record in step.records]
    log += [record.as_json() for record in monitor.finish(load_state(dump_state(state)))]
    same((one.log, one.state), (log, dump_state(state)), "on from checkpoints")


def check_purity(world: World, conditions: Sequence[Condition]) -> None:
    """Neither block nor state is changed, and two interleaved runs of one object do not touch each other."""
    monitor, block = monitor_of(world, conditions), world.block
    block.values.setflags(write=False)
    block.status.setflags(write=False)
    half = block.n // 2
    first = whole(world, tuple(conditions))  # of another object
    one, _ = monitor.advance(monitor.start(), block.cut(0, half))
    before = dump_state(one)
    futures = [monitor.advance(one, block.cut(half, block.n))[1].records for _ in range(2)]
    assert futures[0] == futures[1], "the same state and block gave two different answers"
    other = judge(monitor, pieces(block, [half // 2, half]))
    again = judge(monitor, [block])
    assert dump_state(one) == before, "advance changed a state it was given"
    same((first.log, first.state), other, "interleaved run")
    same((first.log, first.state), again, "run of the same object after others")


def check_no_reading_ahead(world: World, conditions: Sequence[Condition]) -> None:
    """Records of a prefix are a prefix of the records, in order of decision, none decided after its prefix ends.

    One run stops at the end of each prefix; that a prefix in pieces says what it says in one is for `check_cuts`.
    """
    monitor, block, all_of_it = monitor_of(world, conditions), world.block, whole(world, tuple(conditions)).records
    decided = [(r.decided_at, r.seq) for r in all_of_it]
    assert decided == sorted(decided), "records are not in the order in which they were decided"
    for record in all_of_it:
        assert record.since <= record.decided_at, f"{record.condition} decided before it began"
    near = around_decisions([record.as_json() for record in all_of_it], block)
    state, said = monitor.start(), []
    for piece in pieces(block, [block.n // 3, *near[:: max(1, len(near) // 12)]]):
        state, step = monitor.advance(state, piece)
        said += step.records
        count = len(said)
        assert said == all_of_it[:count], f"the cells before {piece.end} say something else when more follows"
        assert all(r.decided_at <= piece.end for r in said), "decided on cells not yet seen"
        assert all(r.decided_at > piece.end for r in all_of_it[count:]), "something could have been said earlier"
    assert said == all_of_it


def check_time_shift(world: World, conditions: Sequence[Condition]) -> None:
    """The same log a whole number of minutes later gives the same records that much later."""
    monitor, block = monitor_of(world, conditions), world.block
    shift = 97 * 86400 * NS + 3600 * NS
    moved = Block(
        block.t0 + shift,
        block.step,
        block.channels,
        block.values,
        block.status,
        tuple(Note(n.at_ns + shift, n.kind, n.text) for n in block.notes),
    )
    _, b = monitor.advance(monitor.start(), moved)
    back = [
        dataclasses.replace(
            r,
            decided_at=r.decided_at - shift,
            since=r.since - shift,
            until=None if r.until is None else r.until - shift,
            finding="",
            part_of="",
        )
        for r in b.records
    ]
    assert back == [dataclasses.replace(r, finding="", part_of="") for r in whole(world, tuple(conditions)).records]


def check_episodes_alternate(records: Sequence[Record]) -> None:
    """Every finding opens once, is revised only while open, and ends at most once, after it began."""
    standing: dict[str, Record] = {}
    ended: set[str] = set()
    for record in records:
        assert record.finding not in ended, f"{record.condition} speaks after its end"
        assert (record.kind == "opened") == (record.finding not in standing), f"{record.condition}: {record.kind}"
        standing[record.finding] = record
        if record.kind in ("closed", "cut off"):
            ended.add(record.finding)
            assert record.until is None or record.until >= record.since
    assert [r.seq for r in records] == list(range(1, len(records) + 1))


def check_missing_data(world: World, conditions: Sequence[Condition]) -> None:
    """All readings missing, everywhere or in runs across cuts, raises nothing new, no exception, and no opening."""
    monitor, block = monitor_of(world, conditions), world.block
    nothing = Block(
        block.t0,
        block.step,
        block.channels,
        np.full(block.values.shape, np.nan),
        np.full(block.status.shape, NONE, np.uint8),
    )
    log, _ = judge(monitor, [nothing])
    assert log == [], f"findings from no readings at all: {log[:1]}"
    values, status = block.values.copy(), block.status.copy()
    rng = np.random.default_rng(3)
    for start in rng.integers(0, block.n - 900, 12).tolist():
        length = int(rng.integers(1, 800))
        rows = rng.random(len(block.channels)) < rng.choice([0.1, 1.0])
        values[rows, start : start + length] = np.nan
        status[rows, start : start + length] = NONE
    holed = Block(block.t0, block.step, block.channels, values, status, block.notes)
    same(
        judge(monitor, [holed]), judge(monitor, pieces(holed, list(range(613, block.n, 613)))), "runs without readings"
    )


def check_settings(condition: Condition) -> None:
    """Frozen, numeric, bounded; each bound itself allowed, just outside refused with name and value."""
    assert dataclasses.is_dataclass(condition) and condition.__dataclass_params__.frozen  # type: ignore[attr-defined]
    for item in dataclasses.fields(condition):  # type: ignore[arg-type]
        low, high = item.metadata["low"], item.metadata["high"]
        assert item.metadata["unit"], f"{condition.name}.{item.name} has no unit"
        assert low <= getattr(condition, item.name) <= high
        for value in (low, high):
            with_settings(condition, {item.name: value})
        for value in (low - 1e-6 - abs(low) * 1e-6, high + 1e-6 + abs(high) * 1e-6, True, "many"):
            try:
                with_settings(condition, {item.name: value})
            except SettingOutOfBounds as error:
                assert item.name in str(error) and repr(value) in str(error)
            else:
                raise AssertionError(f"{condition.name}.{item.name} = {value!r} was accepted")


DOCUMENTED = ("An operator would say", "Look-alikes", "issing", "Memory")


def check_documented(condition: Condition) -> None:
    """The docstring says what an operator would say, look-alikes, missing data and memory; variants refer to it."""
    text = inspect.getdoc(type(condition)) or ""
    said = text + "".join(inspect.getdoc(base) or "" for base in type(condition).__mro__[1:2])
    for part in DOCUMENTED:
        assert part in said, f"{condition.name}: its docstring does not say '{part}'"
    assert condition.title and condition.name.isidentifier()


def spoken(record: Record) -> list[str]:
    """Everything a record says."""
    causes = [text for cause in record.causes for text in (cause.text, *cause.speaks_for, *cause.speaks_against)]
    evidence = [one.sentence() for one in record.evidence]
    return [record.summary, *evidence, *causes, *record.checks, record.caution]


def check_words(records: Sequence[Record]) -> None:
    """Every finding has evidence with a unit or a count, causes, checks; priority 1 carries a caution."""
    for finding in findings(records):
        last = finding.last
        assert last.summary and last.evidence and last.causes and last.checks, last
        assert last.priority in (1, 2, 3, 4)
        assert last.priority > 1 or last.caution, f"{last.condition}: priority 1 without a caution"
    check_no_nan(records)


def check_no_nan(records: Sequence[Record]) -> None:
    """Whatever is not known when something is said, no text says so by a number that is none."""
    for record in records:
        for text in spoken(record):
            assert not re.search(r"\bnan\b", text, re.IGNORECASE), f"{record.condition}: {text}"


def check_bounded_state(world: World, conditions: Sequence[Condition], limit: int = 400_000) -> None:
    """A state does not grow with the length of the log."""
    monitor, block = monitor_of(world, conditions), world.block
    state, _ = monitor.advance(monitor.start(), block.cut(0, block.n // 2))
    half, full = len(dump_state(state)), len(whole(world, tuple(conditions)).state)
    assert full < max(1.5 * half, half + 20_000) and half < limit
