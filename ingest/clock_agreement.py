"""Whether the controllers behind one log have the same time: estimated from events that both must have seen.

A set-point and what follows it, a drive that stops and the feeders that stop with it: such pairs of channels change
together, with a lag that physics bounds. Where they come from two controllers and are steadily further apart than
that, or the effect stands before its cause, the clocks disagree. It is said with an interval, and nothing is shifted.
Pairs that physics lets be far apart (rate and torque: the material travels) are not used. What a lag can be is
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ingest.account import GUESS, LIKELY, ReadingAccount
from ingest.block import FRESH, Block
from ingest.cell_edges import CellEdges, true_by_row
from ingest.change_moments import may_hold_moments, moments
from ingest.mapping import ChannelSource
from ingest.roles import split_key

FARTHEST_S = 90.0
SPREAD_S = 3.0
FEWEST_EVENTS = 3
SHARE = 0.6
"""Share of the events of the rarer channel that must lie together."""
MOST_EVENTS = 2000
_TO_BE_SAID_S = 1.0

# (cause, effect, longest lag in s, either may come first by that much). Else the effect never comes first.
_LINKS: tuple[tuple[str, str, float, bool], ...] = (
    ("screw_speed_setpoint", "screw_speed", 2.0, False),
    ("screw_speed", "torque", 2.0, True),
    ("screw_speed", "motor_current", 2.0, True),
    ("screw_speed", "drive_power", 2.0, True),
    ("feeder_setpoint", "feeder_rate", 4.0, False),
    ("feeder_setpoint", "feeder_drive", 3.0, False),
    ("feeder_running", "feeder_rate", 4.0, True),
    ("line_rate_setpoint", "feeder_setpoint", 3.0, False),
    ("line_rate_setpoint", "feeder_rate", 5.0, False),
    ("zone_setpoint", "zone_output", 4.0, False),
    ("screw_speed_setpoint", "feeder_setpoint", 2.0, True),
    ("screw_speed", "feeder_rate", 3.0, True),
    ("screw_speed", "feeder_running", 3.0, True),
    ("melt_pump_speed", "melt_pump_load", 2.0, True),
)
_LINK_OF = {(one[0], one[1]): one for one in _LINKS}
_SEQUENCE = ("feeder_setpoint", "feeder_rate", "feeder_running")
"""After a change of the screw: here it may also be a control that always waits so long."""
_FAMILIES = {
    "heating": ("zone_temperature", "zone_setpoint", "zone_output", "zone_cooling", "zone_auto", "zone_current"),
    "the drive": ("screw_speed", "screw_speed_setpoint", "torque", "motor_current", "drive_power"),
    "feeding": ("feeder_", "line_rate", "line_rate_setpoint", "stuffer_load", "hopper_level"),
    "the melt pump": ("melt_pump_speed", "melt_pump_load"),
}


@dataclass(frozen=True)
class _Apart:
    """By how much the clock of one group is behind that of another, seconds, from so many events."""

    low_s: float
    high_s: float
    events: int
    causal: bool


class ClockAgreement:
    """Takes Blocks in. Memory: MOST_EVENTS moments for each channel.

    files: of every channel the file it is in, where files run side by side.
    """

    def __init__(self, sources: Sequence[ChannelSource], files: Sequence[str] = ()) -> None:
        keys = [split_key(source.key) for source in sources]
        self._groups = list(files) if len(set(files)) > 1 else _groups(sources)
        # Only channels that have a partner in another group are looked at.
        self._links: list[tuple[int, int, float, bool]] = [
            (a, b, link[2], link[3])
            for a, (role, subject) in enumerate(keys)
            for b, (other, of) in enumerate(keys)
            if (link := _LINK_OF.get((role, other))) is not None
            and self._groups[a] != self._groups[b]
            and (role.split("_")[0] != other.split("_")[0] or subject == of)
        ]
        self._sources = sources
        self._rows = np.array(sorted({i for link in self._links for i in link[:2]}), np.int64)
        sharp = ("_setpoint", "_running", "_auto")
        self._sharp = np.array([keys[i][0].endswith(sharp) for i in self._rows], bool)
        self._at: list[list[float]] = [[] for _ in self._rows]
        self._step_s = 1.0
        self._fresh = np.zeros(len(self._rows), np.int64)
        self._cells = 0

    def add(self, block: Block, edges: CellEdges) -> None:
        """The next Block of the log with its edges. Changes just after its start are not seen."""
        if not len(self._rows):
            return
        self._step_s = block.step / 1e9
        self._cells += block.n
        self._fresh += true_by_row(block.status[self._rows] & FRESH != 0)
        mine = CellEdges(edges.least[self._rows], edges.most[self._rows])
        for i in np.flatnonzero(may_hold_moments(block.values[self._rows], self._sharp, mine)).tolist():
            if len(self._at[i]) < MOST_EVENTS:
                found = moments(block.values[self._rows[i]], bool(self._sharp[i]))
                self._at[i].extend((block.t0 / 1e9 + found * self._step_s).tolist())

    def close(self, account: ReadingAccount) -> None:
        """The log is at its end: what can be said goes to the account."""
        apart: dict[tuple[str, str], list[_Apart]] = {}
        place = {int(row): i for i, row in enumerate(self._rows)}
        for a, b, lag_s, either_first in self._links:
            role, other = (split_key(self._sources[i].key)[0] for i in (a, b))
            causal = not (role.startswith("screw") and other in _SEQUENCE)
            found = self._apart(place[a], place[b], lag_s, either_first, causal)
            if found is not None:
                apart.setdefault((self._groups[a], self._groups[b]), []).append(found)
        for (one, two), pairs in apart.items():
            self._say(account, one, two, pairs)

    def _apart(self, cause: int, effect: int, lag_s: float, either_first: bool, causal: bool) -> _Apart | None:
        """From the moments of two channels; None where they tell nothing."""
        first, second = np.array(self._at[cause]), np.array(self._at[effect])
        if min(len(first), len(second)) < FEWEST_EVENTS:
            return None
        differences = (second[None, :] - first[:, None]).ravel()
        differences = np.sort(differences[np.abs(differences) <= FARTHEST_S])
        if len(differences) < FEWEST_EVENTS:
            return None
        # The most differences within SPREAD_S.
        reach = np.searchsorted(differences, differences + SPREAD_S, side="right") - np.arange(len(differences))
        best = int(np.argmax(reach))
        together = differences[best : best + reach[best]]
        if len(together) < max(FEWEST_EVENTS, SHARE * min(len(first), len(second))):
            return None
        # Elsewhere there must be nothing like it, or it may be chance or a rhythm.
        rest = reach[(differences < together[0] - SPREAD_S) | (differences > together[-1])]
        if len(rest) and rest.max() > 0.5 * len(together):
            return None
        # A slow channel is late by up to the time between its readings.
        slow_s = self._between_s(cause), self._between_s(effect)
        low = float(together[0]) - lag_s - slow_s[1]
        high = float(together[-1]) + (lag_s if either_first else 0.0) + slow_s[0]
        return _Apart(low - self._step_s, high + self._step_s, len(together), causal)

    def _between_s(self, channel: int) -> float:
        fresh = int(self._fresh[channel])
        return self._step_s * max(0.0, self._cells / fresh - 1) if fresh else 0.0

    def _say(self, account: ReadingAccount, one: str, two: str, pairs: list[_Apart]) -> None:
        """Only what all pairs agree on, and only where it cannot be nothing."""
        pairs = [pair for pair in pairs if pair.causal] or pairs
        low, high = max(pair.low_s for pair in pairs), min(pair.high_s for pair in pairs)
        if low > high or (low < _TO_BE_SAID_S and high > -_TO_BE_SAID_S):
            return
        events = max(pair.events for pair in pairs)
        behind, ahead = (two, one) if low > 0 else (one, two)
        least, most = sorted((abs(low), abs(high)))
        account.notice(
            f"clocks disagree: changes of {behind} stand {least:.0f} to {most:.0f} s behind those of {ahead} that "
            f"they belong to, in {events} events{'' if pairs[0].causal else ', unless a control always waits so long'}"
            "; the stamps are left as they are, and what comes first between the two is not to be trusted",
            LIKELY if pairs[0].causal else GUESS,
        )


def _groups(sources: Sequence[ChannelSource]) -> list[str]:
    """Which controller a channel most likely comes from: what the tags start with, else what it does."""
    starts = [_start(source.tag) for source in sources]
    sizes = {start: starts.count(start) for start in starts if start}
    if "" not in starts and 2 <= len(sizes) <= 12 and min(sizes.values()) >= 2:
        return [f"'{start}...'" for start in starts]
    return [_family(split_key(source.key)[0]) for source in sources]


def _start(tag: str) -> str:
    """What stands before the last '.', '/', '\\' or ':' of a tag."""
    cut = max(tag.rfind(mark) for mark in "./\\:")
    return tag[:cut] if cut > 0 else ""


def _family(role: str) -> str:
    for name, roles in _FAMILIES.items():
        if any(role == one or (one.endswith("_") and role.startswith(one)) for one in roles):
            return name
    return "the rest"
