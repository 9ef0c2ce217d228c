"""What the monitor said about a finding, in the units and the manner of writing the reader chose."""

from __future__ import annotations

import functools
import re
from dataclasses import replace

from dashboards.ahead import AT_LIMIT_SHARE
from dashboards.names import unit_inside, unit_known
from dashboards.shown_units import AS_INSIDE, chosen, marked, shown_difference, shown_unit, shown_value
from dashboards.spoken_units import spoken
from dashboards.texts import say
from monitor.line import Line
from monitor.records import Cause, Evidence, Finding

_DIFFERENCE = re.compile(
    r"\b(?:by|by at least|against expected|peak to peak|wandered|unrest|ripple|spread|difference)\b"
)
"""What a fact in C calls itself where it is a difference, not a level."""


def spoken_finding(line: Line, finding: Finding) -> Finding:
    """The finding with all its texts and facts as the reader wants them; the same object where nothing changes."""
    if chosen.get() == AS_INSIDE:
        return finding
    names, last = names_of(line), finding.last
    told = replace(
        last,
        summary=spoken(last.summary, names),
        evidence=tuple(spoken_fact(fact, names) for fact in last.evidence),
        causes=tuple(
            Cause(
                spoken(cause.text, names),
                tuple(spoken(text, names) for text in cause.speaks_for),
                tuple(spoken(text, names) for text in cause.speaks_against),
                cause.shown_by,
            )
            for cause in last.causes
        ),
        checks=tuple(spoken(text, names) for text in last.checks),
        caution=spoken(last.caution, names),
    )
    return replace(finding, last=told)


def spoken_fact(fact: Evidence, names: tuple[str, ...]) -> Evidence:
    """One measured fact with its value, its expected value and its unit as shown."""
    turn = shown_difference if fact.unit == "C" and _DIFFERENCE.search(fact.what) else shown_value
    value, expected = ((None if v is None else turn(v, fact.unit)) for v in (fact.value, fact.expected))
    return replace(fact, what=spoken(fact.what, names), value=value, expected=expected, unit=shown_unit(fact.unit))


def fact_words(fact: Evidence, line: Line | None = None) -> str:
    """A fact, already in shown units, as a sentence with the reader's decimal mark.

    line: gives the unit of a reading that comes without one. A distance whose expected value is nothing says so by
    itself, a count has no decimals, and a figure between 0 and 1 says of what.
    """
    if fact.value is not None and not fact.unit:
        fact = _with_sense(fact, line)
    limit = _at_limit(fact, line)
    if limit:
        return say("fact.at_limit", what=fact.what, limit=limit)
    if fact.expected == 0 and _DISTANCE.search(fact.what):
        fact = replace(fact, expected=None)
    text = fact.sentence().removeprefix(fact.what)
    # What was 'now' when it was said is read later.
    what = say("fact.then", what=fact.what.removesuffix(" now")) if fact.what.endswith(" now") else fact.what
    if not fact.unit and fact.value is not None and fact.value == int(fact.value):
        text = re.sub(r"^ -?\d+\.0+(?!\d)", f" {int(fact.value)}", text)
    text = re.sub(r"(?<=[ (])-(?=\d)", "\N{MINUS SIGN}", text)
    return what + re.sub(r"\d+\.\d+", lambda found: marked(found.group()), text)


SAME_PCT = 0.05
"""What reads the same with one decimal."""


def _at_limit(fact: Evidence, line: Line | None) -> str:
    """The limit of a feeder's drive, in words, where it stands there and nothing else is expected of it; else ''.

    That it is as expected reads as if all were well.
    """
    role, _, at = fact.channel.partition(":")
    if role != "feeder_drive" or line is None or fact.value is None or fact.expected is None:
        return ""
    if abs(fact.expected - fact.value) > SAME_PCT:
        return ""
    limit = next((f.drive_limit_pct for f in line.feeder if f.name == at), None)
    return f"{limit:g} %" if limit is not None and fact.value >= AT_LIMIT_SHARE * limit else ""


_DISTANCE = re.compile(r"\b(?:from|against) (?:its |the )?(?:set-point|expected|usual)")


def _with_sense(fact: Evidence, line: Line | None) -> Evidence:
    """A fact without a unit, with the one it is meant in."""
    value, expected = fact.value, fact.expected
    assert value is not None
    if fact.what.startswith("degree of fill"):
        return replace(fact, value=100 * value, expected=None if expected is None else 100 * expected, unit="%")
    if fact.what.startswith("correlation"):
        return replace(fact, unit=say("fact.of_one"))
    key = fact.channel
    if not key and fact.what.startswith("load") and line is not None:
        key = next((role for role in ("torque", "motor_current") if role in line.channels), "")
    if line is None or key not in line.channels or not unit_inside(key) or not unit_known(line, key):
        return fact
    inside = unit_inside(key)
    value, expected = (None if v is None else shown_value(v, inside) for v in (value, expected))
    return replace(fact, value=value, expected=expected, unit=shown_unit(inside))


def names_of(line: Line) -> tuple[str, ...]:
    """What this line calls its parts, so that a number in a name is not taken for a reading."""
    return _names(line.name, tuple(line.zone_names), tuple((f.name, f.title, f.material) for f in line.feeder),
                  tuple(v.name for v in line.vent), tuple(s.at for s in line.sensor))  # fmt: skip


@functools.lru_cache(maxsize=64)
def _names(line: str, zones: tuple, feeders: tuple, vents: tuple, sensors: tuple) -> tuple[str, ...]:
    told = {line, *zones, *vents, *sensors, *(part for feeder in feeders for part in feeder)}
    return tuple(sorted(part for part in told if part))
