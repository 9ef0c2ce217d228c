"""Keeps readings and quantities: small plain pieces while an hour fills, one packed piece once it is whole.

A live tick adds one small row. Every 60 cells the rows of these cells become one; when the hour has passed,
all of its rows become one packed row and its chart levels are made. All of it happens inside the tick's own
transaction, so a killed process leaves either the state before or the state after.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select

from ingest.block import Block
from monitor.journal.cells import HOUR_NS, by_hour, hour_of, join, trimmed
from monitor.journal.codec import packed, plain, unpack
from monitor.journal.levels import Levels, is_stored, levels_of, merge, store_hour, stored_levels
from monitor.journal.schema import piece_table

READING, QUANTITY = "reading", "quantity"
_GATHERED_CELLS = 60
_p = piece_table.c


def append(connection: Connection, line: str, kind: str, block: Block, now_ns: int) -> None:
    """Store the block; hours that ended by `now_ns` are settled."""
    open_hour = hour_of(now_ns)
    passed: dict[int, list[Block]] = {}
    for part in by_hour(block):
        hour = hour_of(part.t0)
        if hour < open_hour:
            passed.setdefault(hour, []).append(part)
        else:
            _insert(connection, line, kind, part, settled=False)
    for hour in _unsettled_hours(connection, line, kind, open_hour):
        passed.setdefault(hour, [])
    for hour in sorted(passed):
        _settle(connection, line, kind, hour, passed[hour])
    _gather(connection, line, kind, block)


def _unsettled_hours(connection: Connection, line: str, kind: str, open_hour: int) -> list[int]:
    query = (
        select(_p.hour_ns)
        .distinct()
        .where(_p.line == line, _p.kind == kind, _p.settled.is_(False), _p.hour_ns < open_hour)
    )
    return list(connection.execute(query).scalars())


def _settle(connection: Connection, line: str, kind: str, hour: int, added: list[Block]) -> None:
    where = (_p.line == line, _p.kind == kind, _p.hour_ns == hour)
    pieces = [piece for _, piece in _pieces(connection, where)] + added
    whole = trimmed(_joined(pieces))
    if len(pieces) > len(added):
        connection.execute(delete(piece_table).where(*where))
    if whole is not None:
        _insert(connection, line, kind, whole, settled=True)
        store_hour(connection, line, kind, whole)


def _gather(connection: Connection, line: str, kind: str, block: Block) -> None:
    """Once 60 cells are full, make one row of their rows."""
    width = _GATHERED_CELLS * block.step
    end = block.end // width * width
    if end <= block.t0 or block.n > _GATHERED_CELLS:
        return
    where = (
        _p.line == line,
        _p.kind == kind,
        _p.hour_ns == hour_of(end - 1),
        _p.settled.is_(False),
        _p.t0_ns >= end - width,
        _p.t0_ns < end,
    )
    numbered = _pieces(connection, where)
    whole = trimmed(_joined([piece for _, piece in numbered])) if len(numbered) > 1 else None
    if whole is not None:
        connection.execute(delete(piece_table).where(_p.id.in_([number for number, _ in numbered])))
        _insert(connection, line, kind, whole, settled=False)


def _joined(pieces: Sequence[Block]) -> Block:
    if len(pieces) == 1:
        return pieces[0]
    t0, end = min(piece.t0 for piece in pieces), max(piece.end for piece in pieces)
    channels = dict.fromkeys(channel for piece in pieces for channel in piece.channels)
    step = pieces[0].step
    return join(pieces, t0, step, (end - t0) // step, tuple(channels))


def _insert(connection: Connection, line: str, kind: str, block: Block, *, settled: bool) -> None:
    body = packed(block.values, block.status) if settled else plain(block.values, block.status)
    connection.execute(
        insert(piece_table).values(
            line=line,
            kind=kind,
            hour_ns=hour_of(block.t0),
            settled=settled,
            t0_ns=block.t0,
            step_ns=block.step,
            cells=block.n,
            channels=json.dumps(block.channels),
            body=body,
        )
    )


def _pieces(
    connection: Connection, where: Iterable[Any], wanted: frozenset[str] | None = None
) -> list[tuple[int, Block]]:
    query = select(_p.id, _p.t0_ns, _p.step_ns, _p.channels, _p.body).where(*where).order_by(_p.hour_ns, _p.id)
    found = []
    for number, t0, step, text, body in connection.execute(query):
        channels: list[str] = json.loads(text)
        rows = [row for row, channel in enumerate(channels) if wanted is None or channel in wanted]
        values, status = unpack(body, rows)
        found.append((number, Block(t0, step, tuple(channels[row] for row in rows), values, status)))
    return found


def read_pieces(
    connection: Connection,
    line: str,
    kind: str,
    t0: int,
    t1: int,
    channels: Sequence[str] | None = None,
    *,
    unsettled_only: bool = False,
) -> list[Block]:
    """Stored pieces of the hours that touch [t0, t1), in the order in which they overlay one another."""
    where = [_p.line == line, _p.kind == kind, _p.hour_ns > t0 - HOUR_NS, _p.hour_ns < t1]
    if unsettled_only:
        where.append(_p.settled.is_(False))
    wanted = None if channels is None else frozenset(channels)
    return [piece for _, piece in _pieces(connection, where, wanted) if piece.t0 < t1 and piece.end > t0]


def stored_channels(connection: Connection, line: str, kind: str) -> tuple[str, ...]:
    """Every channel key or quantity name the line has readings of, in the order of first storing."""
    query = select(_p.channels).where(_p.line == line, _p.kind == kind).group_by(_p.channels).order_by(func.min(_p.id))
    texts = connection.execute(query).scalars()
    return tuple(dict.fromkeys(channel for text in texts for channel in json.loads(text)))


def read_levels(
    connection: Connection,
    line: str,
    kind: str,
    channels: Sequence[str],
    t0: int,
    t1: int,
    width_s: int,
    step: int,
) -> Levels:
    """Buckets that cover [t0, t1): stored ones for settled hours, made on the spot for the rest."""
    levels = stored_levels(connection, line, kind, channels, t0, t1, width_s)
    first, end = (int(levels.t[0]), int(levels.t[-1]) + width_s * 1_000_000_000) if levels.t.size else (t0, t0)
    pieces = read_pieces(connection, line, kind, first, end, channels, unsettled_only=is_stored(width_s, step))
    by_hours: dict[int, list[Block]] = {}
    for piece in pieces:
        by_hours.setdefault(hour_of(piece.t0), []).append(piece)
    for hour in sorted(by_hours):
        merge(levels, levels_of(_joined(by_hours[hour]), width_s))
    return levels
