"""One tag of a log on the import page: what it is taken for, and what it may be."""

from __future__ import annotations

from dataclasses import dataclass

from dashboards.texts import say
from ingest.propose import TagProposal
from ingest.roles import ROLES
from ingest.units import UnitError, to_unit

GROUPS = ("cannot tell", "a guess", "likely", "by hand", "sure")
"""How sure, what needs a person first."""


@dataclass(frozen=True)
class Option:
    """One thing a tag may be. value: 'role|at', '' = leave it out. why: in words."""

    value: str
    title: str
    why: str


def role_words(role: str, at: str) -> str:
    """'temperature of zone Z1', 'screw speed'."""
    title = say(f"role.{role}", role)
    per = ROLES[role].per
    if per == "line":
        return title
    return say(f"import.of.{per}", title=title, at=at or "…")


def how_sure(one: TagProposal, by_hand: bool) -> str:
    """The group a tag stands in; what was left out by hand is 'out'."""
    if by_hand:
        return "by hand" if one.told else "out"
    return one.sure


def options_of(proposed: TagProposal, now: TagProposal) -> list[Option]:
    """Leaving it out first, then what was proposed, the likeliest first, then what was chosen besides."""
    found = [Option("", say("import.leave"), "" if proposed.told else proposed.why)]
    for candidate in proposed.candidates:
        value = f"{candidate.role}|{candidate.subject}"
        if all(option.value != value for option in found):
            why = "; ".join(candidate.reasons)
            found.append(Option(value, role_words(candidate.role, candidate.subject), why))
    own = value_of(now)
    if all(option.value != own for option in found):
        found.append(Option(own, role_words(now.role, now.subject), ""))
    return found


def value_of(one: TagProposal) -> str:
    """The option a tag has now."""
    return f"{one.role}|{one.subject}" if one.told else ""


def taken(one: TagProposal, value: str) -> dict[str, str]:
    """The choice when an option is taken: the unit stays where the new role can be in it."""
    role, _, at = value.partition("|")
    position = next((c.position for c in one.candidates if (c.role, c.subject) == (role, at)), "")
    return {"role": role, "at": at, "unit": _fitting(one, role), "position": position}


def other_role(one: TagProposal, role: str) -> dict[str, str]:
    """The choice when any role is taken from the list; the place stays where it can be the same."""
    same = one.told and ROLES[one.role].per == ROLES[role].per
    known = next((c.subject for c in one.candidates if ROLES[c.role].per == ROLES[role].per), "")
    return {"role": role, "at": one.subject if same else known, "unit": _fitting(one, role), "position": ""}


def changed(one: TagProposal, **changes: str) -> dict[str, str]:
    """The choice a tag has now with some of it changed."""
    return {"role": one.role, "at": one.subject, "unit": one.unit, "position": one.position, **changes}


def _fitting(one: TagProposal, role: str) -> str:
    if role not in ROLES or not one.unit:
        return ""
    try:
        to_unit(one.unit, ROLES[role].unit)
    except UnitError:
        return ""
    return one.unit
