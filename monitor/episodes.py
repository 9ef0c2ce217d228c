"""Levels in, episodes out: on-delay, off-delay, escalation, loss of sight.

An episode opens when its rule has held for the on-delay and closes when it has been clear for the off-delay;
one clear cell starts the on-delay anew, one met cell the off-delay (both as in OPC 10000-9, B.1.5). A cell that
cannot be judged moves neither, until the episode has been blind too long: then it is cut off, and a pending one
dropped. Where the rule does not apply, an open episode closes and a pending one is dropped. An episode that was
already clear when it closes or is cut off ended where it cleared. What comes back soon after it was over comes and
goes: it is kept open until it has been away for that long, one finding and not ten, which counts how often it came
back.
Deadbands are the conditions' business: they know the unit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from monitor.contract import CLEAR, DISARMED, UNKNOWN, Judged

REVISE_AFTER_NS = 300 * 1_000_000_000
"""An open finding is looked at once more this long after it was first said."""

CAME_BACK = "came_back"
"""The fact that says how often what comes and goes has come back; not there where it has not."""


@dataclass(frozen=True)
class Episode:
    """What is remembered of one subject. Times in UTC ns, counts in cells. level 0 = nothing open.

    ended: when the one before was over, if it ended by itself. came_back: how often this one has come back soon after
    it was over, the time it was opened included.
    """

    level: int = 0
    since: int = 0
    pending_cells: int = 0
    pending_since: int = 0
    worse_cells: int = 0
    clear_cells: int = 0
    clear_since: int = 0
    blind_cells: int = 0
    blind_since: int = 0
    revise_at: int = 0
    worst: float | None = None
    worst_facts: tuple[tuple[str, float | None], ...] = ()
    ended: int = 0
    came_back: int = 0

    @property
    def comes_and_goes(self) -> bool:
        """Whether it came soon after the one before was over."""
        return self.came_back > 0

    @property
    def idle(self) -> bool:
        """Nothing open and nothing pending."""
        return self.level == 0 and self.pending_cells == 0

    def counted(self) -> dict[str, float]:
        """How often it has come back, where it has."""
        return {CAME_BACK: float(self.came_back)} if self.came_back else {}

    def facts(self) -> dict[str, float]:
        """Those of the worst cell so far, and how often it has come back."""
        return {**{name: float("nan") if v is None else v for name, v in self.worst_facts}, **self.counted()}


def all_idle(episodes: Iterable[Episode]) -> bool:
    """Whether nothing is open and nothing pending of any subject."""
    return not any(episode.level or episode.pending_cells for episode in episodes)


def _changed(episode: Episode, **what: Any) -> Episode:
    """The episode with other numbers, as `dataclasses.replace`, which goes over every field and takes ten times as
    long."""
    after = object.__new__(Episode)
    vars(after).update(vars(episode), **what)
    return after


@dataclass(frozen=True)
class Turn:
    """A decision about one subject, not yet put in words."""

    subject: int
    decided_at: int
    kind: Literal["opened", "revised", "closed", "cut off"]
    level: int
    since: int
    until: int | None
    facts: dict[str, float]


@dataclass(frozen=True)
class Delays:
    """Timing of one subject in cells of the condition's grid. again: what comes back within so many comes and goes."""

    on: int
    off: int
    blind: int
    urgent_level: int | None = None
    urgent: int = 0
    again: int = 0

    @property
    def soonest(self) -> int:
        """Cells after which the first level can be said."""
        return self.on if self.urgent_level is None else min(self.on, self.urgent)

    def on_for(self, level: int) -> int:
        """Cells a level must hold before it is said."""
        return self.on if self.urgent_level is None or level < self.urgent_level else self.urgent


