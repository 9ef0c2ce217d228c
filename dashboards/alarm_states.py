"""A line's alarm fold as shown: what people set aside or took out of service, what has gone but waits for a reset."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
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
class OutOfService:
    """A finding that was taken out for maintenance until somebody puts it back. at_ns: since when, UTC ns."""

    finding: Finding
    at_ns: int
    who: str
    why: str


@dataclass(frozen=True)
class AlarmStates:
    """letters: state of each alarm by its newest finding, see `monitor.alarms.NAMES`.

    shelved, out: the action that set it aside or took it out of service, by finding. old: findings out of service that
    were said longer ago than records are folded. latched: findings that are gone and wait to be reset. latching: all
    that must be reset once they are gone, whether they stand or not.
    """

    letters: Mapping[str, Letter] = field(default_factory=dict)
    shelved: Mapping[str, Action] = field(default_factory=dict)
    latched: tuple[str, ...] = ()
    out: Mapping[str, Action] = field(default_factory=dict)
    old: tuple[Finding, ...] = ()
    latching: frozenset[str] = frozenset()


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
            kept = _Kept(records, actions, *_folded(records, actions, now_ns, self._old(line, records, actions)))
            self._kept[line] = kept
        return kept.states

    def _old(self, line: str, records: Sequence[Record], actions: Sequence[Action]) -> tuple[Finding, ...]:
        """What was taken out of service has no end, so its finding may be older than any record that is read."""
        last = {a.finding: a.kind for a in actions if a.kind in ("out of service", "back in service")}
        wanted = {finding for finding, kind in last.items() if kind == "out of service"}
        wanted -= {record.finding for record in records}
        return tuple(f for f in self._source.findings(line) if f.last.finding in wanted) if wanted else ()

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


@dataclass(frozen=True)
class OutSpan:
    """A time out of service. finding: the alarm's newest when it was taken out. end_ns: None = still out."""

    finding: str
    start_ns: int
    end_ns: int | None
    who: str
    why: str


def out_spans(source: Source, line: str, t0: int, t1: int) -> tuple[OutSpan, ...]:
    """What was out of service at any time in [t0, t1), by its beginning; as it stood at t1."""
    actions = [a for a in source.actions(line) if a.at_ns < t1]
    if source.source(line) == "finished log" or not any(a.kind == "out of service" for a in actions):
        return ()
    book = fold_of(source.records(line, 0, None, t1), actions, t1 - 1)
    reasons = {(a.at_ns, a.finding): a.text for a in actions if a.kind == "out of service"}
    ends: dict[object, int] = {}
    found = []
    for change in reversed(book.transitions):
        if change.before == "I":
            ends[change.alarm] = change.at_ns
        elif change.after == "I":
            end = ends.pop(change.alarm, None)
            if end is None or end > t0:
                why = reasons.get((change.at_ns, change.finding), "")
                found.append(OutSpan(change.finding, change.at_ns, end, change.who, why))
    return tuple(reversed(found))


def fold_of(records: Sequence[Record], actions: Sequence[Action], now_ns: int) -> AlarmBook:
    """The fold over what was said and done until `now_ns`; what is no alarm action is left out."""
    done = [
        AlarmAction(a.at_ns, a.finding, a.kind, a.who, a.text, a.until_ns)  # type: ignore[arg-type]
        for a in actions
        if a.kind in get_args(ActionKind)
    ]
    return alarm_book(records, done, now_ns)


def _folded(
    records: Sequence[Record], actions: Sequence[Action], now_ns: int, old: tuple[Finding, ...]
) -> tuple[AlarmStates, int, float]:
    """The states at `now_ns`, and the span of time in which they stay so."""
    before = [replace(f.last, kind="opened", until=None, decided_at=f.first_decided_at) for f in old]
    book = fold_of([*before, *(f.last for f in old), *records], actions, now_ns)
    letters: dict[str, Letter] = {alarm.finding: alarm.letter for alarm in book.alarms.values()}
    shelved = {
        alarm.finding: _who_shelved(book, key, actions, alarm.shelved_until)
        for key, alarm in book.alarms.items()
        if alarm.letter == "G" and alarm.shelved_until is not None
    }
    out = {
        alarm.finding: _who_took_out(book, key, actions) for key, alarm in book.alarms.items() if alarm.letter == "I"
    }
    old = tuple(f for f in old if f.last.finding in out)
    latched = tuple(finding for finding, letter in letters.items() if letter in "EF")
    ahead = [alarm.shelved_until for alarm in book.alarms.values() if alarm.shelved_until is not None]
    ahead += [at for at in (*(r.decided_at for r in records), *(a.at_ns for a in actions)) if at > now_ns]
    latching = frozenset(alarm.finding for alarm in book.alarms.values() if alarm.latching)
    return AlarmStates(letters, shelved, latched, out, old, latching), now_ns, min(ahead, default=float("inf"))


def _who_shelved(book: AlarmBook, key: object, actions: Sequence[Action], until_ns: int) -> Action:
    """The action that holds now; a new finding of the same alarm is set aside by the action about the one before."""
    return next(a for a in reversed(actions) if a.until_ns == until_ns and book.key_of.get(a.finding) == key)


def _who_took_out(book: AlarmBook, key: object, actions: Sequence[Action]) -> Action:
    """The action that holds now: the one by which the alarm last became 'out of service'."""
    at_ns = next(change.at_ns for change in reversed(book.transitions) if change.alarm == key and change.after == "I")
    return next(
        a for a in actions if a.at_ns == at_ns and a.kind == "out of service" and book.key_of.get(a.finding) == key
    )


def parted(
    standing: Sequence[Finding], known: Sequence[Finding], states: AlarmStates
) -> tuple[tuple[Finding, ...], tuple[SetAside, ...], tuple[OutOfService, ...]]:
    """Of the findings that stand, those that stay in view; of all known ones, those set aside and out of service.

    What such a finding explains goes with it, except what is more pressing than itself. Priority 1 always stays.
    """
    aside = {f.last.finding: f for f in known if f.last.finding in states.shelved and f.last.priority > 1}
    out = {f.last.finding: f for f in known if f.last.finding in states.out and f.last.priority > 1}
    gone = {**aside, **out}
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
    taken = [OutOfService(f, (did := states.out[name]).at_ns, did.who, did.text) for name, f in out.items()]
    return (
        stays,
        tuple(sorted(told, key=lambda item: (item.until_ns, item.finding.last.priority))),
        tuple(sorted(taken, key=lambda item: item.at_ns)),
    )
