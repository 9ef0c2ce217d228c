"""How often a log that is stored on change stores again what did not change, and which of its tags keep to that.

It is a rule of the logger, so tags that stand still, set-points above all, show it for the lively ones too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

UNEVEN, EVEN = 0.4, 0.02
"""Share of uneven steps from which a tag is stored on change, and up to which it is on a clock."""
SAME_PACE = 1.5
_SKIPS, _REPEATED = 0.1, 0.05
"""Share of uneven steps, and of readings like the one before, of a lively tag that leaves out what is the same."""
_LONGEST = 64
_REPEATS, _TAGS = 3, 3
"""Unchanged readings at one pace that show it of a tag, and tags at one pace that show it of a log."""
_SAME = 0.05
_STRAY = 0.01


def _no_steps() -> np.ndarray:
    return np.zeros((2, 0))


@dataclass(frozen=True)
class Heartbeat:
    """every_s: after which an unchanged reading is stored again, 0 = none shown. tags: those that keep to it."""

    every_s: float = 0.0
    tags: frozenset[str] = frozenset()


NO_HEARTBEAT = Heartbeat()


@dataclass(frozen=True)
class Steps:
    """From one reading of a tag to the next, in one stretch of rows or more.

    again, moved: float64 [2, up to 64], the longest steps to a reading that is the same or another: seconds, and what
    is left of them without the longest time in which no row came at all. agains, moves: how many there are. span_s:
    from first to last. usual_s: the usual one, of several stretches the shortest.
    """

    again: np.ndarray = field(default_factory=_no_steps)
    moved: np.ndarray = field(default_factory=_no_steps)
    agains: int = 0
    moves: int = 0
    span_s: float = 0.0
    usual_s: float = np.inf

    def joined(self, other: Steps) -> Steps:
        """Both stretches."""
        return Steps(
            _longest(np.concatenate((self.again, other.again), axis=1)),
            _longest(np.concatenate((self.moved, other.moved), axis=1)),
            self.agains + other.agains,
            self.moves + other.moves,
            self.span_s + other.span_s,
            min(self.usual_s, other.usual_s),
        )

    @property
    def count(self) -> int:
        """Of all steps."""
        return self.agains + self.moves

    def longer(self, every_s: float) -> int:
        """Steps that are longer than that, also without a time in which nothing came of the whole log."""
        both = np.concatenate((self.again, self.moved), axis=1)
        return int(np.count_nonzero((both > (1 + _SAME) * every_s).all(axis=0)))

    def early(self, every_s: float) -> int:
        """Steps to another reading that did not wait so long."""
        return self.moves - int(np.count_nonzero(self.moved[0] >= (1 - _SAME) * every_s))


def steps_of(seconds: np.ndarray, values: np.ndarray) -> list[Steps]:
    """Of every tag. seconds: [n], in order. values: [m, n], NaN = no reading in that row."""
    rows = np.diff(seconds)
    return [_steps(seconds, rows, row) for row in values]


def _steps(seconds: np.ndarray, rows: np.ndarray, values: np.ndarray) -> Steps:
    there = np.flatnonzero(np.isfinite(values))
    if len(there) < 2:
        return Steps()
    step = np.diff(seconds[there])
    quiet = np.maximum.reduceat(rows[: there[-1]], there[:-1])
    both = np.stack((step, step - quiet))
    same = np.diff(values[there]) == 0
    agains = int(np.count_nonzero(same))
    again, moved = _longest(both[:, same]), _longest(both[:, ~same])
    return Steps(again, moved, agains, len(step) - agains, float(step.sum()), float(np.median(step)))


def _longest(steps: np.ndarray) -> np.ndarray:
    if steps.shape[1] <= _LONGEST:
        return steps
    return steps[:, np.argpartition(steps[0], -_LONGEST)[-_LONGEST:]]


def heartbeat_of(steps: Mapping[str, Steps], apart_s: Sequence[float], uneven: Sequence[float]) -> Heartbeat:
    """The pace at which several tags of a log on change are stored again unchanged. apart_s, uneven: as of a `Sample`.

    A tag that moves only at such a pace is on a clock and shows none. One that is silent for longer, or stored again
    more often than once in that time, does not keep to it. Where tags show several paces, most tags count.
    """
    fastest = min((one for one in apart_s if one > 0), default=0.0)
    own = {tag: every_s for tag, one in steps.items() if (every_s := _own_pace(one)) > SAME_PACE * fastest}
    paces = sorted(own.values(), reverse=True)
    every_s = max(paces, key=lambda pace: _like(pace, paces), default=0.0)  # of two alike the longer one
    if not every_s or _like(every_s, paces) < _TAGS:
        return NO_HEARTBEAT
    tags, on_change = set[str](), 0
    for (tag, one), odd in zip(steps.items(), uneven, strict=True):
        waits = _same(own.get(tag, 0.0), every_s)
        if waits or (_within(one, every_s) and (odd >= EVEN or one.usual_s <= SAME_PACE * fastest)):
            tags.add(tag)
            seldom_same = odd > _SKIPS and one.agains <= _REPEATED * one.count
            on_change += odd > UNEVEN or seldom_same or (waits and one.early(every_s) >= _REPEATS)
    return Heartbeat(every_s, frozenset(tags)) if on_change >= _TAGS else NO_HEARTBEAT


def _like(pace: float, paces: Sequence[float]) -> int:
    """How many are of a pace, or a little quicker."""
    return sum((1 - _SAME) * pace <= one <= pace for one in paces)


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= _SAME * other


def _own_pace(steps: Steps) -> float:
    """At which this tag by itself is seen to be stored again, s; 0 where it is not, or is on a clock."""
    again = np.sort(steps.again[0])[::-1]
    stray = max(1, int(_STRAY * steps.agains))
    for every_s in again[: stray + 1].tolist():  # the log may have stopped within the longest ones
        near = np.count_nonzero((again >= (1 - _SAME) * every_s) & (again <= every_s))
        if near >= _REPEATS and steps.longer(every_s) <= stray:
            return 0.0 if steps.moves >= _REPEATS and steps.early(every_s) == 0 else float(every_s)
    return 0.0


def _within(steps: Steps, every_s: float) -> bool:
    """Whether a tag may keep to this pace, as far as it is seen: stored again once in each time, and never later."""
    once_each = (1 + _SAME) * steps.span_s / every_s + _REPEATS
    stray = max(1, int(_STRAY * steps.count))
    return steps.count > 0 and steps.agains <= once_each and steps.longer(every_s) <= stray
