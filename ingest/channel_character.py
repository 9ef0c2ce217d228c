"""How each channel of a log is written: step of its numbers, deadband, cadence, spikes. Said, never acted on.

Only windows of WINDOW_ROWS readings are looked at, every other one at first, one in SPARSEST later (and rarer still in
a very long log), always at the same readings however the file is cut up. Memory: a window, and some numbers a channel.
A monitor that takes a held or coarse reading for a frozen sensor nags; this is what tells the two apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field

import numpy as np

from ingest.account import LIKELY, ReadingAccount
from ingest.channel_values import ChannelValues
from ingest.readings import LongReadings, Readings
from ingest.roles import split_key

WINDOW_ROWS, DENSEST, SPARSEST = 1024, 2, 16
WINDOWS_BEFORE_RARER, WINDOWS_BEFORE_STILL_RARER = 8, 128
FEWEST = 50
"""Readings and changes below which nothing is said of a channel."""

_STEPS = np.array([factor * 10.0**power for power in range(3, -5, -1) for factor in (5.0, 2.0, 1.0)])
_FITS = 1e-3
_NAMED = 4
_PULSED = ("zone_current", "zone_output", "zone_cooling")
"""Switched on and off by the controller: a single reading of it is no spike."""


@dataclass
class Character:
    """How one tag is written, in the unit of the log. 0 where it cannot be told.

    readings: how many were looked at. every_s: usual time between readings. changes: readings unlike the one before.
    resolution: the largest usual step (1, 2 or 5 times a power of ten) of which all readings are multiples.
    least_change: the smallest change from one reading to the next.
    uneven: share of the times between readings that are more than a fifth off the usual one.
    repeats: usual number of equal readings in a row, where the run lengths are alike; 0 else.
    spikes: single readings far off both neighbours, which agree.
    """

    readings: int = 0
    every_s: float = 0.0
    changes: int = 0
    resolution: float = 0.0
    least_change: float = 0.0
    uneven: float = 0.0
    repeats: float = 0.0
    spikes: int = 0


@dataclass
class _Seen:
    """What the windows gave of one channel."""

    character: Character = field(default_factory=Character)
    fits: np.ndarray = field(default_factory=lambda: np.ones(len(_STEPS), bool))
    values: set[float] = field(default_factory=set)
    every_s: list[float] = field(default_factory=list)
    uneven: list[float] = field(default_factory=list)
    repeats: list[float] = field(default_factory=list)


class Characters:
    """Looks at the readings of a log as they pass, oldest first."""

    def __init__(self, channels: Sequence[ChannelValues], long: bool) -> None:
        self._channels = channels
        self._seen = [_Seen() for _ in channels]
        self._window = WINDOW_ROWS * (max(1, min(len(channels), 64)) if long else 1)
        self._period = DENSEST * self._window
        self._passed = 0
        self._start = 0
        self._windows = 0
        self._parts: list[Readings] = []

    def add(self, rows: Readings) -> None:
        """Takes readings in; the log may come in pieces of any size."""
        first, count = self._passed, len(rows)
        self._passed += count
        while self._start < self._passed:
            low, high = max(self._start, first) - first, min(self._start + self._window, self._passed) - first
            self._parts.append(rows.take(slice(low, high)))
            if first + high < self._start + self._window:
                return
            self._look()

    def close(self, account: ReadingAccount) -> None:
        """The log is at its end: what was seen goes to the account."""
        if self._parts:
            self._look()
        for channel, seen in zip(self._channels, self._seen, strict=True):
            if seen.character.readings >= FEWEST:
                account.characters[channel.source.tag] = asdict(_finished(seen))
        _say(account, self._channels)

    def _look(self) -> None:
        parts, self._parts = self._parts, []
        self._windows += 1
        sparse = self._period >= SPARSEST * self._window
        if self._windows % (WINDOWS_BEFORE_STILL_RARER if sparse else WINDOWS_BEFORE_RARER) == 0:
            self._period *= 2
        self._start += self._period
        at_ns = np.concatenate([part.places.at_ns for part in parts])
        if isinstance(parts[0], LongReadings):
            index = np.concatenate([part.channels for part in parts if isinstance(part, LongReadings)])
            values = np.concatenate([part.values for part in parts])
            order = np.argsort(index, kind="stable")
            bounds = np.searchsorted(index[order], np.arange(len(self._channels) + 1))
            for i in range(len(self._channels)):
                mine = order[bounds[i] : bounds[i + 1]]
                self._look_at(i, at_ns[mine], values[mine])
            return
        table = np.concatenate([part.values for part in parts], axis=1)
        pace = _pace(at_ns) if len(at_ns) > 2 else None
        whole = np.asarray(~np.isnan(table).any(axis=1))
        for i, values in enumerate(table):
            if whole[i] and pace is not None:
                self._learn(i, pace, values)
            else:
                self._look_at(i, at_ns, values)

    def _look_at(self, channel: int, at_ns: np.ndarray, values: np.ndarray) -> None:
        there = ~np.isnan(values)
        if not there.all():
            at_ns, values = at_ns[there], values[there]
        if len(values) > 2:
            self._learn(channel, _pace(at_ns), values)

    def _learn(self, channel: int, pace: tuple[float, float], values: np.ndarray) -> None:
        """From three readings or more, all there, that came at that pace."""
        conversion = self._channels[channel].conversion
        written = (
            values
            if conversion.scale == 1 and not conversion.offset
            else (values - conversion.offset) / conversion.scale
        )
        seen = self._seen[channel]
        found = seen.character
        found.readings += len(written)
        seen.every_s.append(pace[0])
        seen.uneven.append(pace[1])
        steps = np.abs(written[1:] - written[:-1])
        # What is left of a conversion there and back is no change.
        moved = steps > 1e-9 * max(abs(float(written[0])), 1e-3)
        changes = int(np.count_nonzero(moved))
        found.changes += changes
        if not changes:
            return
        least = float(steps.min() if changes == len(steps) else steps[moved].min())
        found.least_change = min(found.least_change or least, least)
        if changes > 10 and found.changes < 0.5 * found.readings:
            runs = np.diff(np.flatnonzero(moved))
            usual = float(np.median(runs))
            seen.repeats.append(usual if np.mean(np.abs(runs - usual) <= max(1.0, 0.1 * usual)) > 0.8 else 0.0)
        some = written[:256]
        if len(seen.values) < 8:
            seen.values.update(np.round(some, 9).tolist())
        multiples = some / _STEPS[seen.fits, None]
        off = np.abs(multiples - np.round(multiples))
        seen.fits[seen.fits] = off.max(axis=1) <= _FITS
        found.spikes += _spikes(written, steps)


def _pace(at_ns: np.ndarray) -> tuple[float, float]:
    """Usual time between readings, s, and the share of the times that are more than a fifth off it."""
    apart = np.diff(at_ns)
    every = float(apart[0])
    if (apart == every).all():
        return every / 1e9, 0.0
    every = float(np.median(apart))
    return every / 1e9, float(np.mean(np.abs(apart - every) > 0.2 * every))


def _spikes(values: np.ndarray, steps: np.ndarray) -> int:
    """Single readings far off both neighbours while those agree."""
    place, most = int(0.98 * (len(steps) - 1)), float(steps.max())
    if np.count_nonzero(5 * steps < most) <= place:
        return 0  # so the usual step, the one at that place in order of size, is a fifth of the largest at least
    usual = max(float(np.partition(steps, place)[place]), 1e-12)
    if most <= 5 * usual:
        return 0
    there, back = np.diff(values)[:-1], np.diff(values)[1:]
    alone = (np.abs(there) > 5 * usual) & (np.abs(back) > 5 * usual) & (there * back < 0)
    return int((alone & (np.abs(values[2:] - values[:-2]) < 0.2 * np.abs(there))).sum())


def _finished(seen: _Seen) -> Character:
    found = seen.character
    found.every_s = float(np.median(seen.every_s)) if seen.every_s else 0.0
    found.uneven = float(np.median(seen.uneven)) if seen.uneven else 0.0
    found.repeats = float(np.median(seen.repeats)) if seen.repeats else 0.0
    # Small readings lie near nought of any large step: no step is larger than the least change.
    fits = seen.fits & (found.least_change * (1 + _FITS) >= _STEPS)
    if len(seen.values) >= 8 and fits.any():
        found.resolution = float(f"{_STEPS[fits][0]:.10g}")
    found.least_change = float(f"{found.least_change:.6g}")
    return found


def _say(account: ReadingAccount, channels: Sequence[ChannelValues]) -> None:
    known = {tag: Character(**found) for tag, found in account.characters.items()}
    unit = {one.source.tag: one.switch for one in channels}
    whole = [tag for tag, one in known.items() if one.resolution >= 1 and not unit.get(tag)]
    _notice(account, whole, "in whole numbers: such a reading may stand still for long and be right")
    held = [
        tag
        for tag, one in known.items()
        if one.resolution and one.changes >= FEWEST and one.least_change >= 2.5 * one.resolution and tag not in whole
    ]
    _notice(account, held, "only when it moved by more than a deadband, several times the step of its numbers")
    # Value on change: never the same twice running, and at no even times.
    on_change = [
        tag
        for tag, one in known.items()
        if one.uneven > 0.4 and one.changes >= FEWEST and one.changes > 0.95 * (one.readings - 1) and tag not in held
    ]
    _notice(account, on_change, "at uneven times and never the same twice running: on change, not on a clock")
    repeated = [tag for tag, one in known.items() if one.repeats >= 3 and one.changes >= FEWEST]
    _notice(account, repeated, "anew only every few rows and repeated between: held, not fresh")
    usual = min((one.every_s for one in known.values() if one.every_s > 0), default=0.0)
    slow = [tag for tag, one in known.items() if one.every_s >= 5 * usual > 0]
    _notice(account, slow, f"at five times the {usual:g} s of the fastest tags, or more rarely")
    pulsed = {one.source.tag for one in channels if split_key(one.source.key)[0] in _PULSED}
    spiky = {tag: one.spikes for tag, one in known.items() if one.spikes and not unit.get(tag) and tag not in pulsed}
    if spiky:
        worst = sorted(spiky, key=lambda tag: -spiky[tag])
        account.notice(
            f"single readings far off both neighbours, {sum(spiky.values())} of them in the rows looked at: "
            f"{_named(worst)}",
            LIKELY,
        )


def _notice(account: ReadingAccount, tags: list[str], what: str) -> None:
    if tags:
        account.notice(f"{_named(tags)} {'is' if len(tags) == 1 else 'are'} written {what}", LIKELY)


def _named(tags: list[str]) -> str:
    more = len(tags) - _NAMED
    return ", ".join(f"'{tag}'" for tag in tags[:_NAMED]) + (f" and {more} more" if more > 0 else "")
