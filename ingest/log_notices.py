"""What a log shows of itself while it is read: gathered from rows and cells, said in the account at its end."""

from __future__ import annotations

from collections.abc import Sequence

from ingest.account import ReadingAccount
from ingest.block import Block
from ingest.cell_samples import CellSamples
from ingest.channel_character import Characters
from ingest.channel_values import ChannelValues
from ingest.clock_agreement import ClockAgreement
from ingest.readings import Readings
from ingest.repeated_extremes import notice_repeated_extremes
from ingest.set_point_copies import notice_set_point_copies
from ingest.unit_questions import ask_about_units


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
        self._samples.add(block)
        self._clocks.add(block)

    def close(self, account: ReadingAccount) -> None:
        """The log is at its end."""
        self._characters.close(account)
        notice_repeated_extremes(self._samples, self._channels, account)
        notice_set_point_copies(self._samples, [channel.source for channel in self._channels], account)
        ask_about_units(self._samples, self._channels, account)
        self._clocks.close(account)
