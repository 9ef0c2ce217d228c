"""The life of an alarm, as a fold over what the monitor said and what people did.

States, letters and transitions are those of the alarm state diagram in ANSI/ISA-18.2-2016 and IEC 62682 (letters
from memory). One alarm is one condition in one place on one line: when it comes again, it is the same alarm. A
priority 1 alarm latches: it stays in view after its cause has gone until it is acknowledged and reset. Findings of
priority 4 are notes and no alarms, for they ask for no timely response. A finding that another one explains is
suppressed by design. What is cut off counts as gone: nobody can say that it still holds. Suppressing or shelving
here changes nothing on the machine; everything stays judged and kept. Which alarms may be shelved the standard leaves
to the plant; here priority 1 and what still latches never may, and what becomes more pressing than what was shelved
comes back at once. Out of service is for maintenance: without an end, until somebody puts it back, through every new
finding of the same alarm, except that priority 1 puts itself back in service at once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal, get_args

from monitor.contract import NS
from monitor.records import Record

Letter = Literal["A", "B", "C", "D", "E", "F", "G", "H", "I"]
NAMES: dict[Letter, str] = {
    "A": "Normal",
    "B": "Unacknowledged alarm",
    "C": "Acknowledged alarm",
    "D": "Returned to normal, unacknowledged",
    "E": "Latched, unacknowledged",
    "F": "Latched, acknowledged",
    "G": "Shelved",
    "H": "Suppressed by design",
    "I": "Out of service",
}
"""Name of each state, by its letter in the standard's diagram."""

ActionKind = Literal["acknowledged", "reset", "shelved", "unshelved", "out of service", "back in service"]
LEAST_ALARM_PRIORITY = 3
LATCHING_PRIORITY = 1
LONGEST_SHELF_S = 8 * 3600
"""Nothing is shelved for longer than a shift; common practice, no source."""


def never_shelved(priority: int | None) -> str:
    """Why a finding of that priority is never shelved, '' where it may be."""
    return _never(priority, "shelved", "to shelve")


def never_out_of_service(priority: int | None) -> str:
    """Why a finding of that priority is never taken out of service, '' where it may be."""
    return _never(priority, "taken out of service", "to take out of service")


def _never(priority: int | None, done: str, to_do: str) -> str:
    if priority is None or priority > LEAST_ALARM_PRIORITY:
        return f"a note asks nobody to act, so there is nothing {to_do}"
    if priority <= LATCHING_PRIORITY:
        return f"priority 1 is never {done}: it says that people or machine may come to harm unless somebody acts now"
    return ""


class AlarmError(ValueError):
    """An action that may not be taken; says what is missing."""


@dataclass(frozen=True)
class AlarmAction:
    """What a person did about an alarm, named by its newest finding. Times in UTC ns.

    reason: needed to shelve and to take out of service. until_ns: when a shelved alarm comes back by itself.
    Raises AlarmError.
    """

    at_ns: int
    finding: str
    kind: ActionKind
    who: str
    reason: str = ""
    until_ns: int | None = None

    def __post_init__(self) -> None:
        if self.kind not in get_args(ActionKind):
            raise AlarmError(f"there is no action '{self.kind}'; allowed are {', '.join(get_args(ActionKind))}")
        if not self.who.strip():
            raise AlarmError(f"'{self.kind}' needs the name of who did it")
        if self.kind in ("shelved", "out of service") and not self.reason.strip():
            raise AlarmError(f"'{self.kind}' needs a reason")
        if self.kind == "shelved":
            if self.until_ns is None or self.until_ns <= self.at_ns:
                raise AlarmError("'shelved' needs a time after which the alarm comes back")
            if self.until_ns - self.at_ns > LONGEST_SHELF_S * NS:
                raise AlarmError(f"nothing is shelved for longer than {LONGEST_SHELF_S // 3600} hours")


@dataclass(frozen=True)
class Alarm:
    """Where an alarm stands. present: its condition holds. finding: its newest; priority: of that.

    latching: it must be reset once its condition has gone. shelved_until: UTC ns, None = not shelved.
    """

    finding: str = ""
    priority: int = LEAST_ALARM_PRIORITY
    present: bool = False
    acknowledged: bool = True
    latching: bool = False
    shelved_until: int | None = None
    suppressed: bool = False
    out_of_service: bool = False

    @property
    def letter(self) -> Letter:
        """State in the standard's diagram. What hides an alarm goes before what it hides."""
        if self.out_of_service:
            return "I"
        if self.suppressed:
            return "H"
        if self.shelved_until is not None:
            return "G"
        if self.present:
            return "C" if self.acknowledged else "B"
        if self.latching:
            return "F" if self.acknowledged else "E"
        return "A" if self.acknowledged else "D"

    @property
    def name(self) -> str:
        """Name of the state."""
        return NAMES[self.letter]

    @property
    def may_be_taken_away(self) -> bool:
        """Shelved or out of service: not where somebody must act at once, nor before a latched one was reset."""
        return self.priority > LATCHING_PRIORITY and not self.latching

    @property
    def hidden(self) -> bool:
        """Whether it is kept from view: shelved, suppressed or out of service."""
        return self.letter in "GHI"


