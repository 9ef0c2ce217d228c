"""What people did about findings: kept for ever, never changed, and not touched when a log is read again."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Literal, get_args

from sqlalchemy import Connection, insert, select

from monitor.journal.errors import JournalError
from monitor.journal.schema import action_table

ActionKind = Literal["acknowledged", "note", "repaired"]
ACTION_KINDS: tuple[str, ...] = get_args(ActionKind)
MOST_LETTERS = 2000
LOT_MARK = "lot@"
"""Stands before a lot's start, UTC ns, where a note is about a whole lot and no finding."""

_a = action_table.c


@dataclass(frozen=True)
class Action:
    """One thing a person did. finding: id, or `LOT_MARK` and a lot's start. at_ns: UTC nanoseconds."""

    finding: str
    kind: str
    who: str
    text: str
    at_ns: int


def append_action(connection: Connection, line: str, action: Action) -> Action:
    """Add the action and return it as stored.

    Raises JournalError when its kind, person or text cannot be used.
    """
    if action.kind not in ACTION_KINDS:
        raise JournalError(f"there is no action '{action.kind}'; allowed are {', '.join(ACTION_KINDS)}")
    if not action.who.strip():
        raise JournalError("an action needs the name of who did it")
    if action.kind == "note" and not action.text.strip():
        raise JournalError("a note needs a text")
    if max(len(action.who), len(action.text)) > MOST_LETTERS:
        raise JournalError(f"the text of an action is at most {MOST_LETTERS} letters long")
    kept = replace(action, who=action.who.strip(), text=action.text.strip())
    connection.execute(insert(action_table).values(line=line, **asdict(kept)))
    return kept


def read_actions(connection: Connection, line: str, finding: str | None = None) -> list[Action]:
    """Actions in the order in which they were written, of one finding or of the whole line."""
    query = select(_a.finding, _a.kind, _a.who, _a.text, _a.at_ns).where(_a.line == line).order_by(_a.id)
    if finding is not None:
        query = query.where(_a.finding == finding)
    return [Action(*row) for row in connection.execute(query)]
