"""What people set aside, and what has gone but waits to be reset: the alarm fold of a line as its pages show it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import get_args

from dashboards.source import Source
from monitor.alarms import ActionKind, AlarmAction, AlarmBook, Letter, alarm_book
from monitor.journal.actions import Action
from monitor.records import Finding, Record

DAYS_NS = 30 * 86_400 * 10**9
"""How far back records are folded; as far as a line's page looks for open findings."""


@dataclass(frozen=True)
class SetAside:
    """A finding that is shelved. at_ns, until_ns: from when and until when, UTC ns. why: the reason given."""

    finding: Finding
    at_ns: int
    until_ns: int
    who: str
    why: str


@dataclass(frozen=True)
class AlarmStates:
    """letters: state of each alarm by its newest finding, see `monitor.alarms.NAMES`.

    shelved: the action that set it aside, by finding. latched: findings that are gone and wait to be reset.
    """

    letters: Mapping[str, Letter] = field(default_factory=dict)
    shelved: Mapping[str, Action] = field(default_factory=dict)
    latched: tuple[str, ...] = ()


NO_ALARMS = AlarmStates()


@dataclass(frozen=True)
class _Kept:
    records: tuple[Record, ...]
    actions: tuple[Action, ...]
    states: AlarmStates
    from_ns: int
    until_ns: float


class AlarmDoor:
    """Folds a line's records and actions. What it keeps is made of the journal alone and is right for everybody."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._records: dict[str, tuple[Record, ...]] = {}
        self._kept: dict[str, _Kept] = {}

    def states(self, line: str, now_ns: int) -> AlarmStates:
        """How the line's alarms stand at `now_ns`."""
        records = self._read(line, now_ns)
        actions = tuple(a for a in self._source.actions(line) if a.kind in get_args(ActionKind))
        kept = self._kept.get(line)
        if (
            kept is None
            or kept.records is not records
            or kept.actions != actions
            or not kept.from_ns <= now_ns < kept.until_ns
        ):
            kept = _Kept(records, actions, *_folded(records, actions, now_ns))
            self._kept[line] = kept
        return kept.states

    def _read(self, line: str, now_ns: int) -> tuple[Record, ...]:
        """Records of the last days; only the new ones are read, unless the log was read anew meanwhile."""
        before = self._records.get(line, ())
        # The last known one is asked for again: where it is no longer there, the log was read anew.
        new = self._source.records(line, before[-1].seq - 1) if before else []
        if before and new[:1] == [before[-1]] and before[0].decided_at > now_ns - 2 * DAYS_NS:
            if len(new) == 1:
                return before
            records = (*before, *new[1:])
        else:
            records = tuple(self._source.records(line, 0, now_ns - DAYS_NS))
        self._records[line] = records
        return records


def _folded(records: Sequence[Record], actions: Sequence[Action], now_ns: int) -> tuple[AlarmStates, int, float]:
    """The states at `now_ns`, and the span of time in which they stay so."""
    done = [AlarmAction(a.at_ns, a.finding, a.kind, a.who, a.text, a.until_ns) for a in actions]  # type: ignore[arg-type]
    book = alarm_book(records, done, now_ns)
    letters: dict[str, Letter] = {alarm.finding: alarm.letter for alarm in book.alarms.values()}
    shelved = {
        alarm.finding: _who_shelved(book, key, actions, alarm.shelved_until)
        for key, alarm in book.alarms.items()
        if alarm.letter == "G" and alarm.shelved_until is not None
    }
    latched = tuple(finding for finding, letter in letters.items() if letter in "EF")
    ahead = [alarm.shelved_until for alarm in book.alarms.values() if alarm.shelved_until is not None]
    ahead += [at for at in (*(r.decided_at for r in records), *(a.at_ns for a in actions)) if at > now_ns]
    return AlarmStates(letters, shelved, latched), now_ns, min(ahead, default=float("inf"))


def _who_shelved(book: AlarmBook, key: object, actions: Sequence[Action], until_ns: int) -> Action:
    """The action that holds now; a new finding of the same alarm is set aside by the action about the one before."""
    return next(a for a in reversed(actions) if a.until_ns == until_ns and book.key_of.get(a.finding) == key)


def parted(
    standing: Sequence[Finding], known: Sequence[Finding], states: AlarmStates
) -> tuple[tuple[Finding, ...], tuple[SetAside, ...]]:
    """Of the findings that stand, those that stay in view; and of all known ones, those that are set aside.

    What a set-aside finding explains goes with it, except what is more pressing than itself. Priority 1 always stays.
    """
    aside = {f.last.finding: f for f in known if f.last.finding in states.shelved and f.last.priority > 1}
    gone = dict(aside)
    while True:
        more = {
            f.last.finding: f
            for f in standing
            if f.last.finding not in gone
            and f.last.part_of in gone
            and f.last.priority > 1
            and f.last.priority >= gone[f.last.part_of].last.priority
        }
        if not more:
            break
        gone |= more
    told = []
    for name, finding in aside.items():
        action = states.shelved[name]
        assert action.until_ns is not None, "what is shelved has an end"
        told.append(SetAside(finding, action.at_ns, action.until_ns, action.who, action.text))
    stays = tuple(f for f in standing if f.last.finding not in gone)
    return stays, tuple(sorted(told, key=lambda item: (item.until_ns, item.finding.last.priority)))