Key = tuple[str, str, str]
"""line, condition, channel."""


@dataclass(frozen=True)
class Transition:
    """One change of state. why: the record's or the action's kind, or 'shelf time over'; who: '' = nobody."""

    at_ns: int
    alarm: Key
    finding: str
    priority: int
    before: Letter
    after: Letter
    why: str
    who: str = ""


@dataclass
class AlarmBook:
    """Alarms of any number of lines as they stand. Records and actions are to come in order of time."""

    alarms: dict[Key, Alarm] = field(default_factory=dict)
    transitions: list[Transition] = field(default_factory=list)
    key_of: dict[str, Key] = field(default_factory=dict)

    def state_of(self, finding: str) -> Alarm | None:
        """State of a finding's alarm; Normal once a newer finding of the alarm has taken over, None for a note."""
        key = self.key_of.get(finding)
        if key is None:
            return None
        alarm = self.alarms[key]
        return alarm if alarm.finding == finding else Alarm(finding, alarm.priority)

    def record(self, record: Record) -> None:
        """The monitor said something."""
        self.pass_time(record.decided_at)
        key = (record.line, record.condition, record.channel)
        alarm = self.alarms.get(key, Alarm())
        present = record.kind in ("opened", "revised")
        if alarm.finding != record.finding and (not present or record.priority > LEAST_ALARM_PRIORITY):
            return
        self.key_of[record.finding] = key
        called = present and (not alarm.present or record.priority < alarm.priority)
        worse = present and (record.priority < alarm.priority or record.priority <= LATCHING_PRIORITY)
        after = replace(
            alarm,
            finding=record.finding,
            priority=record.priority,
            present=present,
            latching=alarm.latching or (present and record.priority <= LATCHING_PRIORITY),
            acknowledged=alarm.acknowledged and not called,
            suppressed=bool(record.part_of) and present,
            shelved_until=None if worse else alarm.shelved_until,
            out_of_service=alarm.out_of_service and not (present and record.priority <= LATCHING_PRIORITY),
        )
        if alarm.hidden and not after.hidden and present:
            after = _seen_again(after)
        elif alarm.hidden and not present:
            after = replace(after, latching=False, acknowledged=True)
        self._become(record.decided_at, key, after, record.kind)

    def act(self, action: AlarmAction) -> None:
        """A person did something. What does not apply in the alarm's state changes nothing."""
        self.pass_time(action.at_ns)
        key = self.key_of.get(action.finding)
        if key is None or self.alarms[key].finding != action.finding:
            return
        alarm = self.alarms[key]
        after = alarm
        if action.kind == "acknowledged" and not alarm.hidden:
            after = replace(alarm, acknowledged=True)
        elif action.kind == "reset" and alarm.letter == "F":
            after = replace(alarm, latching=False)
        elif action.kind == "shelved" and alarm.may_be_taken_away:
            after = replace(alarm, shelved_until=action.until_ns)
        elif action.kind == "unshelved" and alarm.shelved_until is not None:
            after = _seen_again(replace(alarm, shelved_until=None))
        elif action.kind == "out of service" and alarm.may_be_taken_away:
            after = replace(alarm, out_of_service=True)
        elif action.kind == "back in service" and alarm.out_of_service:
            after = _seen_again(replace(alarm, out_of_service=False))
        self._become(action.at_ns, key, after, action.kind, action.who)

    def pass_time(self, now_ns: int) -> None:
        """Shelved alarms whose time is over by now come back, each at its own moment."""
        due = [
            (alarm.shelved_until, key)
            for key, alarm in self.alarms.items()
            if alarm.shelved_until is not None and alarm.shelved_until <= now_ns
        ]
        for at_ns, key in sorted(due):
            self._become(at_ns, key, _seen_again(replace(self.alarms[key], shelved_until=None)), "shelf time over")

    def _become(self, at_ns: int, key: Key, after: Alarm, why: str, who: str = "") -> None:
        before = self.alarms.get(key, Alarm()).letter
        self.alarms[key] = after
        if after.letter != before:
            self.transitions.append(
                Transition(at_ns, key, after.finding, after.priority, before, after.letter, why, who)
            )


def _seen_again(alarm: Alarm) -> Alarm:
    """Out of hiding: the condition as it is now decides; what is still there must be acknowledged anew."""
    return replace(alarm, acknowledged=not alarm.present, latching=alarm.latching and alarm.present)


def alarm_book(records: Iterable[Record], actions: Iterable[AlarmAction], now_ns: int) -> AlarmBook:
    """Alarms as they stand at `now_ns`. At the same moment the monitor speaks before people act."""
    book = AlarmBook()
    said = [(record.decided_at, 0, record.seq, record) for record in records]
    done = [(action.at_ns, 1, number, action) for number, action in enumerate(actions)]
    for at_ns, _, _, what in sorted([*said, *done], key=lambda item: item[:3]):
        if at_ns > now_ns:
            break
        if isinstance(what, Record):
            book.record(what)
        else:
            book.act(what)
    book.pass_time(now_ns)
    return book
