"""Where a live service reads from: anything that can be read again from a position."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Protocol

from ingest.account import ReadingAccount
from ingest.block import Block
from ingest.mapping import LogMapping
from monitor.live_clock import Clock

_SECOND_NS = 1_000_000_000


class Source(Protocol):
    """Gives the same cells again whenever it is read from the same position.

    A position is the source's own word, '' at the start. `read_from` gives Blocks in the order of time, each
    with the position after it; None in place of a Block means 'nothing new yet'. It never sleeps and never
    gives a cell that may still change. It ends when there will be nothing more.
    """

    def read_from(self, position: str) -> Iterator[tuple[Block | None, str]]: ...

    def account(self) -> dict[str, Any] | None:
        """What became of the rows read so far, if the source counts them."""
        ...


def ticks(block: Block, tick_ns: int) -> Iterator[Block]:
    """The block in parts that end on multiples of `tick_ns`."""
    first = 0
    while first < block.n:
        mark = ((block.t0 + first * block.step) // tick_ns + 1) * tick_ns
        last = min(block.n, max(first + 1, -(-(mark - block.t0) // block.step)))
        yield block if last - first == block.n else block.cut(first, last)
        first = last


def after(block: Block, position: str) -> Block | None:
    """What of the block lies at or after the end of the last cell read; None when nothing does."""
    read_to = int(position) if position else block.t0
    first = max(0, -(-(read_to - block.t0) // block.step))
    return None if first >= block.n else block if first == 0 else block.cut(first, block.n)


class LogReplay:
    """A finished log given as if it were arriving, at `speed` times its own pace (None = as fast as taken).

    The position is the end of the last cell given, UTC nanoseconds.
    """

    def __init__(
        self, paths: Sequence[Path], mapping: LogMapping, *, clock: Clock, speed: float | None = None,
        tick_s: float = 1.0, block_s: int = 3600,
    ) -> None:  # fmt: skip
        self._paths, self._mapping = list(paths), mapping
        self._clock, self._speed = clock, speed
        self._tick_ns = round(tick_s * _SECOND_NS)
        self._block_s = block_s
        self._account = ReadingAccount()

    def account(self) -> dict[str, Any]:
        """The reading account so far."""
        return self._account.as_dict()

    def read_from(self, position: str) -> Iterator[tuple[Block | None, str]]:
        """Every tick after `position`; raises BadLog when the log cannot be read."""
        from ingest.read_log import read_blocks

        self._account = ReadingAccount()
        began_ns = self._clock.now_ns()
        first_ns: int | None = None
        for whole in read_blocks(self._paths, self._mapping, self._account, block_s=self._block_s):
            block = after(whole, position)
            for part in ticks(block, self._tick_ns) if block is not None else ():
                first_ns = part.t0 if first_ns is None else first_ns
                while self._speed and self._clock.now_ns() - began_ns < (part.end - first_ns) / self._speed:
                    yield None, position
                position = str(part.end)
                yield part, position
