"""What people did about findings: kept for ever, never changed, and not touched when a log is read again."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Literal, get_args

from sqlalchemy import Connection, insert, select

from monitor.alarms import AlarmAction, AlarmError, never_out_of_service, never_shelved
from monitor.journal.errors import JournalError
from monitor.journal.schema import action_table

ActionKind = Literal[
    "acknowledged", "note", "repaired", "shelved", "unshelved", "reset", "out of service", "back in service"
]
"""The words of ANSI/ISA-18.2 where it has one: shelved = out of the way until a stated end, for a stated reason; out of
service = out of the way for maintenance, for a stated reason, until somebody puts it back."""

ACTION_KINDS: tuple[str, ...] = get_args(ActionKind)
MOST_LETTERS = 2000
LOT_MARK = "lot@"
"""Stands before a lot's start, UTC ns, where a note is about a whole lot and no finding."""

_a = action_table.c


@dataclass(frozen=True)
class Action:
    """One thing a person did. finding: id, or `LOT_MARK` and a lot's start. at_ns: UTC nanoseconds.

    until_ns: when what was shelved comes back by itself; None for all else.
    """

    finding: str
    kind: str
    who: str
    text: str
    at_ns: int
    until_ns: int | None = None


def checked_action(action: Action, priority: int | None) -> Action:
    """The action as it is to be stored. priority: of the finding it is about, None for a lot.

    Raises JournalError when its kind, person, text or end cannot be used.
    """
    if action.kind not in ACTION_KINDS:
        raise JournalError(f"there is no action '{action.kind}'; allowed are {', '.join(ACTION_KINDS)}")
    if not action.who.strip():
        raise JournalError("an action needs the name of who did it")
    if action.kind == "note" and not action.text.strip():
        raise JournalError("a note needs a text")
    if max(len(action.who), len(action.text)) > MOST_LETTERS:
        raise JournalError(f"the text of an action is at most {MOST_LETTERS} letters long")
    if action.until_ns is not None and action.kind != "shelved":
        raise JournalError(f"only what is shelved has an end, '{action.kind}' has none")
    if action.kind == "shelved" or action.kind == "out of service":
        refusal = never_shelved(priority) if action.kind == "shelved" else never_out_of_service(priority)
        if refusal:
            raise JournalError(refusal)
        try:
            AlarmAction(action.at_ns, action.finding, action.kind, action.who, action.text, action.until_ns)
        except AlarmError as error:
            raise JournalError(str(error)) from None
    return replace(action, who=action.who.strip(), text=action.text.strip())


def append_action(connection: Connection, line: str, action: Action) -> None:
    """Add an action that `checked_action` has seen."""
    connection.execute(insert(action_table).values(line=line, **asdict(action)))


def read_actions(connection: Connection, line: str, finding: str | None = None) -> list[Action]:
    """Actions in the order in which they were written, of one finding or of the whole line."""
    query = select(_a.finding, _a.kind, _a.who, _a.text, _a.at_ns, _a.until_ns).where(_a.line == line).order_by(_a.id)
    if finding is not None:
        query = query.where(_a.finding == finding)
    return [Action(*row) for row in connection.execute(query)]
