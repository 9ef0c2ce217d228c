"""Stamps of a local clock as UTC: every local time has one, two (repeated hour) or no (skipped hour) instants."""

from __future__ import annotations

import zoneinfo
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

SECOND = 1_000_000_000
_DAY = 86400
_PROBE_S = 6 * 3600
"""Offsets are probed this far apart; no zone changes its clock twice within it."""


@dataclass(frozen=True)
class Instants:
    """What local stamps can mean, arrays of one shape.

    first: UTC nanoseconds, the earlier instant. second: the later one, equal to `first` where there is but one.
    exists: False for local times that the clock skipped.
    """

    first: np.ndarray
    second: np.ndarray
    exists: np.ndarray


class LocalClock:
    """The clock on the wall of one IANA time zone. Raises KeyError for a zone that does not exist."""

    def __init__(self, name: str) -> None:
        self.name = name
        try:
            self._zone = zoneinfo.ZoneInfo(name)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
            raise KeyError(name) from None
        self._from_s, self._to_s = 0, 0
        self._starts = np.zeros(1, np.int64)
        self._offsets = np.zeros(1, np.int64)

    def instants(self, local_ns: np.ndarray) -> Instants:
        """The instants of local stamps, int64 nanoseconds of the local clock."""
        if not len(local_ns):
            return Instants(local_ns, local_ns, np.ones(0, bool))
        self._learn(int(local_ns.min()) // SECOND - 2 * _DAY, int(local_ns.max()) // SECOND + 2 * _DAY)
        offsets = self._offsets * SECOND
        if len(offsets) == 1:
            first = local_ns - offsets[0]
            return Instants(first, first, np.ones(len(first), bool))
        # Offset k holds for local times from _starts[k] + offset k on, until _starts[k + 1] + offset k.
        begins = self._starts[1:] * SECOND
        before, after = begins + offsets[:-1], begins + offsets[1:]
        earlier = np.searchsorted(np.maximum(before, after), local_ns, side="right")
        later = np.searchsorted(np.minimum(before, after), local_ns, side="right")
        # Between the two bounds of a change the clock either ran twice or not at all.
        first, second = local_ns - offsets[earlier], local_ns - offsets[later]
        return Instants(first, np.maximum(first, second), second >= first)

    def first_pass(self, local_ns: int) -> int | None:
        """Where a local stamp is of an hour that comes twice, the instant at which that hour first began, else None."""
        instants = self.instants(np.array([local_ns], np.int64))
        first, second = int(instants.first[0]), int(instants.second[0])
        if first == second or not instants.exists[0]:
            return None
        back = int(self._starts[np.searchsorted(self._starts * SECOND, second, side="right") - 1]) * SECOND
        return back - (second - first)

    def text(self, utc_ns: int) -> str:
        """An instant as the wall clock shows it."""
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=utc_ns // 1000)
        return moment.astimezone(self._zone).strftime("%Y-%m-%d %H:%M:%S")

    def _learn(self, from_s: int, to_s: int) -> None:
        """Finds every change of the offset between two UTC times."""
        if self._from_s <= from_s and to_s <= self._to_s and self._to_s:
            return
        if self._to_s:
            from_s, to_s = min(from_s, self._from_s), max(to_s, self._to_s)
        from_s, to_s = from_s - 90 * _DAY, to_s + 90 * _DAY  # room for the chunks to come
        starts, offsets = [from_s], [self._offset(from_s)]
        for low in range(from_s, to_s, _PROBE_S):
            high = low + _PROBE_S
            if (offset := self._offset(high)) == offsets[-1]:
                continue
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (low, middle) if self._offset(middle) == offset else (middle, high)
            starts.append(high)
            offsets.append(offset)
        self._from_s, self._to_s = from_s, to_s
        self._starts, self._offsets = np.array(starts, np.int64), np.array(offsets, np.int64)

    def _offset(self, utc_s: int) -> int:
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=utc_s)
        offset = moment.astimezone(self._zone).utcoffset()
        return round(offset.total_seconds()) if offset else 0
