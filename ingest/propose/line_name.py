"""What most tags of a log start or end with names the line, and is no word about what a tag shows.

'MP1 Screw rpm', 'MP1 Melt temp', 'MP1 Load': read alone, MP is a melt pressure. That it is none is told by what stands
behind it: a sensor has no screw, and what has both a screw drive and heat or melt is an extruder.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from ingest.propose.name_evidence import roles_named
from ingest.propose.names import NO_ENDS, Ends, TagName, Tokens, read_names, tokens_of
from ingest.propose.unit_in_name import unit_behind
from ingest.propose.vocabulary import vocabulary

DRIVEN = frozenset({"screw_speed", "torque", "motor_current", "drive_power"})
_HEATED = frozenset({"zone_temperature", "melt_pressure", "melt_temperature"})
_SAID = 0.6
_MOST = 0.6
_FEWEST_TAGS = 5
_LONGEST = 6
_SIDES = frozenset({"actual", "setpoint", "output", "none"})
"""Which side of a loop a tag shows: many tags may end so, and it is a word about each of them."""


def names_of_line(tags: Sequence[str], units: Mapping[str, str] | None = None) -> list[TagName]:
    """Tags of one line taken apart, without what names the line. units: from the rows below the header, by tag."""
    given = dict(units or {})
    return read_names(tags, given, line_name(tags, given))


def line_name(tags: Sequence[str], units: Mapping[str, str] | None = None) -> Ends:
    """What most names start and end with and that only says which line it is; empty where nothing does."""
    if len(tags) < _FEWEST_TAGS:
        return NO_ENDS
    given = dict(units or {})
    every = {tag: _small(tokens_of(unit_behind(tag).rest) or tokens_of(tag)) for tag in tags}
    lead = next((one for one in _shared(list(every.values())) if _names_it(one, every, given)), ())
    tails = _shared([tokens[::-1] for tokens in every.values()])
    tail = next((one[::-1] for one in tails if _names_it(one[::-1], every, given, behind=True)), ())
    return Ends(lead, tail)


def is_extruder(names: Sequence[TagName]) -> bool:
    """Whether tags are of a machine with both a screw drive and heat or melt; a zone or feeder is none."""
    roles = {named.role for name in names for named in roles_named(name) if named.strength >= _SAID}
    return bool(roles & DRIVEN) and bool(roles & _HEATED)


def _small(tokens: Tokens) -> Tokens:
    return tuple(token.casefold() for token in tokens)


def _shared(every: Sequence[Tokens]) -> list[Tokens]:
    """Starts that most have, the longest first."""
    found: list[Tokens] = []
    start: Tokens = ()
    for place in range(_LONGEST):
        nexts = Counter(one[place] for one in every if len(one) > place + 1 and one[:place] == start)
        if not nexts or nexts.most_common(1)[0][1] <= _MOST * len(every):
            break
        start = (*start, nexts.most_common(1)[0][0])
        found.append(start)
    return found[::-1]


def _names_it(end: Tokens, every: Mapping[str, Tokens], units: Mapping[str, str], *, behind: bool = False) -> bool:
    if end[0].isdigit():
        return False
    numbered = any(token.isdigit() for token in end)
    meanings = {concept for token in end for meaning in vocabulary().meanings(token) for concept in meaning}
    if not numbered and meanings & _SIDES:
        return False
    ends = Ends((), end) if behind else Ends(end, ())
    having = {tag: ends.cut(tokens) for tag, tokens in every.items() if ends.cut(tokens) != tokens}
    # With a number behind that differs it is a word for the parts of a line: 'Zone 1', 'Zone 2'.
    if not behind and 2 * sum(rest[0].isdigit() for rest in having.values()) >= len(having):
        return False
    return is_extruder(read_names(list(having), dict(units), ends))