class EpisodeRun:
    """One subject's walk through the cells of one call. `t0`: start of cell 0, `step`: cell width, ns."""

    def __init__(self, subject: int, episode: Episode, judged: Judged, delays: Delays, t0: int, step: int) -> None:
        self.subject, self.episode, self.judged, self.delays = subject, episode, judged, delays
        self.t0, self.step = t0, step
        self.turns: list[Turn] = []
        self.worst_cell = -1

    def walk(self) -> Episode:
        """Take every run of equal levels in turn."""
        level = self.judged.level[self.subject]
        edges = np.flatnonzero(level[1:] != level[:-1]) + 1
        starts = [0, *edges.tolist()]
        for first, last in zip(starts, [*starts[1:], len(level)], strict=True):
            self._run(int(level[first]), first, last)
        self._settle()
        return self.episode

    def _over(self, ended: int = 0) -> None:
        """Nothing open, nothing pending. ended: when what was open ended by itself."""
        self.episode, self.worst_cell = Episode(ended=ended), -1

    def _start(self, cell: int) -> int:
        return self.t0 + cell * self.step

    def _run(self, level: int, first: int, last: int) -> None:
        if level == DISARMED:
            self._disarm(first)
        elif level == UNKNOWN:
            self._blind(first, last)
        elif level == CLEAR:
            self._clear(first, last)
        else:
            self._met(level, first, last)

    def _disarm(self, first: int) -> None:
        if self.episode.level:
            until = self.episode.clear_since if self.episode.clear_cells else self._start(first)
            self._say("closed", self._start(first) + self.step, until=until)
            self._over()
        elif self.episode.pending_cells:
            self._over(self.episode.ended)

    def _blind(self, first: int, last: int) -> None:
        episode = self.episode
        if episode.idle:
            return
        since = episode.blind_since if episode.blind_cells else self._start(first)
        missing = self.delays.blind - episode.blind_cells
        if last - first >= missing:
            if episode.level:
                until = episode.clear_since if episode.clear_cells else since
                self._revise_if_due(first + missing - 1)
                self._say("cut off", self._start(first + missing), until=until)
            self._over(0 if episode.level else episode.ended)
            return
        if episode.level:
            self._revise_if_due(last - 1)
        self.episode = _changed(self.episode, blind_cells=episode.blind_cells + last - first, blind_since=since)

    def _clear(self, first: int, last: int) -> None:
        episode = self.episode
        if not episode.level:
            if episode.pending_cells:
                self._over(episode.ended)
            return
        since = episode.clear_since if episode.clear_cells else self._start(first)
        off = max(self.delays.off, self.delays.again) if episode.comes_and_goes else self.delays.off
        missing = off - episode.clear_cells
        if last - first >= missing:
            self._revise_if_due(first + missing - 2)
            self._say("closed", self._start(first + missing), until=since)
            self._over(since)
            return
        self._revise_if_due(last - 1)
        self.episode = _changed(
            self.episode,
            clear_cells=episode.clear_cells + last - first,
            clear_since=since,
            blind_cells=0,
            worse_cells=0,
        )

    def _met(self, level: int, first: int, last: int) -> None:
        episode = self.episode
        if not episode.level:
            since = episode.pending_since if episode.pending_cells else self._start(first)
            missing = max(self.delays.on_for(level) - episode.pending_cells, 1)
            here = min(last - first, missing)
            self._keep_worst(first, first + here)
            self.episode = _changed(
                self.episode, pending_cells=episode.pending_cells + here, pending_since=since, blind_cells=0
            )
            if here < missing:
                return
            self._open(level, since, first + here - 1)
            first += here
            if first == last:
                return
        if self.episode.clear_cells or self.episode.blind_cells:
            returns = self.episode.comes_and_goes and self.episode.clear_cells >= self.delays.off
            self.episode = _changed(self.episode, clear_cells=0, blind_cells=0)
            if returns:
                self._come_back(first)
        if level > self.episode.level:
            missing = max(self.delays.on_for(level) - self.episode.worse_cells, 1)
            here = min(last - first, missing)
            self._watch(first, first + here)
            self.episode = _changed(self.episode, worse_cells=self.episode.worse_cells + here)
            if here < missing:
                return
            self.episode = _changed(self.episode, level=level, worse_cells=0)
            self._say("revised", self._start(first + here), facts=self._facts(first + here - 1))
            first += here
        elif self.episode.worse_cells:
            self.episode = _changed(self.episode, worse_cells=0)
        self._watch(first, last)

    def _open(self, level: int, since: int, cell: int) -> None:
        decided, ended = self._start(cell) + self.step, self.episode.ended
        again = ended > 0 and since - ended <= self.delays.again * self.step
        self.episode = _changed(
            self.episode,
            level=level,
            since=since,
            pending_cells=0,
            revise_at=decided + REVISE_AFTER_NS,
            came_back=int(again),
        )
        self._say("opened", decided, facts=self._facts(cell))

    def _come_back(self, cell: int) -> None:
        """Once more; told each time it has doubled, and at the end."""
        times = self.episode.came_back + 1
        self.episode = _changed(self.episode, came_back=times)
        if times & (times - 1) == 0:
            self._say("revised", self._start(cell) + self.step)

    def _watch(self, first: int, last: int) -> None:
        """Cells of an open episode whose rule holds: keep the worst, revise when the time has come."""
        due = self.episode.revise_at
        if due and first < last and due <= self._start(last):
            cell = max(first, -(-(due - self.t0) // self.step) - 1)
            self._keep_worst(first, cell + 1)
            self._revise_if_due(cell)
            first = cell + 1
        self._keep_worst(first, last)

    def _revise_if_due(self, cell: int) -> None:
        """Revise at the moment itself, if the end of `cell` has reached it."""
        due = self.episode.revise_at
        if due and due <= self._start(cell + 1):
            late = -(-(due - self.t0) // self.step)
            self.episode = _changed(self.episode, revise_at=0)
            self._say("revised", max(self._start(late), self._start(0) + self.step))

    def _keep_worst(self, first: int, last: int) -> None:
        if first >= last:
            return
        score = self.judged.score[self.subject, first:last]
        worst = float(score[0]) if len(score) == 1 else float(np.fmax.reduce(score))
        if worst != worst:
            if not self.episode.worst_facts and self.worst_cell < 0:
                self.worst_cell = first
        elif self.episode.worst is None or worst > self.episode.worst:
            place = int(np.argmax(score == worst))
            self.episode, self.worst_cell = _changed(self.episode, worst=float(score[place])), first + place

    def _settle(self) -> None:
        """The facts of the worst cell, taken once, when they are asked for: a worse one may follow."""
        if self.worst_cell >= 0:
            facts = tuple((name, None if v != v else v) for name, v in self._facts(self.worst_cell).items())
            self.episode, self.worst_cell = _changed(self.episode, worst_facts=facts), -1

    def _facts(self, cell: int) -> dict[str, float]:
        return {
            name: float(values[self.subject, cell] if values.ndim == 2 else values[cell])
            for name, values in self.judged.facts.items()
        }

    def _say(
        self,
        kind: Literal["opened", "revised", "closed", "cut off"],
        decided_at: int,
        until: int | None = None,
        facts: dict[str, float] | None = None,
    ) -> None:
        self._settle()
        episode = self.episode
        said = episode.facts() if facts is None else {**facts, **episode.counted()}
        self.turns.append(Turn(self.subject, decided_at, kind, episode.level, episode.since, until, said))


def advance(
    episodes: tuple[Episode, ...], judged: Judged, delays: tuple[Delays, ...], t0: int, step: int
) -> tuple[tuple[Episode, ...], list[Turn]]:
    """Walk every subject through the judged cells; turns come unsorted."""
    if judged.level.shape[1] == 0:
        return episodes, []
    above = judged.level > CLEAR
    if not np.count_nonzero(above) and all_idle(episodes):
        return episodes, []
    met = np.any(above, axis=1)
    after, turns = list(episodes), []
    for subject, episode in enumerate(episodes):
        if episode.idle and not met[subject]:
            continue
        run = EpisodeRun(subject, episode, judged, delays[subject], t0, step)
        after[subject] = run.walk()
        turns += run.turns
    return tuple(after), turns
