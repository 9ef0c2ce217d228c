"""The live service: takes what a source gives, judges it, and keeps each tick in one transaction.

Killed at any moment it loses nothing and does nothing twice: source position, readings and records are
committed together, and after a restart the monitor's state is made again from the newest snapshot and the
stored readings after it, by the same pure fold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import chain, repeat
from typing import Any, Protocol

from sqlalchemy.exc import OperationalError

from ingest.block import Block
from monitor.checkpoint import CheckpointError, dump_state, load_state
from monitor.journal import Journal, Judged
from monitor.journal.place import Resume
from monitor.line import Line
from monitor.live_clock import Clock, Stop
from monitor.live_source import Source

SNAPSHOT_EVERY_S = 300.0
POLL_S = 0.2
RETRY_S = (1.0, 2.0, 5.0, 10.0, 30.0)
_SECOND_NS = 1_000_000_000


class Judge(Protocol):
    """What the live service needs of monitor.core.Monitor."""

    @property
    def line(self) -> Line: ...
    @property
    def fingerprint(self) -> str: ...
    def start(self) -> Any: ...
    def advance(self, state: Any, block: Block) -> tuple[Any, Any]: ...


class CannotGoOn(Exception):
    """The journal was written with other settings or another version: its state does not fit this monitor."""


def run_live(
    source: Source, monitor: Judge, journal: Journal, *, clock: Clock, stop: Stop, fresh: bool = False,
    snapshot_every_s: float = SNAPSHOT_EVERY_S, poll_s: float = POLL_S,
    report: Callable[[str], None] = lambda _: None,
) -> None:  # fmt: skip
    """Watch one line, which is registered in the journal, until `stop` is set or the source ends.

    fresh: judge anew from here on, with open findings cut off, instead of going on from the stored state.
    snapshot_every_s: of the line's own time. report: told in one sentence what goes wrong and is tried again.
    Raises CannotGoOn, and what the source or the journal raise for good.
    """
    line = monitor.line.name
    state, resume = restore(monitor, journal, fresh=fresh)
    snapshot_ns = resume.snapshot_end_ns
    for block, position in _until(stop, source.read_from(resume.position), poll_s):
        state, step = monitor.advance(state, block)
        due = snapshot_ns is None or block.end - snapshot_ns >= snapshot_every_s * _SECOND_NS
        if due:
            snapshot_ns = block.end
        _commit(
            journal, line, stop, report, position=position, block=block, step=step,
            snapshot=dump_state(state) if due else None, account=source.account() if due else None,
            written_at_ns=clock.now_ns(),
        )  # fmt: skip


def restore(monitor: Judge, journal: Journal, *, fresh: bool = False) -> tuple[Any, Resume]:
    """The monitor's state where the journal ends, and the place the source is to be read from.

    Raises CannotGoOn when the journal was written with other settings, unless `fresh`.
    """
    line = monitor.line.name
    resume = journal.resume(line)
    if fresh and resume.end_ns is not None:
        journal.begin(line, source="live", fingerprint=monitor.fingerprint, state=dump_state(monitor.start()))
        return monitor.start(), journal.resume(line)
    if resume.finished:
        raise CannotGoOn(f"line '{line}' is a finished log in this journal; watch it in a folder of its own")
    if resume.fingerprint not in ("", monitor.fingerprint):
        raise CannotGoOn(
            f"line '{line}' was watched with other settings: its line file, recipes, schedule or this "
            f"program changed ({resume.fingerprint} then, {monitor.fingerprint} now); start it afresh to go on"
        )
    journal.begin(line, source="live", fingerprint=monitor.fingerprint)
    return _replayed(monitor, journal, resume), resume


def _replayed(monitor: Judge, journal: Journal, resume: Resume) -> Any:
    line = monitor.line.name
    records = []
    try:
        state = monitor.start() if resume.snapshot is None else load_state(resume.snapshot)
        for block in journal.replay(line, resume.snapshot_end_ns):
            state, step = monitor.advance(state, block)
            records += [replace(record, seq=record.seq + resume.seq_before) for record in step.records]
    except CheckpointError as error:
        raise CannotGoOn(f"line '{line}': {error}") from error
    if records != journal.records(line, after_seq=resume.snapshot_seq):
        raise CannotGoOn(
            f"line '{line}': the stored readings give other findings now than when they were stored; "
            "the program changed; start it afresh to go on"
        )
    return state


def _until(stop: Stop, readings: Iterator[tuple[Block | None, str]], poll_s: float) -> Iterator[tuple[Block, str]]:
    """What the source gives until somebody asks to stop; waits while it has nothing."""
    for block, position in readings:
        if stop.is_set():
            return
        if block is not None:
            yield block, position
        elif stop.wait(poll_s):
            return


def _commit(
    journal: Journal, line: str, stop: Stop, report: Callable[[str], None], *, position: str, block: Block,
    step: Judged, snapshot: str | None, account: dict | None, written_at_ns: int,
) -> None:  # fmt: skip
    """Commit, again and again while the database is locked, full or away."""
    tried = False
    for wait_s in chain(RETRY_S, repeat(RETRY_S[-1])):
        try:
            # The connection may have broken after the database had kept the tick.
            if not (tried and journal.resume(line).position == position):
                journal.commit(
                    line, position=position, block=block, step=step, snapshot=snapshot, account=account,
                    written_at_ns=written_at_ns,
                )  # fmt: skip
            return
        except OperationalError as error:
            report(f"the journal cannot be written ({error.orig}); trying again in {wait_s:g} s")
        tried = True
        if stop.wait(wait_s):
            return
