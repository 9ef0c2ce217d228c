"""What a log shows of itself while it is read: gathered from rows and cells, said in the account at its end."""

from __future__ import annotations

from collections.abc import Sequence

from ingest.account import ReadingAccount
from ingest.block import Block
from ingest.cell_edges import cell_edges
from ingest.cell_samples import CellSamples
from ingest.channel_character import Characters
from ingest.channel_values import ChannelValues
from ingest.clock_agreement import ClockAgreement
from ingest.readings import Readings
from ingest.repeated_extremes import notice_repeated_extremes
from ingest.set_point_copies import notice_set_point_copies
from ingest.unit_questions import ask_about_units

HOUR_NS = 3600 * 10**9


class LogNotices:
    """Looks on; changes nothing. Memory does not grow with the log.

    files: of every channel the file it is in, where files run side by side.
    """

    def __init__(self, channels: Sequence[ChannelValues], long: bool, files: Sequence[str] = ()) -> None:
        self._channels = channels
        self._characters = Characters(channels, long)
        self._samples = CellSamples(len(channels))
        self._clocks = ClockAgreement([channel.source for channel in channels], files)

    def see_rows(self, rows: Readings) -> None:
        """Readings in order of time, in whole cells."""
        self._characters.add(rows)

    def see_block(self, block: Block) -> None:
        """The cells they became."""
        first = 0
        while first < block.n:  # by the hour, whatever the size of Blocks
            hour_end = ((block.t0 + first * block.step) // HOUR_NS + 1) * HOUR_NS
            last = min(block.n, -((block.t0 - hour_end) // block.step))
            hour = block if last - first == block.n else _view(block, first, last)
            edges = cell_edges(hour.values)
            self._samples.add(hour, edges)
            self._clocks.add(hour, edges)
            first = last

    def close(self, account: ReadingAccount) -> None:
        """The log is at its end."""
        self._characters.close(account)
        notice_repeated_extremes(self._samples, self._channels, account)
        notice_set_point_copies(self._samples, [channel.source for channel in self._channels], account)
        ask_about_units(self._samples, self._channels, account)
        self._clocks.close(account)


def _view(block: Block, first: int, last: int) -> Block:
    """Some cells of a Block, not copied."""
    values, status = block.values[:, first:last], block.status[:, first:last]
    return Block(block.t0 + first * block.step, block.step, block.channels, values, status)
